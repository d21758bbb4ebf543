"""How each state of a gate looks: a shape, a word and a fill, which repeats and never carries the meaning. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from shared.models.base import STRIP, Operation
from shared.models.decisions import GateState
from shared.ports import BoardRow

S: Final = GateState


@dataclass(frozen=True, slots=True)
class Sign:
    """What a gate's state looks like."""

    shape: str
    """A line of `SHAPES`."""
    word: str
    """The id of its words; an attribute named as the operation comes first."""
    fill: str
    """A class of the style sheet, or ""."""


SIGNS: Final[Mapping[GateState, Sign]] = {
    S.NOT_SET_UP: Sign("ring", "sign-not-set-up", ""),
    S.CURING: Sign("clock", "sign-curing", ""),
    S.HOLD: Sign("triangle", "sign-hold", "hold"),
    S.MET: Sign("diamond", "sign-met", "met"),
    S.RELEASED: Sign("square", "sign-released", "released"),
    S.UNDER_WAY: Sign("arrow", "sign-under-way", "released"),
    S.DONE: Sign("tick", "sign-done", ""),
    S.WITHDRAWN: Sign("octagon", "sign-withdrawn", "withdrawn"),
    S.DONE_WITHOUT_RELEASE: Sign("cross", "sign-done-without", "withdrawn"),
    S.SUSPENDED: Sign("doubt", "sign-suspended", "hold"),
}
"""One line a state: a state without one has no sign, and a test fails."""
KEEP_OFF: Final = Sign("octagon", "sign-keep-off", "withdrawn")
"""Stripping below or beside: whatever the gate says, nobody goes on the bay."""
STOPPED: Final = Sign("doubt", "sign-stopped", "hold")
"""Nobody judges the evidence any more: an older state is not shown as if it were today's."""
TRUE_ONLY_TODAY: Final = frozenset({S.NOT_SET_UP, S.CURING, S.MET, S.RELEASED, S.UNDER_WAY})
"""States that somebody could act on, or plan by, although the estimates have stopped."""

_OCTAGON: Final = '<path class="f" d="M10.5 3h11L29 10.5v11L21.5 29h-11L3 21.5v-11z"/>'
_TRIANGLE: Final = '<path d="M16 4 29 27H3z"/>'
_SQUARE: Final = '<rect class="f" x="3" y="3" width="26" height="26"/>'
SHAPES: Final[Mapping[str, str]] = {
    "ring": '<circle cx="16" cy="16" r="12" stroke-dasharray="4.4 3.1"/>'
    '<path d="M12.5 13a3.5 3.5 0 1 1 5 3.2c-1 .5-1.5 1-1.5 2.3"/><path d="M16 21.5v2"/>',
    "clock": '<circle cx="16" cy="16" r="12"/><path d="M16 9v7l5 3"/>',
    "triangle": f'{_TRIANGLE}<path d="M11 21h10"/>',
    "diamond": '<path d="M16 3 29 16 16 29 3 16z"/><path d="M16 9.5V18M16 20.5v2"/>',
    "square": f'{_SQUARE}<path class="k" d="M8.5 16.5l5 5 10-11"/>',
    "arrow": f'{_SQUARE}<path class="k" d="M8 16h15M17 10l6 6-6 6"/>',
    "tick": '<path d="M7 17l6 6L25 9"/><path d="M3 28h26"/>',
    "octagon": f'{_OCTAGON}<path class="k" d="M9.5 16h13"/>',
    "cross": f'{_OCTAGON}<path class="k" d="M11 11l10 10M21 11 11 21"/>',
    "doubt": f'{_TRIANGLE}<path d="M16 12v7M16 21.5v2"/>',
}
"""Drawings in a square of 32: `f` is filled with the ink, `k` is cut out of what is filled."""


def stripping_near(row: BoardRow) -> bool:
    """Return whether forms are being stripped at, below or beside a bay."""
    own = row.gates.get(STRIP)
    return (own is not None and own.state is S.UNDER_WAY) or bool(row.stripping)


def sign_of(row: BoardRow, operation: Operation, *, stopped: bool) -> Sign:
    """Return the sign of one gate.

    Args:
        row: the pour.
        operation: one that it has a gate for.
        stopped: whether its estimates have stopped.
    """
    if operation != STRIP and stripping_near(row):
        return KEEP_OFF
    state = row.gates[operation].state
    return STOPPED if stopped and state in TRUE_ONLY_TODAY else SIGNS[state]
