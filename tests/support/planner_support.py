"""Pours that are not placed yet, and an answer to them that needs no heat model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from cure.forecast import HORIZON_H, NEVER, Course, Expected, Forecast, Governs, Point, Slabwork, Spread, Weather
from cure.hydration import CLASSES, hydration_of
from cure.planned import Judged
from cure.plans import PLANS
from shared.models.base import HOUR_MS, STRIP, Ms, PourId, SensorId
from shared.models.calibration import Calibration, ExponentialParameters
from shared.models.setup import MixSettings

MONDAY_MS: Final[Ms] = 1_795_435_200_000
"""2026-11-23, 08:00 at Halifax: the first concrete."""
MIX: Final = MixSettings(id="c32-f", supplementary=False)
CALIBRATION: Final = Calibration(
    mix="c32-f", version=1, made_on="2026-10-19", curve="exponential",
    parameters=ExponentialParameters(su_mpa=42.53, tau_h=29.67, beta=0.804),
    covariance=((1.093, 1.093, -0.0195), (1.093, 1.24, -0.0234), (-0.0195, -0.0234, 0.0005)),
    degrees_of_freedom=21, tested_from_h=10.0, tested_to_h=672.0,
)  # fmt: skip
JUDGED: Final = Judged(PLANS["common-practice"], CALIBRATION, MIX)
CERTAIN: Final = Spread(*[0.0] * 11)


def weather(low_c: float, high_c: float, hours: int = 200, *, sure: bool = False) -> Weather:
    """Return days that are alike, the coldest hour at six in the morning."""
    at = MONDAY_MS + HOUR_MS * np.arange(-8, hours)
    swing = -np.cos(2.0 * np.pi * (np.arange(-8, hours) + 2.0) / 24.0)
    air = 0.5 * (low_c + high_c) + 0.5 * (high_c - low_c) * swing
    ones = np.ones(len(at))
    sd = 0.0 if sure else 1.5
    return Weather(at, air, 3 * ones, 70 * ones, 0 * ones, 0.5 * ones, sd * ones, sd / 2, MONDAY_MS, "invented")


def pour(over: Weather, spread: Spread | None = None, name: str = "p") -> Slabwork:
    """Return a pour of two hours of a slab of 100 mm with one sensor in its middle."""
    hydration = hydration_of(CLASSES["I"], 360.0, 0.5)
    points = (Point(SensorId("lg-01.1"), 0.5),)
    placed_ms, end_ms = MONDAY_MS + HOUR_MS, MONDAY_MS + 2 * HOUR_MS
    return Slabwork(
        PourId(name), placed_ms, end_ms, 100.0, hydration, 18.0, over, points, spread=spread or Spread()
    )  # fmt: skip


def answering(
    hours_of: Callable[[Slabwork], Sequence[float]], freezing: Callable[[Slabwork], float] = lambda _: 0.0
) -> Callable[[Sequence[Slabwork], Sequence[Judged]], list[Forecast]]:
    """Return what foresees the strip of a pour at given hours after its end, one a member; infinite: never."""

    def one(work: Slabwork) -> Forecast:
        hours = np.sort(np.array(hours_of(work), float))
        members = np.where(np.isfinite(hours), work.end_ms + hours * HOUR_MS, NEVER)
        times, flat = work.placed_ms + HOUR_MS * np.arange(3), np.zeros(3)
        course = Course(flat, flat, flat)
        expected = Expected(STRIP, members, {Governs.STRENGTH: 1.0}, {})
        # As far as is foreseen, or as the weather goes.
        horizon_ms = min(work.end_ms + HORIZON_H * HOUR_MS, int(work.weather.hours_ms[-1]))
        return Forecast(
            work.pour, work.weather.issued_ms, work.placed_ms, horizon_ms, {STRIP: expected}, freezing(work),
            times, course, course, course,
        )  # fmt: skip

    return lambda works, _: [one(work) for work in works]
