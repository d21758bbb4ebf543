"""When the clock of a pour starts: at its last concrete, and at that of the bays placed against it."""

from __future__ import annotations

from typing import Final

from shared.models.base import HOUR_MS, Ms
from shared.models.decisions import Beside
from shared.ports import PourCase

AGAINST_MS: Final = 2 * HOUR_MS
"""A pour beside that began before this one's end, or so soon after it, was placed against it (our judgement)."""
SAME_DAY_MS: Final = 12 * HOUR_MS
"""One that began longer before this one's end was not (our judgement)."""


def _against(end_ms: Ms, beside: Beside) -> bool:
    return end_ms - SAME_DAY_MS < beside.start_ms <= end_ms + AGAINST_MS


def waits_for(case: PourCase) -> tuple[str, ...]:
    """Return the pours placed against this one whose end nobody has entered."""
    end_ms = case.pour.end_ms
    return tuple(b.pour for b in case.beside if end_ms is not None and b.end_ms is None and _against(end_ms, b))


def clock_start(case: PourCase) -> Ms | None:
    """Return the hour of the last concrete of a pour and of those placed against it; None: not known yet."""
    end_ms = case.pour.end_ms
    if end_ms is None or waits_for(case):
        return None
    return max([end_ms, *(b.end_ms for b in case.beside if b.end_ms is not None and _against(end_ms, b))])
