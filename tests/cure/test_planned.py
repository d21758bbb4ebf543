"""The hours of a pour that is not placed yet: as the gate would count them, and never surer than what is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from planner_support import CALIBRATION, CERTAIN, JUDGED, MIX, MONDAY_MS, pour, weather

from cure.accumulate import Carried, Law, advance
from cure.bound import lower_bound_mpa
from cure.draws import drawn
from cure.ensemble import placed_ensemble, simulate
from cure.forecast import FOR_EVER_MS, Governs, Span
from cure.planned import foreseen
from cure.plans import FURTHER
from shared.errors import PlanError
from shared.models.base import HOUR_MS, LOAD, STRIP, UNCOVER, WALK
from shared.models.readings import Series
from shared.models.requirement import (
    AgeRule,
    AllRule,
    AnyRule,
    ConsentRule,
    CountedRule,
    StrengthRule,
    TestsRule,
)

END_MS = MONDAY_MS + 2 * HOUR_MS


def test_in_the_warm_a_slab_is_stripped_by_the_clock() -> None:
    told = foreseen([pour(weather(18.0, 24.0))], [JUDGED], hours=60, members=20)[0]
    strip = told.expected[STRIP]
    assert strip.at(0.1) == strip.at(0.9) == END_MS + 24 * HOUR_MS
    assert strip.governs[Governs.CLOCK] == 1.0
    assert list(told.expected) == [STRIP, WALK, LOAD]
    assert told.freezing == 0.0


def test_its_hour_of_strength_is_that_of_the_record_summed_as_a_gate_sums_it() -> None:
    work = pour(weather(4.0, 10.0, sure=True), CERTAIN)
    strength = AllRule(all=(StrengthRule(lower_bound_mpa=3.5),))
    told = foreseen([work], [replace(JUDGED, requirements={STRIP: strength})], members=2)[0]
    run = simulate([work], [placed_ensemble(work, drawn(work.pour, 1, 2))], [240])[0]
    later = run.times_ms >= END_MS
    milli = np.rint(run.points_c[later, 0, 0] * 1000).astype(np.int64)
    begun = Carried(int(run.times_ms[later][0]), milli[0] / 1000.0)
    track = advance(begun, Series(run.times_ms[later][1:], milli[1:]), law=Law.of(CALIBRATION), interval_ms=1_800_000)
    reached = np.argmax(lower_bound_mpa(track.sums, CALIBRATION, MIX) >= 3.5)
    assert reached > 30
    at_ms = told.expected[STRIP].at(0.5)
    assert at_ms is not None
    # A gate waits for the next reading, half an hour here; the forecast draws a line between every fourth of them.
    assert 0.0 <= int(track.taken_ms[reached]) - at_ms <= 0.75 * HOUR_MS


def test_cold_hours_do_not_count_and_a_cover_and_heating_bring_them_back() -> None:
    cold = pour(weather(-3.0, 5.0))
    covered = replace(cold, covers=(Span(END_MS, FOR_EVER_MS, 0.5),))
    heated = replace(covered, heated=(Span(MONDAY_MS, FOR_EVER_MS, 15.0),))
    bare, kept, warm = foreseen([cold, covered, heated], [JUDGED] * 3, members=30)
    chances = [f.expected[STRIP].chance_by(END_MS + 36 * HOUR_MS) for f in (bare, kept, warm)]
    assert chances[0] < chances[1] < chances[2]
    assert bare.freezing > 0.5 > 0.1 > warm.freezing
    assert bare.expected[STRIP].governs[Governs.CLOCK] == 0.0
    # The hours of load never come before those of strip, which must be done.
    assert np.all(warm.expected[LOAD].members_ms >= warm.expected[STRIP].members_ms)


def test_nothing_is_met_in_hours_of_which_no_weather_is_known() -> None:
    short = foreseen([pour(weather(18.0, 24.0, hours=20))], [JUDGED], hours=60, members=10)[0]
    assert short.expected[STRIP].at(0.5) is None
    assert short.horizon_ms == MONDAY_MS + 19 * HOUR_MS
    early = replace(pour(weather(18.0, 24.0)), placed_ms=MONDAY_MS - 9 * HOUR_MS)
    with pytest.raises(PlanError, match="begins after the pour"):
        foreseen([early], [JUDGED])


def test_an_operation_that_no_heat_model_tells_is_left_out_and_other_ways_are_tried() -> None:
    told = {
        STRIP: AllRule(all=(AnyRule(any=(AgeRule(age_h=30.0), CountedRule(counted_h=12.0, at_c=30.0))),)),
        UNCOVER: FURTHER[UNCOVER],
        # By consent after 20 h: a way only where it is on file. By tests: never a way beforehand.
        LOAD: AllRule(
            all=(
                AnyRule(
                    any=(
                        AllRule(all=(AgeRule(age_h=20.0), ConsentRule(consent=True))),
                        AllRule(all=(AgeRule(age_h=10.0), TestsRule(tested_mpa=7.0))),
                        AgeRule(age_h=40.0),
                    )
                ),
            )
        ),
    }
    found = foreseen([pour(weather(5.0, 9.0))], [replace(JUDGED, requirements=told)], hours=60, members=10)[0]
    assert list(found.expected) == [STRIP, LOAD]
    assert found.expected[LOAD].at(0.5) == END_MS + 40 * HOUR_MS
    consented = replace(JUDGED, requirements=told, consent=True)
    with_it = foreseen([pour(weather(5.0, 9.0))], [consented], hours=60, members=10)[0]
    assert with_it.expected[LOAD].at(0.5) == END_MS + 20 * HOUR_MS
    assert found.expected[STRIP].at(0.5) == END_MS + 30 * HOUR_MS
    assert foreseen([], []) == []


def test_a_pour_gets_the_same_hours_alone_and_beside_others() -> None:
    works = [pour(weather(2.0, 8.0)), pour(weather(10.0, 16.0), name="q")]
    together = foreseen(works, [JUDGED] * 2, hours=60, members=10)
    for work, of in zip(works, together, strict=True):
        alone = foreseen([work], [JUDGED], hours=60, members=10)[0]
        assert alone.expected[STRIP].members_ms.tolist() == of.expected[STRIP].members_ms.tolist()
