"""The weather of a plan."""

from __future__ import annotations

import numpy as np
import pytest

from cure.plan_weather import days_alike
from shared.errors import PlanError
from shared.models.base import DAY_MS, HOUR_MS

MONDAY_MS = 1_795_435_200_000
"""2026-11-23, 08:00 at Halifax."""


def test_days_that_are_alike_swing_between_low_and_high_by_the_sites_clock() -> None:
    hours = (MONDAY_MS, MONDAY_MS + 3 * DAY_MS)
    found = days_alike(-2.0, 6.0, 3.0, "America/Halifax", hours, MONDAY_MS)
    assert found.hours_ms[0] <= MONDAY_MS - HOUR_MS
    assert found.hours_ms[-1] >= hours[1]
    at = dict(zip(found.hours_ms.tolist(), found.air_c, strict=True))
    assert at[MONDAY_MS + 22 * HOUR_MS] == pytest.approx(-2.0)
    assert at[MONDAY_MS + 10 * HOUR_MS] == pytest.approx(6.0)
    assert np.all(found.sun_w_per_m2 == 0.0)
    assert found.doubts == ("no forecast: days that are all alike",)


@pytest.mark.parametrize("wrong", [(6.0, -2.0, 3.0), (-60.0, 0.0, 3.0), (0.0, 60.0, 3.0), (0.0, 5.0, -1.0)])
def test_days_that_cannot_be_are_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(PlanError, match="days have a low"):
        days_alike(*wrong, "America/Halifax", (MONDAY_MS, MONDAY_MS + DAY_MS), MONDAY_MS)
