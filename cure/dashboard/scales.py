"""Where a value lies on an axis, and which values are marked: hours of the site's clock, logarithms, plain numbers."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, Literal

import numpy as np

from cure.maturity import Floats
from shared.models.base import HOUR_MS, Ms
from shared.zones import place_of

DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_STEPS: Final = (1, 2, 2.5, 5, 10)
_STEPS_H: Final = (1, 2, 3, 6, 12)
_STEPS_D: Final = (1, 2, 7, 14, 28, 56, 112, 224, 448)
_DECADE: Final = (1, 2, 5)


@dataclass(frozen=True, slots=True)
class Mark:
    """A marked value of an axis."""

    at: float
    label: str


Marks = Callable[[int], Sequence[Mark]]
"""How many there is room for -> the marks."""


@dataclass(frozen=True, slots=True)
class Across:
    """The axis that all panels of a chart share."""

    first: float
    last: float
    marks: Marks
    kind: Literal["time", "log", "number"] = "number"
    name: str = ""
    zone: str = ""
    """Of a time axis: whose clock is marked."""

    def part(self, value: Floats) -> Floats:
        """Return how far along values lie: 0 at the first, 1 at the last."""
        if self.kind == "log":
            return np.log(np.asarray(value, float) / self.first) / math.log(self.last / self.first)
        return (np.asarray(value, float) - self.first) / (self.last - self.first)


def nice(low: float, high: float, want: int) -> list[float]:
    """Return round values evenly apart, from at or below the low one to at or above the high one."""
    span = max(high - low, 1e-9)
    step = 10.0 ** math.floor(math.log10(span / want))
    step *= next((k for k in _STEPS if span / (step * k) <= want), 10)
    # Ten decimals first: the last bit of a quotient must not add a mark.
    first, last = math.floor(round(low / step, 10)), math.ceil(round(high / step, 10))
    return [n * step for n in range(first, max(last, first + 1) + 1)]


def numbers(first: float, last: float, name: str = "", marks: Marks | None = None) -> Across:
    """Return a plain axis; its marks are round numbers inside it unless they are given."""

    def rounds(want: int) -> list[Mark]:
        return [Mark(v, f"{v:g}") for v in nice(first, last, want) if first <= v <= last]

    return Across(first, last, marks or rounds, "number", name)


def logarithmic(first: float, last: float, name: str) -> Across:
    """Return an axis on which a ratio is a distance; marked at 1, 2, 5, 10 and so on, or at powers of ten."""

    def marks(want: int) -> list[Mark]:
        decades = range(math.floor(math.log10(first)), math.ceil(math.log10(last)) + 1)
        found = [k * 10.0**n for n in decades for k in _DECADE if first <= k * 10.0**n <= last]
        if len(found) > 2 * want:
            found = [10.0**n for n in decades if first <= 10.0**n <= last]
        return [Mark(v, f"{v:g}") for v in found]

    return Across(first, last, marks, "log", name)


def hours_of(zone: str, from_ms: Ms, through_ms: Ms, days: Sequence[str] = DAYS) -> Across:
    """Return the axis of a site's clock: its midnights and hours are marked, also when the clocks are changed.

    Args:
        zone: of the site; UTC when nobody knows it.
        from_ms: where it begins.
        through_ms: where it ends, later.
        days: names of the days, Monday first.
    """

    def marks(want: int) -> list[Mark]:
        return _wall_marks(zone, from_ms, through_ms, want, days)

    return Across(float(from_ms), float(through_ms), marks, "time", zone=zone)


def _wall_marks(zone: str, from_ms: Ms, through_ms: Ms, want: int, days: Sequence[str]) -> list[Mark]:
    span_h = (through_ms - from_ms) / HOUR_MS
    every_h = next((s for s in _STEPS_H if span_h / s <= want), 24)
    every_d = next((s for s in _STEPS_D if span_h / (24 * s) <= want), _STEPS_D[-1]) if every_h == 24 else 1
    place = place_of(zone) or UTC
    day = datetime.fromtimestamp(from_ms / 1000, place).replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    found: list[Mark] = []
    while True:
        for hour in range(0, 24, every_h):
            wall = (day + timedelta(hours=hour)).replace(tzinfo=place)
            instant = wall.astimezone(UTC)
            at_ms = instant.timestamp() * 1000.0
            if at_ms > through_ms:
                return found
            # An hour that the change of the clocks leaves out has no mark; a day begins when it begins.
            there = hour == 0 or instant.astimezone(place).hour == hour
            if at_ms >= from_ms and there and day.toordinal() % every_d == 0:
                label = f"{hour:02d}:00" if hour else f"{days[day.weekday()]} {day.day}"
                found.append(Mark(at_ms, label))
        day += timedelta(days=1)
