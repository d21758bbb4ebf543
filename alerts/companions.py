"""Several messages of one kind to one recipient through one channel: which of them go as one text. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from alerts.delivery import Go, may_go
from shared.models.base import Ms
from shared.models.messages import PERMITS, Due


def companions(first: Due, others: Iterable[Due], now: Ms) -> list[Due]:
    """Return the rows that go in one text with a row that goes now: permits of its kind, whose own gates allow them.

    One that waits only for others of its kind need not wait any longer; one that waits after a failure must.
    """
    if first.message.kind not in PERMITS:
        return []
    ready = (due for due in others if due.delivery.next_ms <= now or due.delivery.attempt == 0)
    mine = (due for due in ready if _belongs(due, first))
    return [due for due in mine if isinstance(may_go(_at_once(due, now), now), Go)]


def _belongs(due: Due, first: Due) -> bool:
    row, lead = due.delivery, first.delivery
    to_the_same = (row.recipient, row.channel) == (lead.recipient, lead.channel)
    # A text is a repeat as a whole or not at all.
    alike = due.message.kind is first.message.kind and row.was_unsure == lead.was_unsure
    return row.no != lead.no and to_the_same and alike


def _at_once(due: Due, now: Ms) -> Due:
    return replace(due, delivery=replace(due.delivery, next_ms=min(due.delivery.next_ms, now)))
