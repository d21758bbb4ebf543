"""Readings of several sensors merged: each claim here is one that decides when a bay is released."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, judged, make_case, placed, recorded, series
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, EDGE, END, INSIDE, make_calibration

from cure.accumulate import NOMINAL, Law
from cure.bound import lower_bound_mpa, tenth_percentile_mpa
from shared.models.base import HOUR_MS, SensorId
from shared.models.setup import Zone

WARM = {**{s: recorded(18.0, 24) for s in CONCRETE}, AIR: recorded(14.0, 24)}
ALONE = (placed(EDGE, Zone.EXPOSED_EDGE),)


def test_the_watermark_is_the_oldest_of_the_required_sensors_newest_readings() -> None:
    found = judged({**WARM, INSIDE: recorded(18.0, 20), AIR: recorded(14.0, 20)}, 24)
    assert found.watermark_ms == END_MS + 20 * HOUR_MS
    assert found.counted_h(5.0) == 20.0


def test_there_is_no_watermark_while_a_required_sensor_has_said_nothing() -> None:
    found = judged({s: r for s, r in WARM.items() if s != END}, 24)
    assert found.watermark_ms is None
    assert math.isnan(found.counted_h(5.0))
    assert math.isnan(found.lower_bound_mpa())
    assert math.isnan(found.coldest_through_c(1.0))
    assert not found.fresh()


@pytest.mark.parametrize(
    "other",
    [placed("lg-03.1", Zone.INTERIOR, required=False), placed("lg-03.1", Zone.AIR_BELOW), placed(AIR, Zone.AIR)],
)
def test_a_sensor_in_the_air_or_not_required_holds_nothing_back(other: object) -> None:
    case = make_case(placements=(*make_case().placements[:3], other))
    found = judged({s: WARM[s] for s in CONCRETE}, 24, case)
    assert found.fresh()
    assert found.counted_h(5.0) == 24.0
    assert [p.sensor for p in found.silent] == [other.sensor]  # type: ignore[attr-defined] # a placement


@pytest.mark.row("E8")
def test_an_hour_counts_only_when_every_zone_is_warm_in_it() -> None:
    edge = recorded(lambda h: 4.0 if 2 <= h <= 8 else 12.0, 24)
    inside = recorded(lambda h: 4.0 if 6 <= h <= 12 else 12.0, 24)
    found = judged({EDGE: edge, INSIDE: inside, END: WARM[END]}, 24)
    # Cold from 2 to 12, and the quarter that leads in and out of it has one end below the limit.
    assert found.counted_h(5.0) == 24.0 - 10.5


@pytest.mark.row("E8")
def test_the_bound_is_that_of_the_coldest_zone_alone_however_warm_the_others_are() -> None:
    readings = {EDGE: recorded(8.0, 40), INSIDE: recorded(30.0, 40), END: recorded(25.0, 40)}
    found, alone = judged(readings, 40), judged(readings, 40, make_case(placements=ALONE))
    assert found.lower_bound_mpa() == alone.lower_bound_mpa() > 0.0
    governing = found.governing()
    assert governing is not None
    assert governing[0].placement.sensor == EDGE


def test_before_there_is_a_bound_the_youngest_sensor_governs() -> None:
    found = judged({EDGE: recorded(12.0, 2), INSIDE: recorded(11.0, 2), END: recorded(13.0, 2)}, 2)
    governing = found.governing()
    assert found.lower_bound_mpa() == 0.0
    assert governing is not None
    assert governing[0].placement.sensor == INSIDE


@pytest.mark.parametrize(("c", "hours"), [(5.0, 24.0), (5.001, 24.0), (4.999, 0.0)])
def test_an_hour_at_the_limit_counts_and_one_just_under_does_not(c: float, hours: float) -> None:
    assert judged({EDGE: recorded(c, 24)}, 24, make_case(placements=ALONE)).counted_h(5.0) == hours


def test_both_ends_of_an_interval_must_be_warm() -> None:
    every_other = recorded(lambda h: 5.0 if h * 4 % 2 else 4.999, 24)
    assert judged({EDGE: every_other}, 24, make_case(placements=ALONE)).counted_h(5.0) == 0.0


def test_counted_hours_of_the_cold_day_h2_are_no_more_than_its_line_is_above_the_limit() -> None:
    # H2 (references/history_h2.toml): the straight lines between its readings are at or above 5 degC for 6.75 h.
    slow = (placed(EDGE, Zone.EXPOSED_EDGE, interval_s=6 * 3600),)
    day = series([END_MS + h * HOUR_MS for h in (0, 6, 12, 18, 24)], [10, 6, -2, -4, 4])
    found = judged({EDGE: day}, 24, make_case(placements=slow))
    assert found.counted_h(5.0) == 6.0
    assert found.counted_h(10.0) == 0.0


@pytest.mark.row("E12")
@given(st.lists(st.floats(-5, 30), min_size=2, max_size=30), st.floats(-5, 30))
def test_counted_hours_are_never_more_than_hours(temperatures_c: list[float], at_c: float) -> None:
    times = [END_MS + i * QUARTER_MS for i in range(len(temperatures_c))]
    found = judged({EDGE: series(times, temperatures_c)}, 24, make_case(placements=ALONE))
    counted = found.counted_h(at_c)
    assert math.isnan(counted) or 0.0 <= counted <= (len(times) - 1) * 0.25


@pytest.mark.row("L6")
@pytest.mark.parametrize(
    ("edge", "lowered"),
    [
        ((), 1.5),
        ((placed("lg-05.1", Zone.EXPOSED_EDGE),), 0.0),
        ((placed("lg-05.1", Zone.EXPOSED_EDGE, required=False),), 1.5),
        ((placed("lg-05.1", Zone.EXPOSED_EDGE, to_ms=END_MS),), 1.5),
    ],
)
def test_only_an_edge_that_a_release_rests_on_spares_the_bay_the_edge_allowance(
    edge: tuple[()], lowered: float
) -> None:
    case = make_case(placements=(placed(INSIDE, Zone.INTERIOR), *edge))
    found = judged({INSIDE: recorded(10.0, 24), SensorId("lg-05.1"): recorded(20.0, 24)}, 24, case)
    assert found.coldest_now_c() == 10.0 - lowered
    assert found.sensors[0].raw.milli_c.tolist() == [10_000 - round(lowered * 1000)] * 97


@pytest.mark.row("L1", "M3")
@pytest.mark.parametrize(("minutes", "silent"), [(44, False), (45, False), (45.01, True)])
def test_a_sensor_is_silent_after_three_intervals(minutes: float, silent: bool) -> None:
    found = judged(WARM, 24 + minutes / 60)
    assert {p.sensor for p in found.silent} == ({*CONCRETE, AIR} if silent else set())
    assert found.fresh() is not silent


def test_a_sensor_is_not_silent_before_it_has_been_in_the_bay_for_three_intervals() -> None:
    late = placed("lg-05.1", Zone.TOP, from_ms=END_MS + 24 * HOUR_MS - 2 * QUARTER_MS)
    assert judged(WARM, 24, make_case(placements=(*make_case().placements, late))).silent == ()


@pytest.mark.row("L6", "O2")
def test_the_interval_across_the_end_of_the_pour_counts_from_there_at_its_colder_end() -> None:
    times = [END_MS - QUARTER_MS + 300_000, END_MS + 300_000]
    found = judged({EDGE: series(times, [12.0, 18.0])}, 1, make_case(placements=ALONE))
    track = found.sensors[0].track
    assert track is not None
    assert track.taken_ms.tolist() == [END_MS, END_MS + 300_000]
    assert track.low_c.tolist() == [12.0]
    assert track.sums[-1][NOMINAL] == pytest.approx(float(Law.of(None).rate(np.array([15.0]))[0]) / 12)


def test_what_was_missed_between_the_end_of_the_pour_and_the_first_reading_earns_nothing() -> None:
    assert judged({EDGE: recorded(18.0, 24, from_h=6)}, 24, make_case(placements=ALONE)).counted_h(5.0) == 18.0


@pytest.mark.row("L8")
def test_readings_before_a_sensor_came_to_the_bay_and_after_the_pour_was_closed_belong_to_nobody() -> None:
    came = (placed(EDGE, Zone.EXPOSED_EDGE, from_ms=END_MS + 3 * HOUR_MS),)
    case = make_case(placements=came)
    assert judged(WARM, 24, case).counted_h(5.0) == 21.0
    closed = replace(case, pour=replace(case.pour, closed_ms=END_MS + 10 * HOUR_MS))
    assert judged(WARM, 24, closed).counted_h(5.0) == 7.0


@pytest.mark.row("E1")
@pytest.mark.parametrize(
    ("air_c", "hole", "coldest"), [(12.0, (22, 23.5), 8.0), (30.0, (22, 23.5), 18.0), (None, (22, 23.5), math.nan)]
)
def test_the_last_hour_is_no_warmer_than_a_gap_in_it_is_credited(
    air_c: float | None, hole: tuple[float, float], coldest: float
) -> None:
    airs = {} if air_c is None else {AIR: recorded(air_c, 24)}
    found = judged({**WARM, EDGE: recorded(18.0, 24, but=hole), **airs} | ({} if airs else {AIR: series([], [])}), 24)
    assert found.coldest_through_c(1.0) == pytest.approx(coldest, nan_ok=True)


def test_a_gap_before_the_last_hour_says_nothing_about_it() -> None:
    found = judged({**WARM, EDGE: recorded(18.0, 24, but=(20, 23)), AIR: recorded(2.0, 24)}, 24)
    assert found.coldest_through_c(1.0) == 18.0


@pytest.mark.row("E1")
def test_of_several_air_sensors_the_coldest_counts_in_a_gap() -> None:
    case = make_case(placements=(*ALONE, placed(AIR, Zone.AIR), placed("lg-09.2", Zone.AIR)))
    readings = {
        EDGE: recorded(18.0, 24, but=(10, 10.75)),
        AIR: recorded(14.0, 24),
        SensorId("lg-09.2"): recorded(8.0, 24),
    }
    track = judged(readings, 24, case).sensors[0].track
    assert track is not None
    assert [g.credited_c for g in track.gaps] == [4.0]


@pytest.mark.row("E1")
def test_air_measured_before_its_sensor_came_to_the_bay_credits_no_gap() -> None:
    came = placed(AIR, Zone.AIR, from_ms=END_MS + 13 * HOUR_MS)
    readings = {EDGE: recorded(18.0, 24, but=(10, 12)), AIR: recorded(14.0, 24)}
    track = judged(readings, 24, make_case(placements=(*ALONE, came))).sensors[0].track
    assert track is not None
    assert math.isnan(track.gaps[0].credited_c)


def test_a_pour_is_safe_from_freezing_when_its_last_sensor_has_reached_3_5_mpa() -> None:
    readings = {EDGE: recorded(8.0, 90), INSIDE: recorded(30.0, 90), END: recorded(25.0, 90)}
    found = judged(readings, 90)
    safe_ms = found.safe_from_freezing_ms
    assert safe_ms is not None
    track = found.sensors[0].track
    assert track is not None
    at = np.stack([track.at(safe_ms - QUARTER_MS), track.at(safe_ms)])
    before, reached = lower_bound_mpa(at, make_calibration(), make_case().mix)
    assert before < 3.5 <= reached
    for at_once in (1, 7, 50):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("cure.bound.AT_ONCE", at_once)
            assert judged(readings, 90).safe_from_freezing_ms == safe_ms
    assert judged(readings, 20).safe_from_freezing_ms is None
    assert judged(readings, 90, replace(make_case(), calibration=None)).safe_from_freezing_ms is None
    assert judged({**readings, END: series([], [])}, 90).safe_from_freezing_ms is None


@pytest.mark.row("C7")
def test_an_age_is_never_negative() -> None:
    assert judged(WARM, -0.5).estimate((5.0,)).age_h == 0.0


def test_the_estimate_says_only_what_is_known() -> None:
    nothing = judged({}, 24).estimate((5.0,))
    assert (nothing.evidence_ms, nothing.coldest_c, nothing.lower_bound_mpa, nothing.strength_mpa) == (None,) * 4
    assert nothing.counted_h == {}
    known = judged(WARM, 24).estimate((5.0, 10.0))
    assert known.counted_h == {"5": 24.0, "10": 24.0}
    assert known.temperature_time_c_h == pytest.approx(24 * 18.0)
    assert known.strength_mpa is not None
    assert known.lower_bound_mpa is not None
    assert known.lower_bound_mpa <= 0.8 * known.strength_mpa


def test_the_error_budget_says_what_each_source_takes_and_adds_up_to_the_tenth_percentile() -> None:
    found = judged(WARM, 24)
    estimate = found.estimate(())
    assert set(estimate.error_budget_mpa) == {"calibration", "batch", "temperature law", "setting", "clock", "sensor"}
    governing, case = found.governing(), make_case()
    assert governing is not None
    assert estimate.strength_mpa is not None
    taken = math.sqrt(sum(part**2 for part in estimate.error_budget_mpa.values()))
    (tenth,) = tenth_percentile_mpa(governing[1], make_calibration(), case.mix)
    assert estimate.strength_mpa - taken == pytest.approx(tenth)
    assert judged(WARM, 24, replace(case, calibration=None)).estimate(()).error_budget_mpa == {}
