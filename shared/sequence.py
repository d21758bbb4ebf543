"""Which numbers of a logger's messages never came: a loss that no broker tells of has a name by them. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from shared.models.base import LoggerId
from shared.models.readings import Heard

MOST_SPANS: Final = 100
"""The newest are kept; a logger with more does not count by ones."""
STARTS_BEFORE: Final = 8
"""Earlier starts of a logger whose numbers are remembered: what a gateway may still hold is of the last few."""
RESTARTED_BELOW: Final = 1000
"""A number so far below the newest, from a logger that does not tell its starts, is the count begun anew."""


@dataclass(frozen=True, slots=True)
class Start:
    """What the numbers of an earlier start had come to."""

    boot: str
    first: int
    newest: int
    missing: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Followed:
    """What a logger's numbers have come to since it last started."""

    logger: LoggerId
    boot: str | None
    newest: int
    missing: tuple[tuple[int, int], ...] = ()
    """First and last number of each span that has not come, in order. One that comes late is taken out again."""
    first: int | None = field(default=None, compare=False)
    """Heard first in this start: of lower numbers nobody knows whether they came."""
    before: tuple[Start, ...] = field(default=(), compare=False)
    """Earlier starts, the newest first."""

    def explain(self) -> str:
        """Return the missing numbers in words."""
        spans = ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in self.missing)
        since = "" if self.boot is None else f" since start {self.boot!r}"
        number = sum(b - a + 1 for a, b in self.missing)
        return f"{self.logger}: {number} message{'' if number == 1 else 's'} never came{since}: {spans}"


def followed(before: Followed | None, heard: Heard) -> Followed | None:
    """Return what the numbers have come to with this message; None: the logger does not number its messages."""
    number = heard.sequence
    if number is None:
        return before
    if before is None:
        return Followed(heard.logger, heard.boot, number, first=number)
    if any(start.boot == heard.boot for start in before.before):
        # Late, or played again, from before the logger started anew: the numbers of this start go on as they were.
        starts = (_with(start, number) if start.boot == heard.boot else start for start in before.before)
        return replace(before, before=tuple(starts))
    if _restarted(before, heard.boot, number):
        return Followed(heard.logger, heard.boot, number, first=number, before=_and_this(before))
    newest, missing = _counted(before.newest, before.missing, number)
    return replace(before, newest=newest, missing=missing)


def _counted(newest: int, missing: tuple[tuple[int, int], ...], number: int) -> tuple[int, tuple[tuple[int, int], ...]]:
    """Return the newest number and the missing spans after one more."""
    if number > newest:
        new = ((newest + 1, number - 1),) if number > newest + 1 else ()
        return number, (*missing, *new)[-MOST_SPANS:]
    left = [span for first, last in missing for span in _without(first, last, number)]
    return newest, tuple(left)[-MOST_SPANS:]


def came_before(known: Followed | None, boot: str | None, number: int | None) -> bool:
    """Return whether a message of this number has come: a logger numbers each of its messages once in a start.

    Only of a logger that tells its starts: another's count may simply have begun anew.
    """
    if known is None or boot is None or number is None:
        return False
    starts = (_start(known), *known.before)
    return any(s is not None and s.boot == boot and _came(s, number) for s in starts)


def _start(known: Followed) -> Start | None:
    if known.boot is None or known.first is None:
        return None
    return Start(known.boot, known.first, known.newest, known.missing)


def _and_this(known: Followed) -> tuple[Start, ...]:
    start = _start(known)
    return known.before if start is None else (start, *known.before)[:STARTS_BEFORE]


def _came(start: Start, number: int) -> bool:
    if not start.first <= number <= start.newest:
        return False
    return not any(first <= number <= last for first, last in start.missing)


def _with(start: Start, number: int) -> Start:
    """Return an earlier start after one more message of it has come."""
    after = _counted(start.newest, start.missing, number)
    return Start(start.boot, start.first, *after)


def _restarted(before: Followed, boot: str | None, number: int) -> bool:
    if boot is not None or before.boot is not None:
        return boot != before.boot
    return number < before.newest - RESTARTED_BELOW


def _without(first: int, last: int, number: int) -> list[tuple[int, int]]:
    if not first <= number <= last:
        return [(first, last)]
    return [(a, b) for a, b in ((first, number - 1), (number + 1, last)) if a <= b]
