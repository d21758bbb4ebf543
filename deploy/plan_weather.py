"""The weather of a plan: a file like the one that [weather] reads, or days that are all alike."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np

from cure.forecast import Weather
from cure.sky import weather_over
from cure.sky_held import Held, NoSky
from ingest.weather import Unusable, read_weather
from shared.errors import PlanError
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import SiteFile
from shared.models.weather import NoWeather
from shared.shifts import day_of, hour_of

ALIKE_SD_C: Final = 2.0
ALIKE_BIAS_SD_C: Final = 1.5
"""Of days that somebody has in mind: hour by hour, and all of them (our judgement)."""
COLDEST_HOUR: Final = "06:00"
"""The warmest comes twelve hours later (our judgement: the sun of winter days is soon gone)."""
EARLIER_H: Final = 1


def days_alike(low_c: float, high_c: float, wind_m_s: float, zone: str, hours: tuple[Ms, Ms], issued_ms: Ms) -> Weather:
    """Return days that swing between a low and a high; no sun, half a sky.

    Raises:
        PlanError: they are no temperatures of air, or no wind.
    """
    # Written so that NaN is refused.
    if not (-50.0 <= low_c <= high_c <= 55.0 and 0.0 <= wind_m_s <= 40.0):
        raise PlanError("days have a low of -50 degC or more, a high not below it and up to 55, a wind of 0 to 40 m/s")
    at_ms = np.arange(hours[0] // HOUR_MS - EARLIER_H, -(-hours[1] // HOUR_MS) + 1, dtype=np.int64) * HOUR_MS
    coldest_ms = hour_of(day_of(hours[0], zone), COLDEST_HOUR, zone)
    swing = -np.cos(2.0 * math.pi * (at_ms - coldest_ms) / (24.0 * HOUR_MS))
    ones = np.ones(len(at_ms))
    return Weather(
        at_ms,
        0.5 * (low_c + high_c) + 0.5 * (high_c - low_c) * swing,
        wind_m_s * ones,
        75.0 * ones,
        0.0 * ones,
        0.5 * ones,
        ALIKE_SD_C * ones,
        ALIKE_BIAS_SD_C,
        issued_ms,
        f"days alike, {low_c:g} to {high_c:g} degC",
        ("no forecast: days that are all alike",),
    )


def of_file(path: Path, site: SiteFile, hours: tuple[Ms, Ms], now_ms: Ms) -> Weather:
    """Return the weather of a file, CSV or JSON by its ending, in the map of the site's own [weather] if it has one.

    Raises:
        PlanError: nothing in it can be used.
        OSError: it cannot be read.
    """
    mapped = None if isinstance(site.weather, NoWeather) else site.weather.map
    issue = read_weather(path.read_bytes(), path.name, now_ms, mapped, is_csv=path.suffix.lower() == ".csv")
    if isinstance(issue, Unusable):
        raise PlanError(f"{path}: {issue.why}")
    held = Held(path.name, (issue,))
    found = weather_over(held, None, hours[0] - EARLIER_H * HOUR_MS, hours[1], now_ms)
    if isinstance(found, NoSky):
        raise PlanError(f"{path}: {found.reason}: {found.how}")
    return found
