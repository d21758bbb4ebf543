"""What a lesser message does while something greater stands: a withdrawal or freeze of its pour, or a silence. Pure."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from alerts.facts import Facts
from shared.models.messages import URGENT, Message, MessageKind


class Lesser(StrEnum):
    """What becomes of a message."""

    GOES = "goes"
    WAITS = "waits"
    VOID = "is not sent"


WHILE_SHUT: Final[dict[MessageKind, Lesser]] = {
    MessageKind.SIGN_OFF_WANTED: Lesser.WAITS,
    MessageKind.RELEASED: Lesser.WAITS,
    MessageKind.MET_NOT_SIGNED: Lesser.WAITS,
    MessageKind.COLD_DELAY: Lesser.VOID,
    MessageKind.FREEZE_SUSPECTED: Lesser.GOES,
    MessageKind.FREEZE_LOCKED: Lesser.GOES,
    MessageKind.HOLD: Lesser.VOID,
    MessageKind.LOGGER_SILENT: Lesser.VOID,
    MessageKind.WITHDRAWAL: Lesser.GOES,
    MessageKind.KEEP_OFF: Lesser.GOES,
    MessageKind.RELEASED_EARLY: Lesser.GOES,
    MessageKind.TOO_HOT: Lesser.VOID,
    MessageKind.TOO_STEEP: Lesser.VOID,
    MessageKind.FREEZING_AHEAD: Lesser.GOES,
    MessageKind.DRYING_RISK: Lesser.VOID,
    MessageKind.COVER_TONIGHT: Lesser.GOES,
    MessageKind.LOGGER_DOUBTFUL: Lesser.VOID,
    MessageKind.LOW_BATTERY: Lesser.VOID,
    MessageKind.CALIBRATION: Lesser.GOES,
    MessageKind.DELIVERY_FAILED: Lesser.GOES,
    MessageKind.IN_DOUBT: Lesser.GOES,
    MessageKind.MORNING_LIST: Lesser.GOES,
    MessageKind.HANDOVER: Lesser.GOES,
    MessageKind.TEST: Lesser.GOES,
}
"""While a withdrawal or a freeze of the same pour is open, or its start was taken back.

What permits waits, until it expires; a hint is void."""

_URGENT_NAMES: Final = frozenset(kind.value for kind in URGENT)


def is_urgent(message: Message) -> bool:
    """Return whether it goes at any hour, through any silence: an urgent kind, or the news that one was not heard."""
    if message.kind is MessageKind.DELIVERY_FAILED:
        return Facts(message.facts).text("kind") in _URGENT_NAMES
    return message.kind in URGENT


def standing(message: Message, *, inhibited: bool, silenced: bool) -> Lesser:
    """Return what becomes of a message now."""
    if inhibited and WHILE_SHUT[message.kind] is not Lesser.GOES:
        return WHILE_SHUT[message.kind]
    return Lesser.WAITS if silenced and not is_urgent(message) else Lesser.GOES
