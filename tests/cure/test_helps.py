"""What would bring a late hour on is reckoned with the members of the forecast, and only said where it does."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import END_MS, make_case
from forecast_support import weather, work
from store_support import make_calibration

from cure.forecast import FOR_EVER_MS, Forecast, Span
from cure.foresee import Asked, Foreseen, foresee
from cure.foretold import Helps
from cure.going_on import Earned
from cure.helps import BOTH, COVER, HEAT, by_ms, due_ms
from cure.plans import PLANS
from shared.models.base import HOUR_MS, LOAD, STRIP, Ms
from shared.shifts import running_or_next

DUE = END_MS + 30 * HOUR_MS


def foreseen(air_c: float, due: Ms = DUE, **changes: Any) -> Foreseen:
    asked = Asked(
        work(f"p{air_c}", weather=weather(air_c), **changes),
        Earned(END_MS),
        PLANS["common-practice"],
        make_calibration(),
        make_case().mix,
        END_MS,
        members=24,
        horizon_h=72,
        due_ms={STRIP: due},
        help_from_ms=END_MS + 2 * HOUR_MS,
    )
    (found,) = foresee([asked])
    assert isinstance(found.said, Forecast)
    return found


def left(one: Foreseen) -> dict[str, Ms | None]:
    assert isinstance(one.helps, Helps)
    assert one.helps.by_ms == END_MS + 2 * HOUR_MS
    return {act: hours[STRIP] for act, hours in one.helps.left.items()}


def test_in_the_cool_a_cover_brings_it_on_and_more_does_more() -> None:
    one = foreseen(3.0)
    assert isinstance(one.said, Forecast)
    bare, found = one.said.expected[STRIP].at(0.5), left(one)
    assert list(found) == [COVER, HEAT, BOTH]
    hours = [float("inf") if at is None else float(at) for at in (bare, found[COVER], found[HEAT], found[BOTH])]
    assert hours[1] < hours[0]
    assert hours[3] <= min(hours[1:3])


def test_in_hard_frost_no_cover_saves_it_and_what_lies_or_burns_is_not_proposed_again() -> None:
    assert left(foreseen(-15.0))[COVER] is None
    always = (Span(0, FOR_EVER_MS, 0.2),)
    assert list(left(foreseen(-10.0, covers=always))) == [HEAT]
    assert list(left(foreseen(-10.0, heated=(Span(0, FOR_EVER_MS, 10.0),)))) == [COVER]
    assert left(foreseen(-10.0, covers=always, heated=(Span(0, FOR_EVER_MS, 10.0),))) == {}


@pytest.mark.parametrize(("air_c", "due"), [(20.0, DUE), (3.0, END_MS + 400 * HOUR_MS)])
def test_what_comes_in_time_or_is_late_for_ever_is_told_apart(air_c: float, due: Ms) -> None:
    one = foreseen(air_c, due)
    assert isinstance(one.said, Forecast)
    late = one.said.expected[STRIP].at(0.5) is None
    assert (one.helps is not None) is late


def test_an_operation_is_due_when_it_is_wanted_or_by_the_plan_s_hours_and_helped_by_the_end_of_a_shift() -> None:
    case = make_case()
    plan = PLANS["common-practice"]
    assert due_ms(case, plan)[STRIP] == END_MS + 24 * HOUR_MS
    wanted = {STRIP: END_MS + 40 * HOUR_MS, LOAD: END_MS + 60 * HOUR_MS}
    case = replace(case, state=replace(case.state, memory={"wanted": wanted}))
    due = due_ms(case, plan)
    assert (due[STRIP], due[LOAD]) == (END_MS + 40 * HOUR_MS, END_MS + 60 * HOUR_MS)
    site = case.site.site
    assert by_ms(case, END_MS) == running_or_next(END_MS, site.shift, site.zone).ends_ms
