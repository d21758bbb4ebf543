"""When an operation may come, and what keeps it. The pour ended at 13:00."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import CONCRETE, END_MS, Profile, judged, make_case, recorded
from store_support import AIR, EDGE, make_site, site_dict

from cure.delay import Outlook, outlook
from cure.plans import PLANS
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, Operation, SensorId
from shared.models.decisions import Gate, GateState
from shared.models.readings import Series
from shared.models.requirement import AllRule, AnyRule, ConsentRule, CountedRule, DoneRule, Rule, StrengthRule
from shared.ports import PourCase

COMMON = PLANS["common-practice"]


def cold(from_h: float, to_h: float, c: float = 4.0, otherwise: float = 15.0) -> Profile:
    return lambda h: c if from_h <= h <= to_h else otherwise


def maybe(
    profile: Profile | float, hours: float, case: PourCase | None = None, operation: Operation = STRIP
) -> Outlook | None:
    readings: dict[SensorId, Series] = {s: recorded(profile, hours) for s in CONCRETE}
    readings[AIR] = recorded(2.0, hours)
    return outlook(judged(readings, hours, case), operation, COMMON)


def found(
    profile: Profile | float, hours: float, case: PourCase | None = None, operation: Operation = STRIP
) -> Outlook:
    look = maybe(profile, hours, case, operation)
    assert look is not None
    return look


def test_a_warm_pour_is_not_cold_and_is_expected_at_the_plan_s_own_hour() -> None:
    look = found(15.0, 12)
    assert (look.cold, look.below, look.cause) == (False, False, "")
    assert look.expected_ms == look.plan_ms == look.earliest_ms == END_MS + 24 * HOUR_MS


def test_there_is_none_without_an_end_or_a_reading() -> None:
    case = make_case()
    assert maybe(4.0, 12, replace(case, pour=replace(case.pour, end_ms=None))) is None
    assert outlook(judged({}, 12), STRIP, COMMON) is None


def test_while_it_is_below_the_limit_no_hour_is_named() -> None:
    told = found(cold(8, 99), 12)
    assert told.expected_ms is None
    assert told.plan_ms == END_MS + 24 * HOUR_MS
    assert (told.counted_h, told.clock_h, told.limit_c, told.coldest_c) == (7.75, 12.0, 5.0, 4.0)


@pytest.mark.parametrize(("c", "named"), [(5.0, True), (4.999, False)])
def test_at_the_limit_it_is_not_below_it(c: float, named: bool) -> None:
    told = found(lambda h: 4.0 if 2 <= h <= 8 else (c if h > 19.9 else 15.0), 20)
    assert (told.expected_ms is not None) is named


def test_warm_again_it_names_the_hour_at_which_the_counted_hours_are_there() -> None:
    told = found(cold(2, 12), 40)
    # 10 h below the limit, and the quarter that leads in and the one that leads out.
    assert told.counted_h == 40.0 - 10.5
    assert told.expected_ms == END_MS + 40 * HOUR_MS


def test_before_the_hours_are_there_it_adds_those_that_are_missing() -> None:
    told = found(cold(2, 12), 20)
    assert told.counted_h == 9.5
    assert told.expected_ms == END_MS + round(34.5 * HOUR_MS)


@pytest.mark.parametrize(("to_h", "is_cold"), [(2.0, False), (2.5, True)])
def test_an_hour_below_the_limit_makes_it_cold(to_h: float, is_cold: bool) -> None:
    assert found(cold(2, to_h), 20).cold is is_cold


def test_strength_that_comes_after_the_hours_makes_the_hour_later() -> None:
    told = found(cold(2, 12, otherwise=6.0), 20)
    assert told.expected_ms is not None
    assert told.expected_ms > END_MS + round(34.5 * HOUR_MS)
    assert told.earliest_ms == END_MS + round(34.5 * HOUR_MS)
    strict = outlook(
        judged({s: recorded(cold(2, 12, otherwise=6.0), 20) for s in CONCRETE}, 20), STRIP, PLANS["strict"]
    )
    assert strict is not None
    assert strict.expected_ms is None  # 6 degC is below the strict plan's limit


def test_the_hour_named_comes_true_when_it_stays_as_it_is() -> None:
    told = found(cold(2, 12, otherwise=8.0), 30)
    assert told.expected_ms is not None
    hours = (told.expected_ms - END_MS) / HOUR_MS
    for early, reached in ((-4.0, False), (4.0, True)):
        readings = {s: recorded(cold(2, 12, otherwise=8.0), round(hours + early)) for s in CONCRETE}
        evidence = judged(readings, round(hours + early))
        assert (evidence.lower_bound_mpa() >= 3.5 and evidence.counted_h(5.0) >= 24.0) is reached


def test_at_freezing_no_hour_is_named() -> None:
    told = found(cold(8, 99, c=0.0), 12)
    assert told.expected_ms is None


def test_hours_without_readings_are_not_called_cold() -> None:
    holed = {s: recorded(15.0, 20) for s in CONCRETE} | {EDGE: recorded(15.0, 20, but=(4, 10))}
    look = outlook(judged(holed, 20), STRIP, COMMON)
    assert look is not None
    assert (look.cold, look.cause) == (False, "without readings: 6.0 h")
    both = {s: recorded(cold(12, 14), 20) for s in CONCRETE} | {EDGE: recorded(cold(12, 14), 20, but=(4, 10))}
    look = outlook(judged(both, 20), STRIP, COMMON)
    assert look is not None
    assert look.cause == "concrete below the limit: 2.5 h so far; without readings: 6.0 h"


def test_the_cause_says_how_long_it_was_too_cold() -> None:
    assert found(cold(8, 99), 12).cause == "concrete below the limit: 4.2 h so far"


def test_load_comes_with_its_strength_and_not_before_the_strip() -> None:
    look = found(15.0, 12, operation=LOAD)
    assert (look.plan_ms, look.limit_c) == (None, 5.0)
    plan = {STRIP: AllRule(all=(CountedRule(counted_h=72.0, at_c=5.0),)), LOAD: COMMON[LOAD]}
    readings = {s: recorded(15.0, 12) for s in CONCRETE}
    waits = outlook(judged(readings, 12), LOAD, plan)
    assert waits is not None
    assert look.expected_ms is not None
    assert waits.expected_ms == END_MS + 72 * HOUR_MS > look.expected_ms
    done = make_case(gates={**make_case().gates, STRIP: Gate(make_case().pour.id, STRIP, GateState.DONE)})
    stripped = outlook(judged(readings, 12, done), LOAD, plan)
    assert stripped is not None
    assert stripped.expected_ms == look.expected_ms


def test_of_two_ways_the_sooner_counts_unless_it_waits_for_a_person() -> None:
    sooner, later = CountedRule(counted_h=13.0, at_c=10.0), CountedRule(counted_h=30.0, at_c=10.0)

    def expected_h(*ways: Rule, consent: str | None = None) -> float:
        site = make_site(plan={**site_dict()["plan"], "consent_document": consent})
        readings = {s: recorded(15.0, 12) for s in CONCRETE}
        look = outlook(judged(readings, 12, make_case(site)), LOAD, {LOAD: AllRule(all=(AnyRule(any=ways),))})
        assert look is not None
        assert look.expected_ms is not None
        return (look.expected_ms - END_MS) / HOUR_MS

    assert expected_h(later, sooner) == 13.0
    with_consent = AllRule(all=(sooner, ConsentRule(consent=True)))
    assert expected_h(with_consent, later) == 30.0
    assert expected_h(with_consent, later, consent="letter.pdf") == 13.0


def test_operations_that_ask_for_each_other_come_to_an_end() -> None:
    plan = {
        WALK: AllRule(all=(DoneRule(done=LOAD),)),
        LOAD: AllRule(all=(DoneRule(done=WALK), StrengthRule(lower_bound_mpa=7.0))),
    }
    readings = {s: recorded(15.0, 12) for s in CONCRETE}
    assert outlook(judged(readings, 12), WALK, plan) is not None
