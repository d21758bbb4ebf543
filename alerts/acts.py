"""What a person does with a message."""

from __future__ import annotations

from shared.errors import ActRefusedError
from shared.models.acts import Confirm, act_to
from shared.models.decisions import LogEntry
from shared.ports import AlertsBook


def confirm(book: AlertsBook, act: Confirm) -> int:
    """Mark the accepted deliveries of a message confirmed; return how many. Raises `ActRefusedError` for none."""
    confirmed = book.confirm(act, act.message, LogEntry(act.at_ms, act.who, "act", act_to(act)))
    if confirmed == 0:
        raise ActRefusedError(
            f"message no. {act.message}: nothing to confirm. Either it is confirmed, or no channel has "
            "accepted it yet; `slabhour status` shows its deliveries"
        )
    return confirmed
