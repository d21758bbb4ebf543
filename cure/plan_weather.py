"""The weather of a plan that somebody has in mind: days that are all alike, or no cold at all. Pure."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from cure.forecast import HORIZON_H, Slabwork, Weather
from shared.errors import PlanError
from shared.models.base import HOUR_MS, Ms
from shared.shifts import day_of, hour_of

ALIKE_SD_C: Final = 2.0
ALIKE_BIAS_SD_C: Final = 1.5
"""Of days that somebody has in mind: hour by hour, and all of them (our judgement)."""
COLDEST_HOUR: Final = "06:00"
"""The warmest comes twelve hours later (our judgement: the sun of winter days is soon gone)."""
EARLIER_H: Final = 1
"""Hours of weather before the pour."""


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


def in_warm_air(work: Slabwork, air_c: float) -> Slabwork:
    """Return the same pour in air of one temperature, for all that is foreseen of it, and heated by nothing.

    Of its weather, wind, humidity and cloud stay as they are on the whole; its air has no error, and no sun comes.
    """
    was = work.weather
    first_ms = min(int(was.hours_ms[0]), (work.placed_ms // HOUR_MS - EARLIER_H) * HOUR_MS)
    ones = np.ones((work.end_ms - first_ms) // HOUR_MS + HORIZON_H + 2)
    weather = Weather(
        first_ms + HOUR_MS * np.arange(len(ones), dtype=np.int64),
        air_c * ones,
        float(np.mean(was.wind_m_per_s)) * ones,
        float(np.mean(was.humidity_percent)) * ones,
        0.0 * ones,
        float(np.mean(was.cloud_share)) * ones,
        0.0 * ones,
        0.0,
        was.issued_ms,
        f"air of {air_c:g} degC",
    )
    return replace(work, weather=weather, heated=())
