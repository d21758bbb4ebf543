from __future__ import annotations

import pytest
from cure_support import END_MS, placed, recorded, series
from hypothesis import given
from hypothesis import strategies as st

from cure.condition import apart, hottest, steepest
from cure.credit import SensorTrack
from shared.models.base import HOUR_MS
from shared.models.setup import Zone


def track(*readings: tuple[float, float], sensor: str = "lg-01.1") -> SensorTrack:
    raw = series([END_MS + round(h * HOUR_MS) for h, _ in readings], [c for _, c in readings])
    return SensorTrack(placed(sensor, Zone.INTERIOR), raw, None)


def test_the_hottest_is_that_of_any_sensor_at_any_hour() -> None:
    found = hottest([track((0, 20.0), (5, 70.0), (9, 30.0)), track((0, 69.0), sensor="lg-01.2")])
    assert (found.found_c, found.sensor, found.kept) == (70.0, "lg-01.1", True)
    assert not hottest([track((1, 70.001))]).kept


@pytest.mark.parametrize(("thickness_mm", "kept"), [(100, True), (299, True), (300, False), (1000, False)])
def test_the_drop_is_held_against_the_limit_of_the_thickness(thickness_mm: float, kept: bool) -> None:
    # ACI 306.1, thin members (read in a summary): 28 degC; ACI 306R, 300 mm and more (from memory): 22 degC.
    found = steepest(
        [track((1, 40.0), (10, 15.0)), track((1, 20.0), (10, 20.0), sensor="lg-01.2")], END_MS, thickness_mm
    )
    assert (found.found_c, found.sensor, found.kept) == (25.0, "lg-01.1", kept)


def test_a_drop_counts_within_24_h_and_after_the_end_of_the_pour_alone_and_its_low_need_not_be_the_last() -> None:
    assert steepest([track((-1, 50.0), (1, 20.0), (2, 19.0))], END_MS, 100).found_c == 1.0
    assert steepest([track((0, 50.0), (20, 22.0), (30, 20.0))], END_MS, 100).found_c == 2.0
    assert steepest([track((1, 50.0), (10, 21.0), (12, 30.0))], END_MS, 100).found_c == 29.0


def test_sensors_are_apart_by_their_newest_readings_after_the_end_of_the_pour() -> None:
    cold, warm = track((1, 30.0), (2, 10.0)), track((2, 30.5), sensor="lg-01.2")
    before = track((-1, 60.0), sensor="lg-01.3")
    found = apart([cold, warm, before], END_MS)
    assert (found.found_c, found.sensor, found.kept) == (20.5, None, False)
    assert apart([before], END_MS).found_c == 0.0


@given(st.floats(-5, 60), st.floats(0, 40))
def test_a_steady_slab_has_no_drop_and_nothing_apart(c: float, hours: float) -> None:
    steady = SensorTrack(placed("lg-01.1", Zone.TOP), recorded(c, hours), None)
    assert steepest([steady], END_MS, 100).found_c == 0.0
    assert apart([steady], END_MS).found_c == 0.0
