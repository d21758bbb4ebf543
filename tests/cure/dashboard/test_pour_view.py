"""What the charts of one pour show, from its case and its readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from charts_support import cold_pour
from cure_support import CONCRETE, END_MS, make_case, recorded
from store_support import AIR, EDGE, make_pour

from cure.dashboard.pour_view import POINTS, PourView, viewed
from cure.forecast import Course, Expected, Forecast
from shared.models.base import HOUR_MS, STRIP


def test_strength_ends_at_the_watermark_with_what_the_evidence_says() -> None:
    view = cold_pour()
    found = view.strength(view.window())
    assert found.at_ms[-1] == view.evidence.watermark_ms
    assert found.lower_bound_mpa[-1] == pytest.approx(view.evidence.lower_bound_mpa())
    assert found.at_ms[0] >= END_MS
    assert len(found.at_ms) <= POINTS


def test_what_each_operation_needs_is_named_as_the_plan_in_force_has_it() -> None:
    view = cold_pour()
    assert view.strength(view.window()).required == (("strip", 3.5), ("walk", 3.5), ("load", 7.0))


def test_tests_of_one_hour_and_method_are_one() -> None:
    view = cold_pour()
    (one,) = view.strength(view.window()).tested
    assert one.mpa == (5.2, 6.6, 6.1)


def test_the_readings_are_shown_as_they_were_read() -> None:
    # Without a sensor at the edge the evidence takes 1.5 degC off; the picture does not.
    case = make_case()
    inner = tuple(p for p in case.placements if p.sensor != EDGE)
    readings = {s: recorded(12.0, 20) for s in CONCRETE}
    view = viewed(replace(case, placements=inner), readings, END_MS + 20 * HOUR_MS, elapsed_ms=20 * HOUR_MS)
    assert {s.placement.sensor: float(s.raw.milli_c[-1]) for s in view.evidence.sensors} == {
        p.sensor: 10_500.0 for p in inner if p.sensor != AIR
    }
    for sensor in view.temperature(view.window()).sensors:
        assert set(sensor.celsius) == {12.0}


@pytest.mark.parametrize(
    ("until_h", "said"),
    [
        (5.75, "lg-01.1: not read for 0.8 h, credited at 5.0 °C (41.0 °F)"),
        (8.0, "lg-01.1: not read for 3.0 h, in its place: air"),
    ],
)
def test_a_gap_says_at_what_it_is_credited_or_what_stands_in(until_h: float, said: str) -> None:
    readings = {s: recorded(12.0, 20, from_h=-1) for s in CONCRETE}
    readings[EDGE] = recorded(12.0, 20, from_h=-1, but=(5, until_h))
    readings[AIR] = recorded(9.0, 20, from_h=-1)
    view = viewed(make_case(), readings, END_MS + 20 * HOUR_MS, elapsed_ms=20 * HOUR_MS)
    (gap,) = view.temperature(view.window()).missing
    assert gap.words == said


def test_a_sensor_that_is_silent_now_has_a_gap_until_now() -> None:
    view = cold_pour()
    assert max(m.to_ms for m in view.temperature(view.window()).missing) == view.now_ms


def test_a_pour_without_an_end_shows_its_temperatures_and_no_strength() -> None:
    case = replace(make_case(), pour=make_pour())
    view = viewed(case, {EDGE: recorded(12.0, 3)}, END_MS + 3 * HOUR_MS, elapsed_ms=None)
    assert len(view.strength(view.window()).at_ms) == 0
    assert len(view.temperature(view.window()).sensors) == 1


def test_without_any_reading_there_is_nothing_and_no_error() -> None:
    view = viewed(make_case(), {}, END_MS + HOUR_MS, elapsed_ms=HOUR_MS)
    assert len(view.strength(view.window()).at_ms) == 0
    assert view.temperature(view.window()).sensors == ()


def test_a_closed_pour_is_shown_until_it_was_closed() -> None:
    case = make_case()
    closed_ms = END_MS + 10 * HOUR_MS
    readings = {s: recorded(12.0, 50) for s in CONCRETE}
    case = replace(case, pour=replace(case.pour, closed_ms=closed_ms))
    view = viewed(case, readings, END_MS + 50 * HOUR_MS, elapsed_ms=50 * HOUR_MS)
    assert view.window().now_ms == closed_ms
    assert max(s.taken_ms.max() for s in view.temperature(view.window()).sensors) <= closed_ms


def test_the_window_is_what_was_asked_for_and_never_empty() -> None:
    view = cold_pour()
    own = view.window(END_MS, END_MS + 24 * HOUR_MS, first="US")
    assert (own.from_ms, own.through_ms, own.first) == (END_MS, END_MS + 24 * HOUR_MS, "US")
    assert view.window(END_MS, END_MS - 5).through_ms > END_MS
    assert view.window().from_ms == view.case.pour.start_ms
    assert view.window().through_ms > view.now_ms


def foreseen(view: PourView, in_h: float | None, *, calibrated: bool = True) -> Forecast:
    """Return a forecast of a strip, and of strength that rises for five days."""
    times = view.now_ms + HOUR_MS * np.arange(121)
    rising = np.linspace(4.0, 20.0, len(times))
    at_ms = np.full(3, np.inf if in_h is None else view.now_ms + in_h * HOUR_MS)
    still = Course(*(np.full(len(times), 8.0),) * 3)
    return Forecast(
        pour=view.case.pour.id,
        issued_ms=view.now_ms,
        through_ms=view.now_ms,
        horizon_ms=int(times[-1]),
        expected={STRIP: Expected(STRIP, at_ms, {}, {})},
        freezing=0.0,
        times_ms=times,
        coldest_c=still,
        governing_c=still,
        bound_mpa=Course(rising - 1.0, rising, rising + 1.0) if calibrated else None,
    )


def test_what_is_foreseen_is_drawn_on_to_the_last_hour_that_is_waited_for() -> None:
    view = cold_pour()
    window = (ahead := replace(view, foreseen=foreseen(view, 6.0))).window()
    assert window.through_ms == view.now_ms + 8 * HOUR_MS
    drawn = ahead.strength(window).forecast
    assert drawn is not None
    assert (drawn.middle_mpa[0], drawn.low_mpa[0], drawn.high_mpa[0]) == (4.0, 3.0, 5.0)
    assert ahead.strength(window).at_ms[-1] <= view.now_ms, "what is foreseen is no evidence"


def test_what_is_foreseen_takes_no_more_room_than_what_was_measured() -> None:
    view = cold_pour()
    window = replace(view, foreseen=foreseen(view, None)).window(view.now_ms - 5 * HOUR_MS)
    assert window.through_ms == view.now_ms + 5 * HOUR_MS


def test_without_a_calibration_or_a_forecast_nothing_is_drawn_ahead() -> None:
    view = cold_pour()
    assert view.strength(view.window()).forecast is None
    assert replace(view, foreseen=foreseen(view, 6.0, calibrated=False)).strength(view.window()).forecast is None
