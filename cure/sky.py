"""The weather over a site, hour by hour, of what is held: measured as far as it goes, then foreseen with a growing
error. Pure.

What is missing is filled and widened, and said; what is too old, or far from what the site measures, counts for
nothing. Without a forecast the site's own air goes on as the last day did.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.covers import LONGEST_HOLE_MS
from cure.forecast import Weather
from cure.maturity import Floats
from cure.sky_held import STALE_H, USELESS_H, Held, NoSky, OwnAir, wrongs
from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Series
from shared.models.weather import WeatherHour, WeatherIssue

MEASURED_SD_C: Final = 0.5
"""Of an air sensor, and of the place where it hangs (C1074 allows a sensor 1 degC, from memory)."""
FORESEEN_SD_C: Final = 2.0
"""Of a forecast a day ahead; three days ahead 1.5 to 2.5 degC are usual (our judgement)."""
CORRELATION: Final = 0.93
"""Of the error between one hour and the next (our judgement)."""
LATER_SD_C_PER_DAY: Final = 0.25
"""By how much the error grows after the first day (our judgement)."""
BIAS_SD_C: Final = 0.7
OWN_BIAS_SD_C: Final = 1.0
"""Where only the site's own air speaks."""
OWN_SD_C, OWN_LATER_SD_C, OWN_SCALE_H = 2.0, 4.5, 24.0
"""Of the last day's air taken for a later day's: at once, in the end, and how soon (our judgement: from one day to the
next weather changes by some 3 degC, in days by some 4.5)."""
STALE_FACTOR: Final = 1.25
"""By which the error of a stale forecast grows (our judgement)."""
NEAR_MS: Final = 6 * HOUR_MS
"""In the last hours a forecast is held against what was measured."""
NEAR_LEAST: Final = 3
FAR_C: Final = 3.0
"""Mean difference from which on it is widened, ..."""
TOO_FAR_C: Final = 8.0
"""... and from which on it is not this site's weather (our judgement)."""
FADES_H: Final = 12.0
"""In which a difference at the present fades."""
OLD_AIR_MS: Final = 24 * HOUR_MS
"""An air sensor that was silent for longer says nothing of the hours to come."""
DEFAULTS: Final = {"wind": 3.0, "humidity": 75.0, "sun": 0.0, "cloud": 0.5}
"""Where nothing is said: a breeze [m/s], damp [%], no sun [W/m2], half a sky. Without sun no hour comes earlier."""
UNSAID_SD_C: Final = 0.5
"""By which air that stands for such surroundings is widened."""


@dataclass(slots=True)
class _Hours:
    """The hours of a stretch as they are filled in, shape (hours,); NaN: not yet."""

    at_ms: NDArray[np.int64]
    air_c: Floats
    sd_c: Floats
    doubts: list[str] = field(default_factory=list)

    def fill(self, where: NDArray[np.bool_], air_c: Floats, sd_c: Floats) -> None:
        open_ = where & np.isnan(self.air_c) & np.isfinite(air_c)
        self.air_c[open_], self.sd_c[open_] = air_c[open_], sd_c[open_]


def foreseen_sd_c(lead_h: Floats) -> Floats:
    """Return the standard deviation of the air of a forecast so many hours after it was made [degC].

    An error with correlation rho from one hour to the next: s(h)^2 = s0^2 + (s1^2 - s0^2)(1 - rho^(2h)), and a little
    more each day after the first. Our judgement.
    """
    lead = np.maximum(0.0, lead_h)
    grown = 1.0 - CORRELATION ** (2.0 * lead)
    first = np.sqrt(MEASURED_SD_C**2 + (FORESEEN_SD_C**2 - MEASURED_SD_C**2) * grown)
    later: Floats = first + LATER_SD_C_PER_DAY * np.maximum(0.0, lead / 24.0 - 1.0)
    return later


def own_sd_c(lead_h: Floats) -> Floats:
    """Return that of the last day's air so many hours later [degC]: s0 + (s1 - s0)(1 - exp(-h / 24 h)).

    Our judgement.
    """
    grown = 1.0 - np.exp(-np.maximum(0.0, lead_h) / OWN_SCALE_H)
    found: Floats = OWN_SD_C + (OWN_LATER_SD_C - OWN_SD_C) * grown
    return found


def _measured_c(air: Series, at_ms: NDArray[np.int64]) -> Floats:
    """Return the air on the line between two readings that are near enough; NaN elsewhere."""
    found = np.full(len(at_ms), np.nan)
    if not len(air):
        return found
    taken, c = air.taken_ms, air.milli_c / 1000.0
    right = np.searchsorted(taken, at_ms, side="left")
    inside = (right > 0) & (right < len(taken))
    gaps = taken[np.minimum(right, len(taken) - 1)] - taken[np.maximum(right - 1, 0)]
    near = (inside & (gaps <= LONGEST_HOLE_MS)) | np.isin(at_ms, taken)
    found[near] = np.interp(at_ms[near], taken, c)
    return found


def _of_issue(issue: WeatherIssue, at_ms: NDArray[np.int64], value: Callable[[WeatherHour], float | None]) -> Floats:
    said = {hour.at_ms: value(hour) for hour in issue.hours}
    return np.array([math.nan if (v := said.get(int(at))) is None else v for at in at_ms], dtype=np.float64)


def _difference_c(issue: WeatherIssue, own: OwnAir | None, now_ms: Ms) -> float | None:
    """Return by how much what was measured lately lies above the forecast; None: too little to say."""
    if own is None:
        return None
    last = now_ms // HOUR_MS * HOUR_MS
    at_ms = np.arange(last - NEAR_MS, last + 1, HOUR_MS)
    apart = _measured_c(own.series, at_ms) - _of_issue(issue, at_ms, lambda h: h.air_c)
    known = apart[np.isfinite(apart)]
    return float(np.mean(known)) if len(known) >= NEAR_LEAST else None


def _go_on(hours: _Hours, from_ms: Ms) -> None:
    """Fill the hours from one on with those a day before, and so on; with the last one where there is no such."""
    last = int(np.searchsorted(hours.at_ms, from_ms)) - 1
    for i in range(last + 1, len(hours.at_ms)):
        days = -(-(i - last) // 24)
        there = i - 24 * days >= 0
        of = i - 24 * days if there else last
        lead_h = np.array([float(i - last)])
        swing_c = 0.0 if there else OWN_LATER_SD_C
        # With what is not known of that hour: one of a hole is itself taken from the nearest.
        hours.sd_c[i] = math.hypot(float(hours.sd_c[of]), float(own_sd_c(lead_h)[0]), swing_c)
        hours.air_c[i] = hours.air_c[of]


def _fill_before(hours: _Hours) -> None:
    """Fill the holes of the past between what is known, and before it, with what is nearest."""
    known = np.flatnonzero(np.isfinite(hours.air_c))
    holes = np.flatnonzero(np.isnan(hours.air_c[: int(known[-1])]))
    for i in holes:
        nearest = int(known[np.argmin(np.abs(known - i))])
        away_h = abs(float(hours.at_ms[i] - hours.at_ms[nearest])) / HOUR_MS
        hours.air_c[i] = hours.air_c[nearest]
        hours.sd_c[i] = math.hypot(float(hours.sd_c[nearest]), float(own_sd_c(np.array([away_h]))[0]), FAR_C)
    if len(holes):
        hours.doubts.append(f"{len(holes)} past hours without any air: taken from the nearest")


@dataclass(frozen=True, slots=True)
class _Foreseen:
    """What of a forecast counts."""

    issue: WeatherIssue | None = None
    bias_sd_c: float = OWN_BIAS_SD_C
    factor: float = 1.0
    above_c: float = 0.0
    """By how much the site is warmer than it at present."""


def _usable(held: Held, own: OwnAir | None, now_ms: Ms, doubts: list[str]) -> _Foreseen:
    doubts += wrongs(held, now_ms)
    issue, age_h = held.newest, held.age_h(now_ms)
    if issue is None or not age_h < USELESS_H:
        return _Foreseen()
    above_c = _difference_c(issue, own, now_ms)
    apart_c = 0.0 if above_c is None else abs(above_c)
    if apart_c > TOO_FAR_C:
        doubts.append(
            f"the forecast of {held.source} is {apart_c:.0f} degC off the site's own air: it counts for nothing"
        )
        return _Foreseen()
    if apart_c > FAR_C:
        doubts.append(f"the forecast of {held.source} is {apart_c:.0f} degC off the site's own air: it is widened")
    bias_sd_c = max(BIAS_SD_C, 0.5 * apart_c) if apart_c > FAR_C else BIAS_SD_C
    factor = STALE_FACTOR if age_h > STALE_H else 1.0
    return _Foreseen(issue, bias_sd_c, factor, 0.0 if above_c is None else above_c)


def _fill_foreseen(hours: _Hours, found: _Foreseen, now_ms: Ms) -> None:
    if found.issue is None:
        return
    lead_h = (hours.at_ms - found.issue.issued_ms) / HOUR_MS
    ahead_h = np.maximum(0.0, (hours.at_ms - now_ms) / HOUR_MS)
    air_c = _of_issue(found.issue, hours.at_ms, lambda h: h.air_c) + found.above_c * np.exp(-ahead_h / FADES_H)
    hours.fill(hours.at_ms > now_ms - HOUR_MS, air_c, foreseen_sd_c(lead_h) * found.factor)


def _others(held: Held, hours: _Hours, now_ms: Ms) -> tuple[dict[str, Floats], list[str]]:
    """Return wind, humidity, sun and cloud, each from the newest issue that speaks of the hour; and what is unsaid."""
    reads: dict[str, Callable[[WeatherHour], float | None]] = {
        "wind": lambda h: h.wind_m_s, "humidity": lambda h: h.humidity_percent, "sun": lambda h: h.sun_w_m2,
        "cloud": lambda h: h.cloud_share,
    }  # fmt: skip
    found, unsaid = {}, []
    for name, read in reads.items():
        values = np.full(len(hours.at_ms), np.nan)
        for issue in reversed(held.issues):
            open_ = np.isnan(values)
            if not open_.any():
                break
            values[open_] = _of_issue(issue, hours.at_ms[open_], read)
        missing = np.isnan(values)
        if missing[hours.at_ms >= now_ms].any():
            unsaid.append(name)
        if missing.any():
            hours.sd_c[missing] = np.hypot(hours.sd_c[missing], 0.5 * UNSAID_SD_C)
        values[missing] = DEFAULTS[name]
        found[name] = values
    return found, unsaid


def weather_over(held: Held, own: OwnAir | None, from_ms: Ms, to_ms: Ms, now_ms: Ms) -> Weather | NoSky:
    """Return the weather of each hour of a stretch, as it was and as it is foreseen.

    Args:
        held: what is held of the site's weather.
        own: the air over the bay as measured; None: nobody measures it.
        from_ms: where the stretch begins.
        to_ms: where it ends, after `now_ms`.
        now_ms: the present.
    """
    first, last = from_ms // HOUR_MS, -(-max(to_ms, now_ms + HOUR_MS) // HOUR_MS)
    at_ms = np.arange(first, last + 1, dtype=np.int64) * HOUR_MS
    hours = _Hours(at_ms, np.full(len(at_ms), np.nan), np.full(len(at_ms), np.nan))
    found = _usable(held, own, now_ms, hours.doubts)
    fresh = own is not None and len(own.series) > 0 and int(own.series.taken_ms[-1]) > now_ms - OLD_AIR_MS
    if found.issue is None and not fresh:
        return NoSky(
            "neither a weather forecast nor an air sensor that spoke in the last 24 h",
            "give the site a source of weather ([weather]), or place an air sensor at the bay",
        )
    past = at_ms <= now_ms
    if own is not None:
        hours.fill(past, _measured_c(own.series, at_ms), np.full(len(at_ms), MEASURED_SD_C))
    _fill_foreseen(hours, found, now_ms)
    for issue in reversed(held.issues):
        lead_h = (at_ms - issue.issued_ms) / HOUR_MS
        hours.fill(past, _of_issue(issue, at_ms, lambda h: h.air_c), foreseen_sd_c(lead_h))
    return _whole(hours, held, own, found, now_ms)


def _whole(hours: _Hours, held: Held, own: OwnAir | None, found: _Foreseen, now_ms: Ms) -> Weather | NoSky:
    known = np.flatnonzero(np.isfinite(hours.air_c))
    if not len(known):
        return NoSky(
            "no hour of the weather that is held lies in the time of the pour",
            "look at [weather]: slabhour weather shows what is held",
        )
    if known[-1] < len(hours.at_ms) - 1:
        missing_h = len(hours.at_ms) - 1 - int(known[-1])
        said = (
            "goes on as the last day"
            if found.issue is None
            else f"ends {missing_h} h early and goes on as its last day"
        )
        hours.doubts.append(f"the air {said}" if found.issue is None else f"the forecast {said}")
    _fill_before(hours)
    _go_on(hours, int(hours.at_ms[known[-1]]) + 1)
    others, unsaid = _others(held, hours, now_ms)
    if unsaid:
        hours.doubts.append(f"not said, and taken as usual: {', '.join(unsaid)}")
    measured_ms = 0 if own is None or not len(own.series) else int(own.series.taken_ms[-1])
    spoken = [name for name in (None if found.issue is None else held.source, own and f"air logger {own.name}") if name]
    return Weather(
        hours_ms=hours.at_ms,
        air_c=hours.air_c,
        wind_m_per_s=others["wind"],
        humidity_percent=others["humidity"],
        sun_w_per_m2=others["sun"],
        cloud_share=others["cloud"],
        air_sd_c=hours.sd_c,
        bias_sd_c=found.bias_sd_c,
        issued_ms=max(measured_ms, 0 if found.issue is None else found.issue.issued_ms),
        source=" and ".join(spoken),
        doubts=tuple(hours.doubts),
    )
