"""What taking the forms off now would do to a slab, by the members of its forecast. Pure. It releases nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from cure.ensemble import STEP_MS, simulate
from cure.going_on import crossing_h, onward
from cure.hours import Waits
from cure.strip_cold import COLD_C, STRONG_MPA
from shared.models.base import HOUR_MS, LOAD, STRIP
from shared.models.decisions import Stripped

if TYPE_CHECKING:
    from cure.forecast import Ensemble, Forecast
    from cure.foresee import Asked

NEAR_MS: Final = 6 * HOUR_MS
"""So long before it is expected, what the strip would do is foreseen."""
AHEAD_H: Final = 72
COLD_AHEAD_C: Final = 5.0
"""Where the air gets no colder, taking the forms off is left to the strength (our judgement)."""


def strip_is_near(one: Asked, said: Forecast) -> bool:
    """Return whether what the strip would do is worth foreseeing: it may come soon, and it is cold ahead."""
    expected = said.expected.get(STRIP)
    soon_ms = None if expected is None else expected.at(0.5)
    if not one.may_strip or one.calibration is None or soon_ms is None or soon_ms - one.now_ms > NEAR_MS:
        return False
    weather = one.work.weather
    ahead = (weather.hours_ms >= one.now_ms) & (weather.hours_ms <= one.now_ms + AHEAD_H * HOUR_MS)
    # What is not known is not warm.
    return not bool(np.all(weather.air_c[ahead] >= COLD_AHEAD_C))


def stripped_of(one: Asked, now: Ensemble, said: Forecast) -> Stripped:
    """Return what the members do without forms from now on.

    Args:
        one: what was asked; its mix has a calibration.
        now: its members, with what was read.
        said: the forecast with its forms on.
    """
    ends_ms = min(said.horizon_ms, one.earned.through_ms + AHEAD_H * HOUR_MS)
    work = replace(one.work, forms_off_ms=one.earned.through_ms)
    (run,) = simulate([work], [now], [max(2, (ends_ms - now.through_ms) // STEP_MS)])
    earned = replace(one.earned, done=one.earned.done | {STRIP})
    on = onward(work, now, run, earned, one.calibration, one.mix)
    members = on.coldest_c.shape[1]
    strong_h = (
        np.full(members, np.inf) if on.bound_mpa is None else crossing_h(on.bound_hours, on.bound_mpa, STRONG_MPA)
    )
    # What is not known is not warm.
    cold = (on.hours[:, None] < strong_h) & ~(on.coldest_c > COLD_C)
    load_h = np.sort(Waits(on, one.plan).operation(LOAD)) if LOAD in one.plan else np.full(members, np.inf)
    middle_h = float(load_h[-(-members // 2) - 1])
    load_ms = one.earned.through_ms + round(middle_h * HOUR_MS) if np.isfinite(middle_h) else None
    coldest_c = float(np.median(on.coldest_c.min(axis=0)))
    return Stripped(float(np.mean(cold.any(axis=0))), coldest_c, load_ms)
