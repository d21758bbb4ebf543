"""What the planner proposes, tried on virtual slabs of another model."""

from __future__ import annotations

import math

import numpy as np

from cure.plan_case import Told, judged_by
from cure.planner import Protection
from deploy.bench.protecting import (
    QUARTER_MS,
    SEEDS,
    SPOTS,
    WANTED_SEEDS,
    forecast,
    line,
    stripped_ms,
    trials,
    true_sky,
)
from deploy.demo.scenario import SITE_FILE, monday
from deploy.demo.weather import weather
from shared.models.base import HOUR_MS, BayId
from shared.sitefile import load


def test_what_is_proposed_is_tried_and_mostly_does_it() -> None:
    found = trials()
    proposed = [t for t in found if t.proposed is not None]
    assert len(proposed) == SEEDS == 20
    assert all(t.chance is not None and t.chance >= 0.8 and t.proposed != Protection() for t in proposed)
    met = sum(t.met is True for t in proposed)
    assert met >= WANTED_SEEDS == 16
    assert line(found).startswith(f"{met} of 20 met the wanted hour")


def test_the_strip_is_judged_by_the_coldest_sensor_and_its_warm_hours() -> None:
    judged = judged_by(load(SITE_FILE), Told(BayId("2-b1"), monday(8)))
    times = monday(10) + QUARTER_MS * np.arange(200)
    warm = np.full((200, len(SPOTS)), 18.0)
    assert stripped_ms(times, warm, judged) == monday(34)
    # Two hours at 4 degC of one sensor are lost, with the quarters beside them.
    cold = warm.copy()
    cold[20:28, 1] = 4.0
    assert stripped_ms(times, cold, judged) == monday(34) + 9 * QUARTER_MS
    assert stripped_ms(times, np.full_like(warm, 3.0), judged) == math.inf
    # The hour before the strip must be warm.
    late = warm.copy()
    late[95, 0] = 4.0
    assert stripped_ms(times, late, judged) == monday(34) + 4 * QUARTER_MS


def test_the_weather_that_comes_is_the_forecast_with_an_error_of_its_spread() -> None:
    told = forecast(monday(8))
    at = monday(8) + 30 * HOUR_MS
    off = [true_sky(np.random.default_rng(seed), told)(at).air_c - weather(at).air_c for seed in range(300)]
    # Of 2.0 degC after a day, and a bias of 0.7: 2.1, to within the scatter of 300.
    assert abs(float(np.mean(off))) < 0.35
    assert 1.85 < float(np.std(off)) < 2.4
