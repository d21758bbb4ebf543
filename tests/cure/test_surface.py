"""How far a slab is from its air, and how fast it cools."""

from __future__ import annotations

import math

import pytest
from cure_support import END_MS, placed, series
from hypothesis import given
from hypothesis import strategies as st

from cure.credit import SensorTrack
from cure.surface import LONGEST_HOLE_MS, drop_c, surface_from_air_c
from shared.models.base import HOUR_MS
from shared.models.readings import Series
from shared.models.setup import Zone

NOW = END_MS + 48 * HOUR_MS


def at_hours(*readings: tuple[float, float]) -> Series:
    return series([NOW + round(h * HOUR_MS) for h, _ in readings], [c for _, c in readings])


def track(zone: Zone, *readings: tuple[float, float], sensor: str = "lg-01.1") -> SensorTrack:
    return SensorTrack(placed(sensor, zone), at_hours(*readings), None)


def apart(tops: list[float], air: list[tuple[float, float]], zone: Zone = Zone.TOP, age_h: float = 0.0) -> float:
    tracks = tuple(track(zone, (-age_h, c), sensor=f"lg-0{i}.1") for i, c in enumerate(tops))
    return surface_from_air_c(tracks, at_hours(*air) if air else None, NOW)


def test_the_surface_is_as_far_from_the_air_as_its_farthest_sensor_in_the_last_hour() -> None:
    assert apart([15.0], [(-0.25, 5.0), (0.0, 6.0)]) == 10.0
    assert apart([15.0, 17.0], [(-0.25, 5.0), (0.0, 6.0)]) == 12.0
    assert apart([15.0], [(-2.0, -5.0), (0.0, 6.0)]) == 9.0


def test_a_surface_colder_than_the_air_is_apart_from_it_too() -> None:
    assert apart([2.0], [(0.0, 20.0)]) == 18.0


def test_where_a_top_is_measured_it_speaks_for_the_surface_alone() -> None:
    inside, top = track(Zone.INTERIOR, (0.0, 25.0)), track(Zone.TOP, (0.0, 12.0), sensor="lg-01.2")
    air = at_hours((0.0, 5.0))
    assert surface_from_air_c((inside, top), air, NOW) == 7.0
    assert surface_from_air_c((inside,), air, NOW) == 20.0


@pytest.mark.row("E3", "M3")
@pytest.mark.parametrize("air", [[], [(-1.1, 5.0)]])
def test_without_the_air_of_the_last_hour_nothing_is_known(air: list[tuple[float, float]]) -> None:
    assert math.isnan(apart([10.0], air))


@pytest.mark.row("E3", "M3")
def test_without_every_top_in_the_last_hour_nothing_is_known() -> None:
    assert math.isnan(apart([], [(0.0, 5.0)]))
    assert math.isnan(apart([10.0], [(0.0, 5.0)], age_h=1.1))
    silent = SensorTrack(placed("lg-07.1", Zone.TOP), at_hours(), None)
    assert math.isnan(surface_from_air_c((silent, track(Zone.TOP, (0.0, 9.0))), at_hours((0.0, 5.0)), NOW))


def test_the_drop_is_from_the_warmest_down_to_whatever_came_after_it() -> None:
    cooled = track(Zone.TOP, (-3, 10.0), (-2, 30.0), (-1, 12.0), (0, 15.0))
    assert drop_c((cooled,), 24.0) == 18.0
    assert drop_c((cooled, track(Zone.EXPOSED_EDGE, (-1, 20.0), (0, 1.0))), 24.0) == 19.0


def test_what_was_before_the_window_is_not_in_it_but_what_it_begins_in_is() -> None:
    cooled = track(Zone.TOP, (-4, 40.0), (-3, 30.0), (-1, 12.0), (0, 12.0))
    assert drop_c((cooled,), 2.0) == 18.0
    assert drop_c((cooled,), 0.5) == 0.0
    assert drop_c((cooled,), 24.0) == 28.0


@pytest.mark.row("E1", "E3")
def test_a_long_hole_may_hide_how_warm_it_was() -> None:
    hole_h = LONGEST_HOLE_MS / HOUR_MS
    assert drop_c((track(Zone.TOP, (-hole_h, 30.0), (0, 20.0)),), 24.0) == 10.0
    assert math.isnan(drop_c((track(Zone.TOP, (-hole_h - 0.01, 30.0), (0, 20.0)),), 24.0))


@pytest.mark.row("E3")
def test_of_a_sensor_that_said_nothing_no_drop_is_known() -> None:
    whole = track(Zone.TOP, (-1, 12.0), (0, 12.0))
    nothing = SensorTrack(placed("lg-07.1", Zone.TOP), at_hours(), None)
    assert math.isnan(drop_c((), 24.0))
    assert math.isnan(drop_c((whole, nothing), 24.0))
    assert math.isnan(drop_c((nothing, whole), 24.0))


@given(st.lists(st.integers(-20_000, 60_000), min_size=1, max_size=60), st.floats(0.5, 30.0))
def test_a_longer_window_never_shows_a_smaller_drop_and_warming_is_none(milli_c: list[int], hours: float) -> None:
    readings = [(0.25 * (i - len(milli_c) + 1), c / 1000.0) for i, c in enumerate(milli_c)]
    short, long = (drop_c((track(Zone.TOP, *readings),), h) for h in (hours, 2 * hours))
    assert 0.0 <= short <= long
    warming = [(h, c) for (h, _), c in zip(readings, sorted(c for _, c in readings), strict=True)]
    assert drop_c((track(Zone.TOP, *warming),), hours) == 0.0
