"""Which pours are to verify their mix's calibration. Pure.

Every fifth pour, or weekly, and the first pour of each cold spell: our judgement. Road authorities ask for it monthly,
or at each placement (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cure.verification import BreakSet
from shared.models.base import DAY_MS, PourId
from shared.ports import MixPour, MixRow

EVERY: Final = 5
WEEK_DAYS: Final = 7
CYLINDERS: Final = 3
"""Of a set that verifies; two are enough for one that counts."""


def due(row: MixRow, sets: Sequence[BreakSet], pour: PourId) -> str | None:
    """Return why a pour is to verify its calibration; None: it need not, or has done so.

    Args:
        row: the calibration with its pours.
        sets: of cylinders that were broken so far.
        pour: one of the row's.
    """
    tested = {s.pour for s in sets}
    here = next(n for n, p in enumerate(row.pours) if p.pour.id == pour)
    reasons = (_cold(row.pours, here, tested), _many(row.pours, here, tested), _long(row.pours, here, sets))
    return "; ".join(filter(None, reasons)) or None


def _is_cold(pour: MixPour) -> bool:
    return bool(pour.memory.get("cold_start", False))


def _cold(pours: Sequence[MixPour], here: int, tested: set[PourId]) -> str | None:
    """A row of cold pours without a set: the curve was never held against one of them."""
    if not _is_cold(pours[here]):
        return None
    first = last = here
    while first > 0 and _is_cold(pours[first - 1]):
        first -= 1
    while last + 1 < len(pours) and _is_cold(pours[last + 1]):
        last += 1
    spell = {p.pour.id for p in pours[first : last + 1]}
    return None if spell & tested else "no set yet of a pour below 10 °C in its first day, since it became so cold"


def _many(pours: Sequence[MixPour], here: int, tested: set[PourId]) -> str | None:
    newest = max((n for n, p in enumerate(pours) if p.pour.id in tested), default=-1)
    since = here - newest
    return f"{since} pours since the last with a set" if since >= EVERY else None


def _long(pours: Sequence[MixPour], here: int, sets: Sequence[BreakSet]) -> str | None:
    end_ms = pours[here].pour.end_ms
    last_ms = max((s.tested_ms for s in sets), default=pours[0].pour.start_ms)
    days = 0 if end_ms is None else (end_ms - last_ms) // DAY_MS
    return f"no set for {days} days" if days >= WEEK_DAYS else None
