"""A pour's course in a few numbers."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from cure_support import CONCRETE, END_MS, judged, make_case, recorded
from gates_support import ran, site_with, told_of
from store_support import EDGE, make_pour

from cure.chart import POINTS, chart
from cure.plans import PLANS
from shared.models.base import HOUR_MS, LOAD, STRIP
from shared.models.messages import MessageKind
from shared.models.requirement import AgeRule


def drawn(hours: float = 24, profile: Any = 15.0, **changes: Any) -> dict[str, Any]:
    readings = {s: recorded(profile, hours) for s in CONCRETE}
    found = chart(judged(readings, hours, make_case(**changes)), PLANS["common-practice"][STRIP])
    assert found is not None
    return found


def test_it_runs_from_the_end_of_the_pour_to_the_newest_evidence() -> None:
    found = drawn(24)
    assert found["hours"] == [float(h) for h in range(1, 25)]
    assert len(found["coldest_c"]) == len(found["bound_mpa"]) == len(found["hours"]) == POINTS


def test_each_number_is_the_one_of_its_hour_rounded_down() -> None:
    found = drawn(24, lambda h: 15.29 if h < 12 else 9.99)
    assert (found["coldest_c"][0], found["coldest_c"][-1]) == (15.2, 9.9)
    evidence = judged({s: recorded(lambda h: 15.29 if h < 12 else 9.99, 24) for s in CONCRETE}, 24)
    assert 0.0 <= evidence.lower_bound_mpa() - found["bound_mpa"][-1] < 0.1
    assert found["bound_mpa"][-1] > found["bound_mpa"][16] > 0.0


@pytest.mark.row("E8")
def test_it_shows_the_coldest_sensor_and_not_the_mean() -> None:
    readings = {s: recorded(20.0 if s != EDGE else 12.0, 10) for s in CONCRETE}
    found = chart(judged(readings, 10), None)
    assert found is not None
    assert set(found["coldest_c"]) == {12.0}


@pytest.mark.row("E3")
def test_what_is_not_known_is_no_number_and_never_nan() -> None:
    readings = {s: recorded(15.0, 24, from_h=6.0 if s == EDGE else 0.0) for s in CONCRETE}
    found = chart(judged(readings, 24), PLANS["common-practice"][STRIP])
    assert found is not None
    assert found["coldest_c"][:5] == [None] * 5
    assert json.dumps(found, allow_nan=False)
    nobody_knows = chart(judged(readings, 24, replace(make_case(), calibration=None)), None)
    assert nobody_knows is not None
    assert set(nobody_knows["bound_mpa"]) == {None}


def test_the_limit_is_the_strength_that_the_requirement_always_asks_for() -> None:
    readings = {s: recorded(15.0, 24) for s in CONCRETE}
    evidence = judged(readings, 24)
    for rule, limit in ((PLANS["common-practice"][STRIP], 3.5), (PLANS["common-practice"][LOAD], 7.0)):
        found = chart(evidence, rule)
        assert found is not None
        assert found["limit_mpa"] == limit
    for none in (PLANS["clock-or-strength"][LOAD], AgeRule(age_h=1), None):
        found = chart(evidence, none)
        assert found is not None
        assert found["limit_mpa"] is None


def test_before_there_is_anything_to_draw_there_is_no_chart() -> None:
    readings = {s: recorded(15.0, 24) for s in CONCRETE}
    rule = PLANS["common-practice"][STRIP]
    assert chart(judged(readings, 24, make_case(pour=make_pour())), rule) is None
    assert chart(judged({}, 24), rule) is None
    assert chart(judged({s: recorded(15.0, 0) for s in CONCRETE}, 0), rule) is None


def test_messages_of_a_requirement_carry_it() -> None:
    story = ran(site_with(), 26)
    story.press("sign", operations=["strip"])
    for kind in (MessageKind.SIGN_OFF_WANTED, MessageKind.RELEASED):
        drawing = told_of(story, kind)[0].facts["chart"]
        assert drawing["limit_mpa"] == 3.5
        assert drawing["hours"][-1] == pytest.approx((told_of(story, kind)[0].at_ms - END_MS) / HOUR_MS, abs=0.05)
    story.press("stop", "crew", why="crack")
    assert told_of(story, MessageKind.WITHDRAWAL)[0].facts["chart"] is not None
