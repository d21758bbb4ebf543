"""Weather and pours for tests of the forecast: hours of 2026, a slab of 100 mm, three sensors."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from cure_support import END_MS
from store_support import EDGE, END, INSIDE

from cure.forecast import Point, Slabwork, Weather
from cure.hydration import CLASSES, hydration_of
from cure.maturity import Floats
from shared.models.base import HOUR_MS, Ms, PourId
from shared.models.readings import Series

MIX_HEAT: Final = hydration_of(CLASSES["I"], 335.0, 0.5)
PLACED_MS: Final[Ms] = END_MS - HOUR_MS // 2
MEMBERS: Final = 60


def weather(air_c: float | Floats = 5.0, hours: int = 200, **changes: Any) -> Weather:
    """Return steady weather from 12 h before the pour's end on, foreseen from the end on."""
    at = END_MS - 12 * HOUR_MS + HOUR_MS * np.arange(hours, dtype=np.int64)
    lead = np.maximum(0.0, (at - END_MS) / HOUR_MS)
    fields = {
        "hours_ms": at,
        "air_c": np.full(hours, 1.0) * air_c,
        "wind_m_per_s": np.full(hours, 3.0),
        "humidity_percent": np.full(hours, 70.0),
        "sun_w_per_m2": np.zeros(hours),
        "cloud_share": np.full(hours, 0.6),
        "air_sd_c": 0.5 + 1.5 * np.minimum(1.0, lead / 24.0),
        "bias_sd_c": 0.7,
        "issued_ms": END_MS,
        "source": "weather.csv",
        **changes,
    }
    return Weather(**fields)


def work(pour: str = "2-b1-p1", readings: dict[str, Series] | None = None, **changes: Any) -> Slabwork:
    """Return a pour, its sensors with what they read."""
    said = {} if readings is None else readings
    points = (
        Point(EDGE, 0.5, edge=True, series=said.get(EDGE)),
        Point(INSIDE, 0.5, series=said.get(INSIDE)),
        Point(END, 0.5, series=said.get(END)),
    )
    fields = {
        "pour": PourId(pour),
        "placed_ms": PLACED_MS,
        "end_ms": END_MS,
        "thickness_mm": 100.0,
        "hydration": MIX_HEAT,
        "placing_c": 15.0,
        "weather": weather(),
        "points": points,
        **changes,
    }
    return Slabwork(**fields)
