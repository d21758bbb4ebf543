"""Cold delay: the plain comparison of counted hours with the clock, and the present rate. (The forecast comes later.)

Told in the unit the site lives in: when the hour moves to a later shift than the plan's own clock hours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.accumulate import NOMINAL, Law
from cure.bay import BayEvidence
from cure.bound import estimate_mpa
from cure.requirements import Condition, clock_rule, strength_rule
from cure.strength import CURVES
from shared.models.base import HOUR_MS, Ms
from shared.shifts import running_or_next

COLD_HOURS_WORTH_TELLING: Final = 1.0
"""Below the limit since the end of the pour (our judgement)."""
UNREAD_HOURS_WORTH_TELLING: Final = 0.5


@dataclass(frozen=True, slots=True)
class Delay:
    """When an operation may come, against the plan's own clock hours."""

    plan_ms: Ms
    expected_ms: Ms | None
    """None: not while it stays as it is."""
    counted_h: float
    clock_h: float
    limit_c: float
    coldest_c: float | None
    cause: str


def _hours_to_strength(evidence: BayEvidence, required_mpa: float) -> float:
    """Return the hours until the bound is there at the present temperature; infinite: never as it is."""
    governing, calibration = evidence.governing(), evidence.case.calibration
    if governing is None or calibration is None:
        return math.inf
    sensor, sums = governing
    bound, age_h = evidence.lower_bound_mpa(), float(sums[0, NOMINAL])
    if bound >= required_mpa:
        return 0.0
    estimate = float(estimate_mpa(sums, calibration)[0])
    # The bound keeps its share of the estimate; before there is a bound, the common factor stands for it.
    share = bound / estimate if bound > 0.0 and estimate > 0.0 else 0.75
    needed_h = CURVES[calibration.curve].age_h(required_mpa / share, calibration.parameters)
    now_c = np.array([float(sensor.raw.milli_c[-1]) / 1000.0])
    rate = float(Law.of(calibration).rate(now_c)[0])
    return (max(needed_h, calibration.tested_from_h) - age_h) / rate if rate > 0.0 else math.inf


def delay(evidence: BayEvidence, condition: Condition) -> Delay | None:
    """Return the delay that cold makes, or None: no clock rule, no end of pour, not cold, or no later shift."""
    clock, strength, end_ms = clock_rule(condition), strength_rule(condition), evidence.case.pour.end_ms
    if clock is None or end_ms is None or evidence.watermark_ms is None:
        return None
    clock_h = (evidence.watermark_ms - end_ms) / HOUR_MS
    counted_h = evidence.counted_h(clock.at_c)
    coldest_c = evidence.coldest_now_c()
    if not math.isfinite(counted_h) or coldest_c is None:
        return None
    below, cold_h = coldest_c < clock.at_c, evidence.cold_h(clock.at_c)
    if not below and cold_h < COLD_HOURS_WORTH_TELLING:
        return None
    missing_h = max(0.0, clock.hours - counted_h)
    wait_h = math.inf if below else missing_h
    if strength is not None:
        wait_h = max(wait_h, _hours_to_strength(evidence, strength.mpa))
    plan_ms = end_ms + round(clock.hours * HOUR_MS)
    expected_ms = None if math.isinf(wait_h) else evidence.watermark_ms + round(wait_h * HOUR_MS)
    site = evidence.case.site.site
    planned = running_or_next(plan_ms, site.shift, site.zone).begins_ms
    if expected_ms is not None and running_or_next(expected_ms, site.shift, site.zone).begins_ms <= planned:
        return None
    cause = f"concrete below the limit: {cold_h:.1f} h so far"
    unread_h = clock_h - counted_h - cold_h
    if unread_h >= UNREAD_HOURS_WORTH_TELLING:
        cause += f"; without readings: {unread_h:.1f} h"
    return Delay(plan_ms, expected_ms, counted_h, clock_h, clock.at_c, coldest_c, cause)
