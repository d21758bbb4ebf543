"""The invented weather of the demo site: a mild Monday and night, a cold front on Tuesday afternoon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from deploy.demo.scenario import MONDAY_MS
from shared.models.base import HOUR_MS, Ms

# Hours since Monday 00:00 local, air [degC], wind at the slab [m/s], net loss to the sky [W/m2], sun [W/m2].
_TABLE: Final = np.array(
    [
        (0.0, 6.0, 2.0, 12.0, 0.0),
        (5.0, 6.4, 2.0, 12.0, 0.0),
        (8.0, 7.6, 2.0, 12.0, 15.0),
        (12.0, 10.6, 2.5, 15.0, 110.0),
        (14.5, 11.4, 2.5, 15.0, 70.0),
        (17.0, 9.6, 2.0, 12.0, 0.0),
        (22.0, 7.6, 2.0, 10.0, 0.0),
        (30.0, 6.6, 2.0, 10.0, 0.0),
        (33.0, 8.6, 2.5, 12.0, 40.0),
        (36.0, 10.4, 3.5, 12.0, 60.0),
        (36.5, 10.0, 5.0, 12.0, 30.0),
        (38.5, 6.0, 7.0, 15.0, 20.0),
        (40.5, 3.4, 7.0, 20.0, 0.0),
        (43.0, 2.6, 5.0, 22.0, 0.0),
        (48.0, 1.6, 3.0, 22.0, 0.0),
        (54.0, 0.9, 2.5, 18.0, 0.0),
        (56.0, 1.6, 2.5, 15.0, 30.0),
        (59.0, 4.7, 2.5, 12.0, 140.0),
        (61.5, 5.2, 2.5, 12.0, 120.0),
        (65.0, 3.9, 2.0, 15.0, 0.0),
        (73.0, 2.2, 2.0, 15.0, 0.0),
    ]
)


END_MS: Final = MONDAY_MS + round(float(_TABLE[-1, 0])) * HOUR_MS
"""Where the table ends."""


@dataclass(frozen=True, slots=True)
class Weather:
    """What the slab feels at an instant."""

    air_c: float
    wind_m_per_s: float
    sky_loss_w_per_m2: float
    sun_w_per_m2: float


def weather(at: Ms) -> Weather:
    """Return the weather at an instant: straight lines between the table's rows, the air with a small ripple."""
    hour = (at - MONDAY_MS) / HOUR_MS
    air, wind, sky, sun = (float(np.interp(hour, _TABLE[:, 0], _TABLE[:, i])) for i in range(1, 5))
    ripple = 0.12 * np.sin(2.0 * np.pi * hour / 1.7) + 0.08 * np.sin(2.0 * np.pi * hour / 0.61)
    return Weather(air + float(ripple), wind, sky, sun)
