from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, make_case, series
from store_support import AIR, EDGE, END, INSIDE

from cure.condition_seen import Given, Observed, observed
from cure.condition_table import Kept, Row
from cure.condition_weather import cold_weather, drying_now
from shared.models.base import HOUR_MS, SensorId
from shared.models.readings import Series
from shared.models.setup import Zone

NOW_H = 24.0
"""Hours after the end of the pour, which is at 13:00 of the site."""


def half_hourly(c: float | Callable[[float], float], from_h: float, to_h: float = NOW_H) -> Series:
    hours = np.arange(from_h, to_h + 0.25, 0.5)
    at = c if callable(c) else lambda _: c
    return series([END_MS + round(h * HOUR_MS) for h in hours], [at(h) for h in hours])


def looked(air: Series | None, concrete_c: Mapping[SensorId, float] | float = 18.0, **changes: Any) -> Observed:
    at = concrete_c if isinstance(concrete_c, Mapping) else dict.fromkeys(CONCRETE, concrete_c)
    readings = {sensor: half_hourly(c, -1) for sensor, c in at.items()}
    if air is not None:
        readings[AIR] = air
    placements = [p for p in make_case().placements if air is not None or p.sensor != AIR]
    case = make_case(**{"placements": tuple(placements), **changes})
    now_ms = END_MS + round(NOW_H * HOUR_MS)
    return observed(case, readings, [], now_ms, elapsed_ms=round(NOW_H * HOUR_MS))


def cold(air: Series | None) -> tuple[Row, Row]:
    older, newer = cold_weather(looked(air))
    return older, newer


def test_a_warm_dry_windy_afternoon_dries_as_worked_through_by_hand() -> None:
    # 30 degC concrete, 25 degC air, 50 %, 20 km/h: 5e-6 (48^2.5 - 0.5 x 43^2.5) 24 = 1.19 kg/m2 h.
    usual, little, _, _ = drying_now(looked(half_hourly(25.0, -1), 30.0), Given(50.0, 20.0 / 3.6))
    # The higher of both warns: Menzel gives 0.315 (4.23 - 0.5 x 3.16) (0.253 + 1.2) = 1.22.
    assert usual.value == pytest.approx(1.22, abs=0.01)
    assert (usual.kept, little.kept) == (Kept.NOT_KEPT, Kept.NOT_KEPT)
    assert "(Menzel 1.22, Uno 1.19)" in usual.found
    assert usual.limit == "at most 1.00 kg/m2 h (0.20 lb/ft2 h)"
    calm, little, _, _ = drying_now(looked(half_hourly(25.0, -1), 30.0), Given(50.0, 8.0 / 3.6))
    assert (calm.kept, little.kept) == (Kept.KEPT, Kept.NOT_KEPT)


def test_the_warmest_top_sensor_and_the_newest_air_are_what_dries() -> None:
    top = tuple(replace(p, zone=Zone.TOP) if p.sensor == END else p for p in make_case().placements)
    o = looked(
        half_hourly(lambda h: 17.0 if h < 24 else 15.0, -1), {EDGE: 30.0, INSIDE: 30.0, END: 20.0}, placements=top
    )
    same = looked(half_hourly(15.0, -1), 20.0)
    given = Given(50.0, 4.0)
    assert next(drying_now(o, given)).value == next(drying_now(same, given)).value


@pytest.mark.row("E3")
@pytest.mark.parametrize(
    ("given", "air_h", "why"),
    [
        (Given(), NOW_H, "nobody told the humidity, nobody told the wind"),
        (Given(humidity_percent=60.0), NOW_H, "nobody told the wind"),
        (Given(60.0, 3.0), NOW_H - 2, "the bay's air has not been read in the last hour"),
        (Given(60.0, 3.0), None, "the bay has no air sensor"),
    ],
)
def test_drying_that_is_not_known_says_what_to_say(given: Given, air_h: float | None, why: str) -> None:
    o = looked(None if air_h is None else half_hourly(20.0, -1, air_h))
    usual, little, _, _ = drying_now(o, given)
    assert (usual.kept, usual.value, usual.found) == (Kept.NOT_KNOWN, None, f"not known: {why}")
    assert (little.kept, little.value) == (Kept.NOT_KNOWN, None)


def test_a_silent_top_sensor_leaves_the_surface_not_known() -> None:
    o = looked(half_hourly(20.0, -1))
    late = replace(o, now_ms=o.now_ms + 2 * HOUR_MS)
    assert "not every sensor at the surface" in next(drying_now(late, Given(60.0, 3.0))).found


@pytest.mark.parametrize(
    ("delivered_c", "wind", "kept", "said"),
    [
        (35.0, 1.0, Kept.KEPT, "both limits are kept"),
        (35.1, 1.0, Kept.NOT_KEPT, "care is asked for: as delivered"),
        (35.1, 9.0, Kept.NOT_KEPT, "care is asked for: as delivered, evaporation"),
        (None, 9.0, Kept.NOT_KEPT, "care is asked for: evaporation"),
        (None, 1.0, Kept.NOT_KNOWN, "not known: as delivered"),
        (35.0, None, Kept.NOT_KNOWN, "not known: evaporation"),
    ],
)
def test_hot_weather_is_told_by_the_limits_that_are_not_kept(
    delivered_c: float | None, wind: float | None, kept: Kept, said: str
) -> None:
    # ACI 305.1-14: 35 degC as delivered (read in a summary).
    o = looked(half_hourly(25.0, -1), 30.0)
    *_, delivered, hot = drying_now(o, Given(50.0, wind, delivered_c))
    assert (hot.kept, hot.found) == (kept, said)
    assert (delivered.kept is Kept.NOT_KNOWN) == (delivered_c is None)


def wave(mean_c: float) -> Callable[[float], float]:
    # The coldest hour of the site is its midnight, eleven hours after the end of the pour.
    return lambda h: mean_c - 3.0 * math.cos(2 * math.pi * (h - 11.0) / 24.0)


def test_four_cold_days_are_cold_weather_by_both_definitions() -> None:
    # ACI 306R-88, as PCA gives it, and ACI 306R-16 (both read in a summary).
    older, newer = cold(half_hourly(wave(3.0), -24 * 6))
    assert (older.kept, newer.kept) == (Kept.NOT_KEPT, Kept.NOT_KEPT)
    assert older.found.startswith("cold weather: 2025-11-21 ")
    assert older.found.count("3.0 °C") + older.found.count("2.9 °C") == 4
    assert newer.found.startswith("cold weather: 0.0 °C (32.0 °F), last night 0.0 °C")


def test_one_mild_day_and_it_is_no_cold_weather_by_the_older_definition_and_still_is_by_the_newer() -> None:
    older, newer = cold(half_hourly(lambda h: wave(12.0)(h) if -37 <= h < -13 else wave(3.0)(h), -24 * 6))
    assert older.found.startswith("no cold weather: ")
    assert (older.kept, newer.kept) == (Kept.KEPT, Kept.NOT_KEPT)


def test_mild_air_is_no_cold_weather_by_either() -> None:
    older, newer = cold(half_hourly(wave(14.0), -24 * 6))
    assert (older.kept, newer.kept) == (Kept.KEPT, Kept.KEPT)
    assert newer.found == "no cold weather: 11.0 °C (51.8 °F), last night 11.0 °C (51.8 °F)"


@pytest.mark.row("E3")
def test_weather_that_is_not_known_says_so_and_counts_as_cold() -> None:
    for row in cold(None):
        assert (row.kept, row.found) == (
            Kept.NOT_KNOWN, "not known, counts as cold weather: the bay has no air sensor",
        )  # fmt: skip
    mild = half_hourly(wave(14.0), -1)
    older, newer = cold(mild)
    # Before the pour nobody measured: three of the days are not known, and one whole day was mild.
    assert older.kept is Kept.NOT_KNOWN
    assert older.found.count("not known") == 5
    assert newer.kept is Kept.KEPT
    left = (mild.taken_ms < END_MS + 2 * HOUR_MS) | (mild.taken_ms > END_MS + 5 * HOUR_MS)
    assert cold(Series(mild.taken_ms[left], mild.milli_c[left]))[1].kept is Kept.NOT_KNOWN


@pytest.mark.row("E3")
def test_a_hole_does_not_hide_air_that_was_read_to_be_cold() -> None:
    cool = half_hourly(4.0, -1)
    left = (cool.taken_ms < END_MS + 2 * HOUR_MS) | (cool.taken_ms > END_MS + 8 * HOUR_MS)
    assert cold(Series(cool.taken_ms[left], cool.milli_c[left]))[1].kept is Kept.NOT_KEPT
