from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from cure_support import placed, series

from cure.credit import SensorTrack
from cure.weather import AirDay, air_days, cold_by_days, cold_by_fall, cold_log, hot
from shared.models.base import HOUR_MS
from shared.models.readings import Series
from shared.models.setup import Zone

SITE = "America/Halifax"
MIDNIGHT = round(datetime(2026, 1, 5, 4, tzinfo=UTC).timestamp() * 1000)
"""Of the site."""


def air(at_c: Callable[[float], float], days: float, every_h: float = 0.5) -> Series:
    hours = np.arange(0.0, days * 24.0 + every_h / 2, every_h)
    return series([MIDNIGHT + round(h * HOUR_MS) for h in hours], [at_c(h) for h in hours])


def whole_days(at_c: Callable[[float], float], days: int) -> list[AirDay]:
    return air_days(air(at_c, days), SITE, MIDNIGHT, MIDNIGHT + days * 24 * HOUR_MS)


def wave(mean_c: float, swing_c: float) -> Callable[[float], float]:
    return lambda h: mean_c - swing_c * math.cos(2 * math.pi * h / 24.0)


def test_the_mean_of_a_day_is_that_of_its_high_and_low_by_the_days_of_the_site() -> None:
    days = whole_days(wave(3.0, 8.0), 2)
    assert [d.day.isoformat() for d in days] == ["2026-01-05", "2026-01-06"]
    assert (days[0].low_c, days[0].high_c) == (-5.0, 11.0)
    assert days[0].mean_c == pytest.approx(3.0)
    assert 0.0 < days[0].warm_h < 6.0


def test_it_is_cold_weather_from_the_fourth_cold_day_on() -> None:
    # ACI 306R-88, as PCA gives it (read in a summary): more than 3 successive days.
    for days in range(6):
        assert cold_by_days(whole_days(wave(3.0, 4.0), days)) is (days >= 4)


def test_a_mean_of_five_degrees_or_a_warm_half_is_no_cold_day() -> None:
    assert not cold_by_days(whole_days(wave(5.0, 4.0), 5))
    # Above 10 degC for 14 h, and far below for the rest: mean below 5 degC and still no cold day.
    assert not cold_by_days(whole_days(lambda h: 10.5 if h % 24 >= 10 else -8.0, 5))
    assert cold_by_days(whole_days(lambda h: 10.5 if h % 24 >= 13 else -8.0, 5))


def test_one_mild_day_begins_the_count_again() -> None:
    cold, mild = whole_days(wave(3.0, 4.0), 1)[0], whole_days(wave(9.0, 4.0), 1)[0]
    assert not cold_by_days([cold, cold, mild, cold, cold, cold])
    assert cold_by_days([mild, cold, cold, cold, cold])


@pytest.mark.row("E3")
def test_a_day_with_a_hole_in_its_record_counts_as_cold() -> None:
    record = air(wave(15.0, 4.0), 1)
    left = (record.taken_ms < MIDNIGHT + 6 * HOUR_MS) | (record.taken_ms > MIDNIGHT + 9 * HOUR_MS)
    holed = Series(record.taken_ms[left], record.milli_c[left])
    (day,) = air_days(holed, SITE, MIDNIGHT, MIDNIGHT + 24 * HOUR_MS)
    assert math.isnan(day.mean_c)
    assert day.cold
    assert not air_days(record, SITE, MIDNIGHT, MIDNIGHT + 24 * HOUR_MS)[0].cold


def test_a_day_of_23_hours_is_a_day() -> None:
    spring = round(datetime(2026, 3, 8, 4, tzinfo=UTC).timestamp() * 1000)
    record = series([spring + h * HOUR_MS for h in range(24)], [2.0] * 24)
    (day,) = air_days(record, SITE, spring, spring + 23 * HOUR_MS)
    assert (day.day.isoformat(), day.mean_c) == ("2026-03-08", 2.0)


@pytest.mark.parametrize(
    ("lows_c", "cold"),
    [((5.0, 7.0), False), ((4.9, 7.0), True), ((8.0, 4.0), True), ((8.0, None), True), ((math.nan, 8.0), True)],
)
def test_it_is_cold_weather_once_air_has_fallen_or_may_fall_below_five_degrees(
    lows_c: tuple[float | None, ...], cold: bool
) -> None:
    # ACI 306R-16 (read in a summary): 40 degF; 5 degC is the stricter.
    assert cold_by_fall(lows_c) is cold


def tracks() -> tuple[SensorTrack, ...]:
    top = SensorTrack(placed("lg-01.1", Zone.TOP), air(lambda h: 10.0 - 0.25 * h, 1), None)
    inside = SensorTrack(placed("lg-01.2", Zone.INTERIOR), air(lambda h: 20.0 - 0.25 * h, 1), None)
    return top, inside


def test_the_log_of_cold_weather_has_two_lines_a_day_with_air_surface_and_extremes() -> None:
    lines = cold_log(tracks(), air(lambda _: -3.0, 1), SITE, MIDNIGHT, MIDNIGHT + 24 * HOUR_MS)
    assert [(line.at_ms - MIDNIGHT) / HOUR_MS for line in lines] == [8.0, 16.0]
    assert [(line.air_c, line.surface_c, line.low_c, line.high_c) for line in lines] == [
        (-3.0, 8.0, 8.0, 20.0),
        (-3.0, 6.0, 6.0, 20.0),
    ]


def test_without_a_top_sensor_the_coldest_stands_for_the_surface() -> None:
    inside = tracks()[1]
    colder = replace(inside, raw=Series(inside.raw.taken_ms, inside.raw.milli_c - 2000))
    lines = cold_log((inside, colder), None, SITE, MIDNIGHT, MIDNIGHT + 12 * HOUR_MS)
    assert [line.surface_c for line in lines] == [16.0]
    assert math.isnan(lines[0].air_c)


@pytest.mark.row("E3")
def test_a_line_of_the_log_without_readings_in_the_hour_is_not_known() -> None:
    lines = cold_log(tracks(), air(lambda _: 1.0, 1), SITE, MIDNIGHT, MIDNIGHT + 48 * HOUR_MS)
    assert [math.isnan(line.surface_c) for line in lines] == [False, False, True, True]
    assert [math.isnan(line.high_c) for line in lines] == [False, False, False, False]
    silent = SensorTrack(placed("lg-01.3", Zone.TOP), series([], []), None)
    assert math.isnan(cold_log((*tracks(), silent), None, SITE, MIDNIGHT, MIDNIGHT + 12 * HOUR_MS)[0].surface_c)
    assert math.isnan(cold_log((), None, SITE, MIDNIGHT, MIDNIGHT + 12 * HOUR_MS)[0].low_c)


def test_hot_weather_is_told_by_the_limits_that_are_not_kept() -> None:
    assert hot(35.0, 0.6, little_bleeding=False) == ()
    assert hot(35.1, 1.1, little_bleeding=False) == ("as delivered", "evaporation")
    assert hot(30.0, 0.6, little_bleeding=True) == ("evaporation, little bleeding",)
    assert hot(math.nan, math.nan, little_bleeding=False) == ("as delivered", "evaporation")
