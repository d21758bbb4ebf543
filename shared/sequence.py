"""Which numbers of a logger's messages never came: a loss that no broker tells of has a name by them. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from shared.models.base import LoggerId
from shared.models.readings import Heard

MOST_SPANS: Final = 100
"""The newest are kept; a logger with more does not count by ones."""
RESTARTED_BELOW: Final = 1000
"""A number so far below the newest, from a logger that does not tell its starts, is the count begun anew."""


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

    def explain(self) -> str:
        """Return the missing numbers in words."""
        spans = ", ".join(str(a) if a == b else f"{a} to {b}" for a, b in self.missing)
        since = "" if self.boot is None else f" since start {self.boot!r}"
        return f"{self.logger}: {sum(b - a + 1 for a, b in self.missing)} messages never came{since}: {spans}"


def followed(before: Followed | None, heard: Heard) -> Followed | None:
    """Return what the numbers have come to with this message; None: the logger does not number its messages."""
    number = heard.sequence
    if number is None:
        return before
    if before is None or _restarted(before, heard.boot, number):
        return Followed(heard.logger, heard.boot, number, first=number)
    if number > before.newest:
        new = ((before.newest + 1, number - 1),) if number > before.newest + 1 else ()
        return replace(before, newest=number, missing=(*before.missing, *new)[-MOST_SPANS:])
    left = [span for first, last in before.missing for span in _without(first, last, number)]
    return replace(before, missing=tuple(left)[-MOST_SPANS:])


def came_before(known: Followed | None, boot: str | None, number: int | None) -> bool:
    """Return whether a message of this number has come: a logger numbers each of its messages once in a start.

    Only of a logger that tells its starts: another's count may simply have begun anew.
    """
    if known is None or known.first is None or boot is None or number is None or known.boot != boot:
        return False
    if not known.first <= number <= known.newest:
        return False
    return not any(first <= number <= last for first, last in known.missing)


def _restarted(before: Followed, boot: str | None, number: int) -> bool:
    if boot is not None or before.boot is not None:
        return boot != before.boot
    return number < before.newest - RESTARTED_BELOW


def _without(first: int, last: int, number: int) -> list[tuple[int, int]]:
    if not first <= number <= last:
        return [(first, last)]
    return [(a, b) for a, b in ((first, number - 1), (number + 1, last)) if a <= b]
