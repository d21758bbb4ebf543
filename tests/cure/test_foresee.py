from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, make_case, recorded
from forecast_support import MEMBERS, PLACED_MS, weather, work
from store_support import EDGE, make_calibration

from cure.accumulate import COLUMNS, Law
from cure.bay import evidence
from cure.forecast import Expected, Forecast, Governs, NoForecast, Slabwork, Source
from cure.foresee import Asked, Foreseen, foresee
from cure.foreseeable import asked_of, heat_of
from cure.going_on import Earned, crossing_h, rates
from cure.plans import PLANS
from shared.models.base import HOUR_MS, LOAD, STRIP, Operation
from shared.models.heat import HeatSettings
from shared.models.requirement import AgeRule, AllRule, AnyRule, ConsentRule, CountedRule, StrengthRule, WarmRule

PLAN = PLANS["common-practice"]


def asked(of: Slabwork | None = None, **changes: Any) -> Asked:
    of = work() if of is None else of
    fields = {
        "work": of,
        "earned": Earned(END_MS),
        "plan": PLAN,
        "calibration": make_calibration(),
        "mix": make_case().mix,
        "now_ms": END_MS,
        "members": MEMBERS,
        **changes,
    }
    return Asked(**fields)


def said(one: Asked) -> Forecast:
    (found,) = foresee([one])
    assert isinstance(found.said, Forecast)
    return found.said


@pytest.fixture(scope="module")
def three() -> list[Foreseen]:
    """Return forecasts in warm, cool and freezing air."""
    return foresee([asked(work(c, weather=weather(air))) for c, air in (("w", 15.0), ("c", 6.5), ("f", -6.0))])


def strip_of(one: Foreseen) -> Expected:
    assert isinstance(one.said, Forecast)
    return one.said.expected[STRIP]


def test_colder_air_is_a_later_hour_governed_by_something_else(three: list[Foreseen]) -> None:
    warm, cool, freezing = map(strip_of, three)
    hours = [warm.at(0.1), warm.at(0.5), warm.at(0.9)]
    assert None not in hours
    assert hours == sorted(hours)  # type: ignore[type-var]
    # 24 counted hours: nothing comes before them, and in warm air the clock is the last.
    assert (hours[0] or 0) >= END_MS + 24 * HOUR_MS
    assert warm.chance_by(END_MS + 24 * HOUR_MS - 1) == 0.0
    middle = warm.at(0.5), cool.at(0.5)
    assert middle[0] is not None
    assert middle[1] is None or middle[1] > middle[0]
    assert cool.governs[Governs.CLOCK] < 0.5
    assert cool.governs[Governs.COLD] + cool.governs[Governs.STRENGTH] > 0.5
    assert freezing.at(0.5) is None
    assert freezing.governs[Governs.COLD] > 0.9
    for one in (warm, cool, freezing):
        assert sum(one.governs.values()) == pytest.approx(1.0)


def test_the_levels_are_the_hours_of_each_percent_that_lie_within_the_horizon(three: list[Foreseen]) -> None:
    for one in three:
        assert isinstance(one.said, Forecast)
        for expected in one.said.expected.values():
            each = [expected.at(percent / 100) for percent in range(1, 101)]
            assert expected.levels_ms() == tuple(at_ms for at_ms in each if at_ms is not None)


def test_the_shares_of_the_spread_are_shares(three: list[Foreseen]) -> None:
    spread = strip_of(three[1]).spread
    assert set(spread) == set(Source)
    assert 0.2 < sum(spread.values()) <= 1.0 + 1e-9
    assert spread[Source.WEATHER] > spread[Source.MIX]


def test_the_chance_of_freezing_is_nothing_in_the_warm_and_certain_in_the_frost(three: list[Foreseen]) -> None:
    chances = [one.said.freezing for one in three if isinstance(one.said, Forecast)]
    assert chances[0] == 0.0
    assert chances[2] > 0.95
    # Without a calibration nobody knows when it is strong enough.
    blind = said(asked(work("c", weather=weather(6.5)), calibration=None))
    assert blind.freezing >= chances[1]
    assert blind.bound_mpa is None
    assert blind.expected[STRIP].at(0.9) is None


def test_load_waits_for_the_strip_and_a_done_one_does_not(three: list[Foreseen]) -> None:
    forecast = three[0].said
    assert isinstance(forecast, Forecast)
    strip, load = forecast.expected[STRIP], forecast.expected[LOAD]
    assert all(a <= b for a, b in zip(strip.members_ms, load.members_ms, strict=True))
    done = said(asked(work("w", weather=weather(15.0)), earned=Earned(END_MS, done=frozenset({STRIP}))))
    assert done.expected[LOAD].members_ms[0] <= load.members_ms[0]


def test_alone_beside_others_or_carried_on_it_is_the_same(three: list[Foreseen]) -> None:
    (alone,) = foresee([asked(work("c", weather=weather(6.5)))])
    assert isinstance(alone.said, Forecast)
    assert np.array_equal(alone.said.expected[STRIP].members_ms, strip_of(three[1]).members_ms)


def test_weather_that_ends_early_is_a_later_or_no_hour_and_is_said() -> None:
    short = said(asked(work("w", weather=weather(15.0, hours=12 + 20))))
    assert short.horizon_ms <= END_MS + 20 * HOUR_MS
    assert short.expected[STRIP].at(0.9) is None
    assert any("the weather ends after" in note for note in short.notes)
    for hours, reason in ((12 + 3, "ends too soon"), (200, "begins after the pour")):
        at = weather(15.0, hours=hours)
        if hours == 200:
            at = replace(at, hours_ms=at.hours_ms + 24 * HOUR_MS)
        (found,) = foresee([asked(work("w", weather=at))])
        assert isinstance(found.said, NoForecast)
        assert reason in found.said.reason


def test_a_wider_spread_is_a_later_cautious_hour() -> None:
    plain = work("s", weather=weather(9.0))
    wide = replace(plain, spread=replace(plain.spread, widened=1.5))
    near, far = (said(asked(w)).expected[STRIP] for w in (plain, wide))
    widths = [float(np.ptp(np.minimum(e.members_ms, END_MS + 120 * HOUR_MS))) for e in (near, far)]
    assert widths[1] > 1.2 * widths[0]


def test_rules_are_met_when_arithmetic_says() -> None:
    # Steady air of 40 degC without spread to speak of: what counts is the clock.
    hot = work("h", weather=weather(30.0), placing_c=30.0)
    rules = {
        "age": AgeRule(age_h=30.0),
        "counted": CountedRule(counted_h=20.0, at_c=5.0),
        "either": AnyRule(any=(AgeRule(age_h=50.0), AllRule(all=(AgeRule(age_h=10.0), ConsentRule(consent=True))))),
        "warm": WarmRule(warm_h=2.0, at_c=10.0),
        "never": WarmRule(warm_h=1.0, at_c=40.0),
    }
    plan = {Operation(name): AllRule(all=(rule,)) for name, rule in rules.items()}
    unmet = Earned(END_MS, unmet=(ConsentRule(consent=True),), counted_h={5.0: 4.0})
    found = said(asked(hot, plan=plan, earned=unmet)).expected
    hours = {str(name): (float(e.members_ms[0]) - END_MS) / HOUR_MS for name, e in found.items()}
    assert hours["age"] == pytest.approx(30.0)
    assert hours["counted"] == pytest.approx(16.0)
    assert hours["either"] == pytest.approx(50.0)
    assert hours["warm"] <= 2.5
    assert math.isinf(hours["never"])
    met = said(asked(hot, plan=plan, earned=replace(unmet, unmet=()))).expected
    assert met[Operation("either")].at(0.5) == END_MS + 10 * HOUR_MS


def test_a_strength_is_reached_where_the_bound_says_so() -> None:
    calibration = make_calibration()
    table = rates(Law.of(calibration), np.array([3.0, 20.0, -10.0, np.nan]))
    exact = Law.of(calibration).rates(np.array([3.0, 20.0, -10.0]))
    assert table[:3] == pytest.approx(exact, rel=3e-3, abs=1e-9)
    assert np.all(table[:3] <= exact * (1.0 + 1e-9))
    assert np.all(table[3] == 0.0)
    grown = said(asked(work("g", weather=weather(15.0)), plan={STRIP: StrengthRule(lower_bound_mpa=3.5)}))
    ready = {s: np.full(COLUMNS, 400.0) for s in CONCRETE}
    now = said(
        asked(
            work("g", weather=weather(15.0)),
            plan={STRIP: StrengthRule(lower_bound_mpa=3.5)},
            earned=Earned(END_MS, ready),
        )
    )
    assert (grown.expected[STRIP].at(0.5) or 0) > END_MS + 5 * HOUR_MS
    assert now.expected[STRIP].at(0.9) == END_MS
    values = np.array([[0.0, np.nan], [2.0, np.nan], [4.0, np.nan]])
    assert crossing_h(np.array([0.0, 1.0, 2.0]), values, 3.0).tolist() == [1.5, math.inf]


def test_what_is_asked_of_a_pour_is_what_its_book_says() -> None:
    case = make_case()
    readings = {s: recorded(12.0, 6.0, from_h=-0.75) for s in CONCRETE}
    found = evidence(case, readings, END_MS + 6 * HOUR_MS, elapsed_ms=6 * HOUR_MS)
    one = asked_of(found, PLAN, weather())
    assert isinstance(one, Asked)
    assert one.earned.through_ms == END_MS + 6 * HOUR_MS
    assert one.earned.counted_h == {5.0: pytest.approx(6.0)}
    assert one.work.placed_ms == PLACED_MS
    assert [p.edge for p in one.work.points].count(True) == 1
    assert "no heat data" in one.notes[0]
    silent = evidence(case, {s: r for s, r in readings.items() if s != EDGE}, found.now_ms, elapsed_ms=6 * HOUR_MS)
    refused = asked_of(silent, PLAN, weather())
    assert isinstance(refused, NoForecast)
    assert str(EDGE) in refused.reason
    open_pour = evidence(replace(case, pour=replace(case.pour, end_ms=None)), readings, found.now_ms, elapsed_ms=None)
    unended = asked_of(open_pour, PLAN, weather())
    assert isinstance(unended, NoForecast)
    assert "end of the pour" in unended.reason


def test_a_mix_with_heat_data_is_less_uncertain_than_one_without() -> None:
    case = make_case()
    heat = HeatSettings(cement="III", binder_kg_m3=380.0, water_binder=0.45, slag=0.2)
    known, spread, notes = heat_of(replace(case, mix=case.mix.model_copy(update={"heat": heat})))
    usual, wider, said_of = heat_of(case)
    assert notes == ()
    assert len(said_of) == 1
    assert wider.ln_heat > spread.ln_heat
    assert wider.ln_tau > spread.ln_tau
    assert float(known.tau_h[0]) != float(usual.tau_h[0])
    with pytest.raises(ValueError, match=r"at most 0\.9"):
        HeatSettings(cement="I", binder_kg_m3=380.0, water_binder=0.45, fly_ash=0.5, slag=0.5)
