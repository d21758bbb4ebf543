"""Cold and hot weather by their published definitions, and the log that cold weather asks for twice a day. Pure.

What is not known counts as cold: a definition only ever asks for more care.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from cure.covers import LONGEST_HOLE_MS
from cure.credit import SensorTrack
from cure.limits import LIMITS
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.shifts import day_of, hour_of

COLD_DAYS: Final = 4
"""More than three days on end."""
LOG_HOURS: Final = ("08:00", "16:00")
"""Twice a day, 8 h or more apart (our judgement; ACI 306.1 asks for twice a day)."""
SPEAKS_FOR_MS: Final = HOUR_MS
"""So long a reading stands for what follows."""


@dataclass(frozen=True, slots=True)
class AirDay:
    """The air of one day of the site, midnight to midnight."""

    day: date
    low_c: float
    high_c: float
    warm_h: float
    """Hours above 10 degC."""

    @property
    def mean_c(self) -> float:
        """Of high and low, as the definition has it; NaN: not known."""
        return 0.5 * (self.low_c + self.high_c)

    @property
    def cold(self) -> bool:
        """Whether it counts towards cold weather."""
        return not LIMITS["mean of a cold day"].kept(self.mean_c) and not self.warm_h > 12.0


def _midnights(first_ms: Ms, last_ms: Ms, zone: str) -> list[tuple[date, Ms, Ms]]:
    day = day_of(first_ms, zone)
    found = []
    while (ends := hour_of(day + timedelta(days=1), "00:00", zone)) <= last_ms:
        found.append((day, hour_of(day, "00:00", zone), ends))
        day += timedelta(days=1)
    return found


def air_days(air: Series, zone: str, from_ms: Ms, through_ms: Ms) -> list[AirDay]:
    """Return each whole day of the site between two hours; NaN in one whose record has a hole.

    Args:
        air: the air's record.
        zone: IANA time zone of the site.
        from_ms: the first day is the one that holds this hour.
        through_ms: the last day ends here at the latest.
    """
    return [_air_day(air, *day) for day in _midnights(from_ms, through_ms, zone)]


def _air_day(air: Series, day: date, begins_ms: Ms, ends_ms: Ms) -> AirDay:
    inside = (air.taken_ms >= begins_ms) & (air.taken_ms <= ends_ms)
    taken, c = air.taken_ms[inside], air.milli_c[inside] / 1000.0
    edges = np.concatenate(([begins_ms], taken, [ends_ms]))
    if not len(c) or np.max(np.diff(edges)) > LONGEST_HOLE_MS:
        return AirDay(day, math.nan, math.nan, math.nan)
    # Warm only where both ends of a stretch are.
    warm = np.minimum(c[1:], c[:-1]) > LIMITS["warm half of a cold day"].value
    return AirDay(day, float(c.min()), float(c.max()), float(np.sum(np.diff(taken)[warm])) / HOUR_MS)


def cold_by_days(days: Sequence[AirDay]) -> bool:
    """Return whether the last days are cold weather by the older definition.

    More than three days on end with a mean below 5 degC, none with air above 10 degC for more than half of it. The
    definition says "of any 24 h", here of each day: that is cold weather a little more often.

    Source: ACI 306R-88, as PCA, Design and Control of Concrete Mixtures, chapter 14, gives it (read). Advice.
    """
    return len(days) >= COLD_DAYS and all(day.cold for day in days[-COLD_DAYS:])


def cold_by_fall(lows_c: Sequence[float | None]) -> bool:
    """Return whether it is cold weather by the newer definition: air fallen, or expected to fall, below 5 degC.

    Args:
        lows_c: the coldest air since the concrete was placed, and the coldest expected while it is protected; None or
            NaN: not known.

    Source: ACI 306R-16, 40 degF (read in a summary); 5 degC is the stricter. Advice.
    """
    limit = LIMITS["air while protected"]
    return not all(low is not None and limit.kept(low) for low in lows_c)


@dataclass(frozen=True, slots=True)
class LogLine:
    """One line of the cold-weather log; what the sky was like is a person's to add. NaN: not known."""

    at_ms: Ms
    air_c: float
    surface_c: float
    """The coldest top sensor, or where there is none the coldest sensor."""
    low_c: float
    high_c: float
    """Coldest and hottest concrete in the 24 h before."""


def cold_log(
    sensors: Sequence[SensorTrack], air: Series | None, zone: str, from_ms: Ms, through_ms: Ms
) -> list[LogLine]:
    """Return the lines of the log between two hours, two a day of the site.

    Source: ACI 306.1: date, hour, air and surface temperature at least twice in 24 h, highest and lowest of each 24 h
    (read in a summary). A rule where the contract names it.
    """
    first = day_of(from_ms, zone)
    days = range((through_ms - from_ms) // DAY_MS + 2)
    times = [hour_of(first + timedelta(days=d), hour, zone) for d in days for hour in LOG_HOURS]
    return [_line(sensors, air, at_ms) for at_ms in times if from_ms <= at_ms <= through_ms]


def _line(sensors: Sequence[SensorTrack], air: Series | None, at_ms: Ms) -> LogLine:
    tops = [s for s in sensors if s.placement.zone is Zone.TOP] or sensors
    surface = [_at_c(s.raw, at_ms) for s in tops]
    day = [s.raw.milli_c[(s.raw.taken_ms > at_ms - DAY_MS) & (s.raw.taken_ms <= at_ms)] for s in sensors]
    whole = np.concatenate([*day, np.empty(0, np.int64)]) / 1000.0
    return LogLine(
        at_ms,
        math.nan if air is None else _at_c(air, at_ms),
        # Not the built-in min: that can pass over a NaN.
        float(np.min(surface)) if surface else math.nan,
        float(whole.min()) if len(whole) else math.nan,
        float(whole.max()) if len(whole) else math.nan,
    )


def _at_c(series: Series, at_ms: Ms) -> float:
    i = int(np.searchsorted(series.taken_ms, at_ms, side="right")) - 1
    if i < 0 or at_ms - int(series.taken_ms[i]) > SPEAKS_FOR_MS:
        return math.nan
    return float(series.milli_c[i]) / 1000.0


def hot(delivered_c: float, evaporation_kg_m2_h: float, *, little_bleeding: bool) -> tuple[str, ...]:
    """Return the hot-weather limits that are not kept, by name; what is not known is not kept."""
    evaporation = "evaporation, little bleeding" if little_bleeding else "evaporation"
    found = {"as delivered": delivered_c, evaporation: evaporation_kg_m2_h}
    return tuple(name for name, value in found.items() if not LIMITS[name].kept(value))
