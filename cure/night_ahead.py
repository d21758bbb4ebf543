"""How cold the coming night may be at a bay, by the weather that is held. Pure."""

from __future__ import annotations

import numpy as np

from cure.sky import weather_over
from cure.sky_held import STALE_H, Held, NoSky, OwnAir
from shared.models.base import HOUR_MS, Ms

ONE_IN_TEN = 1.2816
"""Standard deviations below the middle that one normal value in ten lies."""


def foreseen_low_c(held: Held, own: OwnAir | None, from_ms: Ms, to_ms: Ms, now_ms: Ms) -> float | None:
    """Return the air than which one night in ten gets colder; None: the forecast says too little.

    Args:
        held: of the site's weather.
        own: the bay's own air.
        from_ms: where the night begins.
        to_ms: where it ends; a forecast that ends before says too little.
        now_ms: the present.
    """
    newest = held.newest
    if newest is None or not held.age_h(now_ms) <= STALE_H or newest.ends_ms - HOUR_MS < to_ms:
        return None
    found = weather_over(held, own, min(from_ms, now_ms), to_ms, now_ms)
    if isinstance(found, NoSky) or held.source is None or held.source not in found.source:
        return None
    night = (found.hours_ms >= from_ms) & (found.hours_ms <= to_ms)
    low = found.air_c[night] - ONE_IN_TEN * np.hypot(found.air_sd_c[night], found.bias_sd_c)
    return float(np.min(low)) if len(low) else None
