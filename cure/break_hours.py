"""At which hours cylinders have a maturity, fitted to a laboratory's hours. Pure; it foresees, and judges nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.accumulate import Law
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.setup import LaboratorySettings
from shared.shifts import ShiftHours, openings

CURING_C: Final = 20.0
OFF_C: Final = 2.0
"""By which a curing room may be warmer or colder: EN 12390-2 (from memory). For the slab it is our judgement."""
BREAKING_MS: Final = HOUR_MS
"""A set takes so long to be broken (our judgement)."""
SEARCHED_MS: Final = 9 * DAY_MS
"""Before and after: a laboratory that opens at all opens within a week."""
LONGEST_H: Final = 10_000.0
STANDS_STILL: Final = "as cold as it is now it may not ripen"
TOO_OLD: Final = "it is then older than what was tested for the calibration"
NEVER_OPEN: Final = "the laboratory is not open for an hour while its maturity is within what was tested"


@dataclass(frozen=True, slots=True)
class Ripening:
    """How cylinders ripen from an hour on."""

    from_ms: Ms
    age_h: float
    """Equivalent age at that hour."""
    slow: float
    expected: float
    quick: float
    """Rates: hours of equivalent age an hour, if it is a little colder, as it is, a little warmer."""

    @classmethod
    def at(cls, from_ms: Ms, age_h: float, celsius: float, law: Law) -> Ripening:
        """Return how cylinders ripen at a temperature. [degC]"""
        rates = law.rate(np.array([celsius - OFF_C, celsius, celsius + OFF_C]))
        return cls(from_ms, age_h, *map(float, rates))

    def hour_ms(self, age_h: float, rate: float) -> Ms | None:
        """Return the hour from which on an equivalent age is there at a rate; None: it never is."""
        missing_h = age_h - self.age_h
        if missing_h <= 0.0:
            return self.from_ms
        hours = missing_h / rate if rate > 0.0 else math.inf
        # Up, so that it is there at the very millisecond.
        return self.from_ms + math.ceil(hours * HOUR_MS) if hours <= LONGEST_H else None

    def age_at_h(self, at_ms: Ms, rate: float) -> float:
        """Return the equivalent age at an hour, at a rate."""
        return self.age_h + rate * max(0, at_ms - self.from_ms) / HOUR_MS


@dataclass(frozen=True, slots=True)
class Target:
    """A maturity at which to break, and those between which a break says something. [h at 20 degC]"""

    age_h: float
    tested_from_h: float
    tested_to_h: float


@dataclass(frozen=True, slots=True)
class BreakHours:
    """When a target is expected, and when to break for it."""

    expected_from_ms: Ms | None = None
    """None: it cannot be said."""
    expected_to_ms: Ms | None = None
    """None: a little colder, and it never comes."""
    break_from_ms: Ms | None = None
    """None: there is no hour; `why` says it."""
    break_to_ms: Ms | None = None
    age_from_h: float | None = None
    age_to_h: float | None = None
    """Equivalent ages expected at these two hours."""
    moved: bool = False
    """Whether the laboratory is shut all through the expected window."""
    why: str = ""

    @property
    def reached_ms(self) -> Ms | None:
        """By when the cylinders have this maturity already, as far as they were read; None: they have not."""
        return self.expected_from_ms if self.expected_from_ms == self.expected_to_ms else None


def break_hours(
    ripening: Ripening, target: Target, laboratory: LaboratorySettings | None, zone: str, now_ms: Ms
) -> BreakHours:
    """Return when to break: within the expected window, else at the opening nearest to it, before or after.

    At any hour named the maturity is at least the lowest tested one even if the cylinders are a little colder, and at
    most the highest even if they are a little warmer.

    Args:
        ripening: how the cylinders ripen.
        target: at which maturity to break.
        laboratory: its hours; None: at any hour.
        zone: IANA time zone of the site.
        now_ms: site time; an hour that has passed is not named.
    """
    begins, middle = ripening.hour_ms(target.age_h, ripening.quick), ripening.hour_ms(target.age_h, ripening.expected)
    ends, tested = ripening.hour_ms(target.age_h, ripening.slow), _tested(ripening, target, now_ms)
    if begins is None or middle is None or tested is None:
        return BreakHours(begins, ends, why=STANDS_STILL)
    low = max(begins, tested.begins_ms)
    high = max(low, tested.ends_ms if ends is None else min(ends, tested.ends_ms))
    if low >= tested.ends_ms:
        return BreakHours(begins, ends, why=TOO_OLD)
    found = _open(low, high, tested, laboratory, zone)
    if not found:
        return BreakHours(begins, ends, why=NEVER_OPEN)
    best = min(found, key=lambda s: (_apart(s, low, high), _apart(s, middle, middle)))
    first, last = _within(best, low, high)
    age_from_h, age_to_h = (ripening.age_at_h(at_ms, ripening.expected) for at_ms in (first, last))
    moved = not (best.begins_ms <= high and low < best.ends_ms)
    return BreakHours(begins, ends, first, last, age_from_h, age_to_h, moved)


def _tested(ripening: Ripening, target: Target, now_ms: Ms) -> ShiftHours | None:
    """Return the hours from now on between which a break says something; None: it cannot be said when they begin."""
    first = ripening.hour_ms(target.tested_from_h, ripening.slow)
    last = ripening.hour_ms(target.tested_to_h, ripening.quick)
    longest = ripening.from_ms + round(LONGEST_H * HOUR_MS)
    return None if first is None else ShiftHours(max(first, now_ms), longest if last is None else last)


def _open(
    low: Ms, high: Ms, tested: ShiftHours, laboratory: LaboratorySettings | None, zone: str
) -> Sequence[ShiftHours]:
    """Return the stretches round a window in which cylinders can be broken, long enough for a set."""
    stretches = [tested]
    if laboratory is not None:
        from_ms, to_ms = low - SEARCHED_MS, high + SEARCHED_MS
        stretches = [*openings(from_ms, to_ms, laboratory.open, zone, laboratory.days)]
    cut = (ShiftHours(max(s.begins_ms, tested.begins_ms), min(s.ends_ms, tested.ends_ms)) for s in stretches)
    return [s for s in cut if s.ends_ms - s.begins_ms >= BREAKING_MS]


def _apart(stretch: ShiftHours, low: Ms, high: Ms) -> int:
    return max(0, stretch.begins_ms - high, low - stretch.ends_ms)


def _within(stretch: ShiftHours, low: Ms, high: Ms) -> tuple[Ms, Ms]:
    """Return the window cut to a stretch, or its end nearest to the window; long enough for a set."""
    first, last = (min(max(at_ms, stretch.begins_ms), stretch.ends_ms) for at_ms in (low, high))
    last = max(last, min(first + BREAKING_MS, stretch.ends_ms))
    return min(first, max(stretch.begins_ms, last - BREAKING_MS)), last
