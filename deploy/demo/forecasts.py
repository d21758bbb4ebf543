"""The invented forecasts of the demo's invented weather: as it will be, with an error that grows; every six hours one.

They reach the site as a provider's would: JSON on the topic of its weather.
"""

from __future__ import annotations

import json
import math
from random import Random
from typing import Any, Final

from deploy.demo.loggers import Pack
from deploy.demo.scenario import CLOSE_MS, OPEN_MS, SEED, at
from deploy.demo.weather import END_MS, Weather, weather
from shared.models.base import DAY_MS, HOUR_MS, Ms

TOPIC: Final = "slabhour/millrace/weather"
EVERY_MS: Final = 6 * HOUR_MS
BEFORE_H, AHEAD_H = 36, 120
"""Hours that each tells of, before and after it was made."""
BIAS_SD_C: Final = 0.5
SD_C, GROWS_H = 1.2, 24.0
"""Of the air's error in the end, and how soon."""
STEADINESS: Final = 0.93
CLEAR_W_PER_M2: Final = 90.0
"""What a clear sky takes of a slab."""
HUMIDITY_PERCENT: Final = 75.0


def will_be(at_ms: Ms) -> Weather:
    """Return the weather of an hour; after the end of the demo's table its last day over again."""
    days = max(0, -(-(at_ms - END_MS) // DAY_MS))
    return weather(at_ms - days * DAY_MS)


def issue(made_ms: Ms) -> dict[str, Any]:
    """Return the forecast that was made at a whole hour, as `[weather]` reads it without a map."""
    rng, wandering, hours = Random(f"{SEED} {made_ms}"), 0.0, []
    bias = rng.gauss(0.0, BIAS_SD_C)
    for lead in range(-BEFORE_H, AHEAD_H + 1):
        true, error = will_be(made_ms + lead * HOUR_MS), 0.0
        if lead > 0:
            wandering = STEADINESS * wandering + math.sqrt(1.0 - STEADINESS**2) * rng.gauss(0.0, 1.0)
            error = bias * min(1.0, lead / GROWS_H) + SD_C * (1.0 - math.exp(-lead / GROWS_H)) * wandering
        hours.append(
            {
                "at": at(made_ms + lead * HOUR_MS).isoformat(),
                "air_c": round(true.air_c + error, 1),
                "wind_m_s": round(true.wind_m_per_s, 1),
                "humidity_percent": HUMIDITY_PERCENT,
                "sun_w_m2": round(true.sun_w_per_m2),
                "cloud_percent": round(100.0 * max(0.0, 1.0 - true.sky_loss_w_per_m2 / CLEAR_W_PER_M2)),
            }
        )
    return {"issued_at": at(made_ms).isoformat(), "hours": hours}


def packs() -> list[Pack]:
    """Return the forecasts of the demo, each in the hour in which it is made; the first a little before it opens."""
    first = OPEN_MS - EVERY_MS // 6
    return [Pack(TOPIC, made, json.dumps(issue(made)).encode()) for made in range(first, CLOSE_MS, EVERY_MS)]
