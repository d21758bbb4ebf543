"""Whether what a message or a record said still stands. Pure; in doubt it does not."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from cure.dashboard.signs import stripping_near
from shared.models.base import STRIP, Ms, Operation
from shared.models.decisions import Gate, GateState
from shared.models.messages import Message, MessageKind
from shared.ports import BoardRow, Decided, PourCase

S: Final = GateState


class Standing(StrEnum):
    """What became of what was said."""

    STANDS = "stands"
    KEEP_OFF = "keep-off"
    """It stands, but forms are being stripped at, below or beside."""
    EXPIRED = "expired"
    """Its own hour is past, and nobody began: the message says that it is void then."""
    DOUBTED = "doubted"
    FALLEN = "fallen"
    """It permitted something, and does so no more."""
    SHUT = "shut"
    """It shut something, which is shut still."""
    OVER = "over"
    """It shut something; that is over, which releases nothing."""


FITS: Final = {
    MessageKind.RELEASED: frozenset({S.RELEASED, S.UNDER_WAY, S.DONE}),
    MessageKind.MET_NOT_SIGNED: frozenset({S.MET, S.UNDER_WAY, S.DONE}),
}
"""In which states of its gate what permits something still stands, as long as the epoch is the same."""
_WITHDRAWN: Final = frozenset({S.WITHDRAWN, S.DONE_WITHOUT_RELEASE, S.SUSPENDED})
HOLDS: Final = frozenset({MessageKind.HOLD, MessageKind.FREEZE_SUSPECTED, MessageKind.FREEZE_LOCKED})


def standing(
    message: Message, case: PourCase | Decided | BoardRow, row: BoardRow | None, now_ms: Ms, *, stopped: bool
) -> Standing | None:
    """Return whether a message stands; None: one of its kind neither permits nor shuts anything.

    Args:
        message: as it is stored.
        case: its pour, open or closed, as it is decided now.
        row: its pour while it is open.
        now_ms: site time.
        stopped: whether nobody judges the evidence now: the service is in doubt, or its rounds are late.
    """
    gate = case.gates.get(Operation(message.subject))
    if message.kind in FITS:
        return _permit(message, gate, row, now_ms, stopped=stopped)
    if message.kind in HOLDS:
        return Standing.SHUT if message.facts.get("hold") in {h.kind for h in case.holds} else Standing.OVER
    if message.kind is MessageKind.WITHDRAWAL:
        after_done = gate is not None and gate.state is S.DONE and gate.epoch == message.epoch
        return Standing.SHUT if gate is None or gate.state in _WITHDRAWN or after_done else Standing.OVER
    return None


def _permit(message: Message, gate: Gate | None, row: BoardRow | None, now_ms: Ms, *, stopped: bool) -> Standing:
    if gate is None or gate.epoch != message.epoch or gate.state not in {*FITS[message.kind], S.SUSPENDED}:
        return Standing.FALLEN
    if stopped or gate.state is S.SUSPENDED:
        return Standing.DOUBTED
    begun = gate.state in {S.UNDER_WAY, S.DONE}
    if not begun and not (message.valid_until_ms is not None and now_ms < message.valid_until_ms):
        return Standing.EXPIRED
    if row is not None and gate.operation != STRIP and stripping_near(row):
        return Standing.KEEP_OFF
    return Standing.STANDS
