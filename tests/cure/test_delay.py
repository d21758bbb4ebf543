"""When cold moves the hour, and what is said of it. The pour ended at 13:00: its 24 h are up in a shift, next day."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import CONCRETE, END_MS, Profile, judged, make_case, recorded
from store_support import AIR, EDGE, make_site, site_dict

from cure.delay import Delay, delay
from cure.requirements import PLANS, All, LowerBound
from shared.models.base import HOUR_MS, LOAD, STRIP, SensorId
from shared.models.readings import Series
from shared.ports import PourCase

COMMON = PLANS["common-practice"][STRIP]


def cold(from_h: float, to_h: float, c: float = 4.0, otherwise: float = 15.0) -> Profile:
    return lambda h: c if from_h <= h <= to_h else otherwise


def found(profile: Profile | float, hours: float, case: PourCase | None = None) -> Delay | None:
    readings: dict[SensorId, Series] = {s: recorded(profile, hours) for s in (*CONCRETE, AIR)}
    return delay(judged(readings, hours, case), COMMON)


def test_there_is_none_while_it_is_warm() -> None:
    assert found(15.0, 12) is None


def test_there_is_none_without_a_clock_rule_an_end_or_a_reading() -> None:
    readings = {s: recorded(4.0, 12) for s in CONCRETE}
    assert delay(judged(readings, 12), COMMON) is not None
    assert delay(judged(readings, 12), All((LowerBound(3.5),))) is None
    assert delay(judged(readings, 12), PLANS["clock-or-strength"][LOAD]) is None
    case = make_case()
    assert delay(judged(readings, 12, replace(case, pour=replace(case.pour, end_ms=None))), COMMON) is None
    assert delay(judged({}, 12), COMMON) is None


def test_while_it_is_below_the_limit_no_hour_is_named() -> None:
    told = found(cold(8, 99), 12)
    assert told is not None
    assert told.expected_ms is None
    assert told.plan_ms == END_MS + 24 * HOUR_MS
    assert (told.counted_h, told.clock_h, told.limit_c, told.coldest_c) == (7.75, 12.0, 5.0, 4.0)


@pytest.mark.parametrize(("c", "named"), [(5.0, True), (4.999, False)])
def test_at_the_limit_it_is_not_below_it(c: float, named: bool) -> None:
    told = found(lambda h: 4.0 if 2 <= h <= 8 else (c if h > 19.9 else 15.0), 20)
    assert told is not None
    assert (told.expected_ms is not None) is named


def test_warm_again_it_names_the_hour_at_which_the_counted_hours_are_there() -> None:
    told = found(cold(2, 12), 40)
    assert told is not None
    # 10 h below the limit, and the quarter that leads in and the one that leads out.
    assert told.counted_h == 40.0 - 10.5
    assert told.expected_ms == END_MS + 40 * HOUR_MS


def test_before_the_hours_are_there_it_adds_those_that_are_missing() -> None:
    told = found(cold(2, 12), 20)
    assert told is not None
    assert told.counted_h == 9.5
    assert told.expected_ms == END_MS + round(34.5 * HOUR_MS)


def test_a_delay_within_the_shift_of_the_plan_is_not_told() -> None:
    assert found(cold(2, 4), 20) is None  # 15:30 instead of 13:00: the shift ends at 17:00
    assert found(cold(2, 6), 20) is not None  # 17:30


def test_less_than_an_hour_below_the_limit_is_not_told() -> None:
    night = make_site(site={**site_dict()["site"], "shift": "12:00-13:10"})
    assert found(cold(2, 2), 20, make_case(night)) is None
    assert found(cold(2, 2.5), 20, make_case(night)) is not None


def test_strength_that_comes_after_the_hours_makes_the_hour_later() -> None:
    hours_alone = delay(
        judged({s: recorded(cold(2, 12, otherwise=6.0), 20) for s in CONCRETE}, 20), PLANS["strict"][STRIP]
    )
    told = found(cold(2, 12, otherwise=6.0), 20)
    assert told is not None
    assert told.expected_ms is not None
    assert told.expected_ms > END_MS + round(34.5 * HOUR_MS)
    assert hours_alone is not None
    assert hours_alone.expected_ms is None  # 6 degC is below the strict plan's limit


def test_the_hour_named_comes_true_when_it_stays_as_it_is() -> None:
    told = found(cold(2, 12, otherwise=8.0), 30)
    assert told is not None
    assert told.expected_ms is not None
    hours = (told.expected_ms - END_MS) / HOUR_MS
    for early, reached in ((-4.0, False), (4.0, True)):
        readings = {s: recorded(cold(2, 12, otherwise=8.0), round(hours + early)) for s in CONCRETE}
        evidence = judged(readings, round(hours + early))
        assert (evidence.lower_bound_mpa() >= 3.5 and evidence.counted_h(5.0) >= 24.0) is reached


def test_at_freezing_no_hour_is_named() -> None:
    told = found(cold(8, 99, c=0.0), 12)
    assert told is not None
    assert told.expected_ms is None


def test_hours_without_readings_are_not_called_cold() -> None:
    holed = {s: recorded(15.0, 20) for s in CONCRETE} | {EDGE: recorded(15.0, 20, but=(4, 10))}
    assert delay(judged(holed, 20), COMMON) is None
    both = {s: recorded(cold(12, 14), 20) for s in CONCRETE} | {EDGE: recorded(cold(12, 14), 20, but=(4, 10))}
    told = delay(judged(both, 20), COMMON)
    assert told is not None
    assert told.cause == "concrete below the limit: 2.5 h so far; without readings: 6.0 h"


def test_the_cause_says_how_long_it_was_too_cold() -> None:
    told = found(cold(8, 99), 12)
    assert told is not None
    assert told.cause == "concrete below the limit: 4.2 h so far"
