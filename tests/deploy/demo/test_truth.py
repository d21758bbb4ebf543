from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from demo_support import slabs
from scipy.optimize import brentq

from deploy.demo import truth as module
from deploy.demo.loggers import site
from deploy.demo.scenario import CLOSE_MS, FIRST_MS, OPEN_MS, SLABS, Spot
from deploy.demo.truth import CELLS, STEP_MS, Truth, hydration, rate, simulate, strength_mpa
from deploy.demo.weather import Weather, weather
from shared.models.base import HOUR_MS, Ms

SHORT = SLABS[:2]
END = FIRST_MS + 14 * HOUR_MS


def warmer(at: Ms) -> Weather:
    return replace(weather(at), air_c=weather(at).air_c + 2.0)


def test_the_truth_knows_nothing_of_the_estimator() -> None:
    for name in ("truth.py", "weather.py", "scenario.py"):
        tree = ast.parse(Path(module.__file__).with_name(name).read_text(encoding="utf-8"))
        modules = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
        modules += [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]
        assert not [m for m in modules if m.split(".")[0] in {"cure", "ingest", "alerts"}], name


def test_what_is_stored_is_what_was_made_less_what_was_lost() -> None:
    h = simulate(SHORT, FIRST_MS, END)
    assert h.heat_j_per_m2.sum() > 1e6
    scale = np.abs(h.heat_j_per_m2).max()
    np.testing.assert_allclose(h.stored_j_per_m2, h.heat_j_per_m2 - h.lost_j_per_m2, rtol=0.0, atol=1e-9 * scale)


def test_the_heat_made_is_that_of_the_hydration_reached() -> None:
    h = simulate(SHORT, FIRST_MS, END)
    for column in range(len(SHORT) * len(Spot)):
        cell_m = SHORT[column // len(Spot)].thickness_mm / 1000.0 / CELLS
        reached = hydration(h.age_h[-1, column]).sum() * cell_m * 470e3 * 360.0
        assert h.heat_j_per_m2[:, column].sum() == pytest.approx(float(reached), rel=1e-9)


def test_old_concrete_cools_at_the_pace_of_the_slowest_mode_of_a_plane_wall() -> None:
    slab, steps = SLABS[0], 120
    columns = module._Columns.of((slab,))
    still = Weather(air_c=10.0, wind_m_per_s=0.0, sky_loss_w_per_m2=0.0, sun_w_per_m2=0.0)
    found_c, old_h = np.full((len(Spot), CELLS), 18.0), np.full((len(Spot), CELLS), 1e7)
    excess_c = []
    for _ in range(steps):
        found_c, old_h, _, _ = module._step(
            columns, found_c, old_h, still, np.zeros(len(Spot)), np.full(len(Spot), still.air_c)
        )
        excess_c.append(float(found_c[0].mean()) - 10.0)
    # Plane wall between two films: tan(m) (m^2 - b1 b2) = m (b1 + b2), pace = a (m / L)^2.
    b1, b2 = (film * 0.1 / 1.9 for film in (5.6 + 4.6, 1.0 / (1.0 / 8.0 + 0.165)))
    m = brentq(lambda x: np.tan(x) * (x * x - b1 * b2) - x * (b1 + b2), 0.35, 1.5)
    pace_per_s = 1.9 / 2.35e6 * (m / 0.1) ** 2
    expected = (1.0 + pace_per_s * STEP_MS / 1000.0) ** -(steps - 1 - 24)
    assert excess_c[-1] / excess_c[24] == pytest.approx(expected, rel=0.005)


def test_warmer_weather_never_makes_weaker_concrete() -> None:
    cool, warm = (Truth(SHORT, simulate(SHORT, FIRST_MS, END, sky)) for sky in (weather, warmer))
    for slab in SHORT:
        for at in range(slab.start_ms, END, HOUR_MS):
            assert warm.true_strength_mpa(slab.bay, at) >= cool.true_strength_mpa(slab.bay, at)


def test_the_true_strength_only_grows() -> None:
    for slab in SLABS:
        found = [slabs().true_strength_mpa(slab.bay, at) for at in range(FIRST_MS, CLOSE_MS, HOUR_MS // 2)]
        assert found == sorted(found)
        assert found[-1] > found[0] == 0.0


def test_no_place_of_a_sensor_is_colder_than_the_coldest_point() -> None:
    for slab in SLABS:
        bay = site().bay_named(slab.bay)
        for at in range(slab.end_ms + HOUR_MS, CLOSE_MS, HOUR_MS):
            for spot in (Spot.INTERIOR, Spot.EDGE, Spot.END):
                for depth in (20.0, bay.thickness_mm / 2.0):
                    felt = slabs().temperature_c(slab.bay, spot, depth, at)
                    assert slabs().coldest_c(slab.bay, at) <= felt + 1e-9, (slab.bay, spot, at)


def test_the_weakest_point_is_no_stronger_than_any_place_with_a_sensor() -> None:
    h = simulate(SLABS, FIRST_MS, CLOSE_MS)
    for i in range(len(SLABS)):
        ages = h.age_h[-1, i * len(Spot) : (i + 1) * len(Spot)].min(axis=1)
        assert ages[list(Spot).index(Spot.RIM)] <= ages.min() + 1e-12


def test_the_temperature_law_is_one_at_20_degc_and_nothing_at_frost() -> None:
    np.testing.assert_allclose(rate(np.array([20.0, 0.0, -3.0])), [1.0, 0.0, 0.0])
    # science of 45 kJ/mol: 5 degC earns 0.3695 h an hour, 30 degC 1.8387 h.
    np.testing.assert_allclose(rate(np.array([5.0, 30.0])), [0.3695, 1.8387], rtol=2e-4)


def test_there_is_no_strength_before_setting() -> None:
    assert strength_mpa(np.array([0.0, 5.9, 6.0])).tolist() == [0.0, 0.0, 0.0]


def test_the_first_night_is_mild_and_the_second_near_freezing() -> None:
    first = [weather(FIRST_MS + h * HOUR_MS).air_c for h in range(15, 28)]
    second = [weather(OPEN_MS + h * HOUR_MS).air_c for h in range(13, 20)]
    assert min(first) > 6.0
    assert max(first) < 10.5
    assert max(second) < 2.0
    assert min(second) > 0.5
