"""What becomes of a release: contradicted once, found too early once, told when the service is in doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Story, make_case
from gates_support import edit, ran, requirement, site_with, told_of
from requirements_support import broken
from store_support import EDGE, make_calibration

from cure.released import EARLY_WITHIN_MS
from shared.models.base import FULL_LOAD, HOUR_MS, LOAD, MINUTE_MS, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

S = GateState
PLAIN = site_with()


def released(hours: float = 26.0) -> Story:
    story = ran(PLAIN, hours)
    story.press("sign", operations=["strip"])
    return story


def colder(story: Story, hours: float, c: float = 4.0, *, at_h: float = 3.0) -> Story:
    """Let so many cold hours come in late, one after another."""
    for quarter in range(round(hours * 4)):
        story.add(EDGE, END_MS + round(at_h * HOUR_MS) + quarter * QUARTER_MS, c)
    return story


@pytest.mark.row("E13")
def test_a_release_that_came_too_early_and_stands_now_is_told_once_with_its_hours() -> None:
    story = released(25.0)
    at_ms = story.now_ms
    story.silent = set(CONCRETE)
    story.now_ms += 8 * HOUR_MS
    for quarter in range(1, 33):
        for sensor in CONCRETE:
            story.add(sensor, at_ms + quarter * QUARTER_MS, 18.0)
    colder(story, 3.0).round()
    assert story.state() is S.RELEASED
    (told,) = told_of(story, MessageKind.RELEASED_EARLY)
    # Three hours below the limit, and the quarter that leads in and out; 25 h had been counted when it was signed.
    assert told.facts["hours_early"] == pytest.approx(2.25, abs=EARLY_WITHIN_MS / HOUR_MS)
    assert (told.subject, told.epoch) == (STRIP, story.case.gates[STRIP].epoch)
    for _ in range(3):
        story.round()
    colder(story, 4.0, 3.5).round()
    assert len(told_of(story, MessageKind.RELEASED_EARLY)) == 1
    assert told_of(story, MessageKind.WITHDRAWAL) == []


@pytest.mark.row("E13")
def test_a_release_that_does_not_stand_now_is_withdrawn_and_not_called_early() -> None:
    story = colder(released(25.0), 5.0)
    story.round()
    assert story.state() is S.WITHDRAWN
    assert told_of(story, MessageKind.RELEASED_EARLY) == []


def test_a_release_that_stood_at_its_hour_is_never_called_early() -> None:
    story = released().run(40)
    assert told_of(story, MessageKind.RELEASED_EARLY) == []


@pytest.mark.row("A14")
def test_each_release_of_its_own_epoch_may_be_found_early_once() -> None:
    story = released(25.0)
    story.press("stop", "crew", why="crack")
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True})
    story.press("reopen", "engineer", operation="strip", cause="looked at")
    story.run(26)
    story.press("sign", operations=["strip"])
    story.run(34)
    colder(story, 3.0).round()
    (told,) = told_of(story, MessageKind.RELEASED_EARLY)
    assert told.epoch == story.case.gates[STRIP].epoch == 3


@pytest.mark.row("A14", "E13")
def test_a_contradicted_release_is_withdrawn_once_and_stays_shut_while_the_evidence_comes_and_goes() -> None:
    story = colder(released(25.0), 3.0)
    story.round()
    for hours in (26, 27, 28, 29, 30):
        colder(story.run(hours), 1.0, 3.0, at_h=hours - 20).round()
    assert story.state() is S.WITHDRAWN
    assert len([m for m in told_of(story, MessageKind.WITHDRAWAL) if m.subject == STRIP]) == 1
    assert told_of(story, MessageKind.RELEASED)[0].epoch == 1


def restless(story: Story, from_ms: int, c: float = 2.0) -> Story:
    """Let a required sensor say another value eighteen times, five minutes apart, between its readings of before."""
    for n in range(18):
        story.add(EDGE, from_ms + n * 5 * MINUTE_MS + MINUTE_MS, c)
    return story


@pytest.mark.row("E13")
@pytest.mark.parametrize("sign_offs", [0, 1])
def test_late_readings_that_leave_a_sensor_unbelieved_take_back_what_rests_on_it(sign_offs: int) -> None:
    story = released() if sign_offs else ran(site_with({"sign_offs": 0}), 26)
    assert story.state() is (S.RELEASED if sign_offs else S.MET)
    restless(story, story.now_ms - 6 * HOUR_MS).round()
    told = told_of(story, MessageKind.WITHDRAWAL)[0]
    assert (story.state(), told.subject) == (S.WITHDRAWN if sign_offs else S.HOLD, STRIP)
    if sign_offs:
        assert "goes up and down faster than concrete can" in told.facts["cause"]
    story.round()
    assert len([m for m in told_of(story, MessageKind.WITHDRAWAL) if m.subject == STRIP]) == 1


@pytest.mark.row("E13")
def test_a_sensor_that_goes_wild_after_a_release_says_nothing_of_what_it_rests_on() -> None:
    story = released()
    restless(story.run(30), story.now_ms - 2 * HOUR_MS, 8.0).round()
    assert story.case.holds
    assert story.state() is S.RELEASED


@pytest.mark.row("A14")
def test_what_is_done_is_contradicted_once_an_epoch() -> None:
    story = released(25.0)
    for kind in ("under_way", "done"):
        story.press(kind, "crew", operation="strip")
    colder(story, 5.0).round()
    for _ in range(5):
        story.round()
    assert [(m.subject, m.facts["done"]) for m in told_of(story, MessageKind.WITHDRAWAL)] == [(STRIP, True)]
    assert story.state() is S.DONE


@pytest.mark.row("E5")
@pytest.mark.parametrize(
    "changes",
    [
        {"parameters": {"su_mpa": 40.0, "tau_h": 120.0, "beta": 0.9}},
        {"tested_from_h": 200.0},
        {"covariance": ((400.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 0.0001))},
    ],
)
def test_a_calibration_that_says_less_withdraws_what_stood_on_the_other(changes: dict[str, Any]) -> None:
    story = released()
    story.case = replace(story.case, calibration=make_calibration(version=2, **changes))
    story.round()
    assert story.state() is S.WITHDRAWN
    assert "lower bound of strength" in told_of(story, MessageKind.WITHDRAWAL)[0].facts["cause"]


@pytest.mark.row("E5")
def test_a_binder_that_was_said_to_be_plain_and_is_not_withdraws_what_stood_on_it() -> None:
    just = make_calibration(parameters={"su_mpa": 24.0, "tau_h": 44.0, "beta": 0.9}, tested_from_h=8.0)
    story = Story(make_case(PLAIN, just)).run(29)
    bound = story.case.state.estimate
    assert bound is not None
    assert bound.lower_bound_mpa is not None
    story.case = replace(story.case, edits=(edit(1, requirement("strip", {"lower_bound_mpa": bound.lower_bound_mpa})),))
    story.run(31)
    story.press("sign", operations=["strip"])
    assert story.state() is S.RELEASED
    story.case = replace(story.case, mix=story.case.mix.model_copy(update={"supplementary": True, "retarded": True}))
    story.round()
    assert story.state() is S.WITHDRAWN


@pytest.mark.row("E5", "M18")
def test_a_stricter_requirement_of_the_engineer_withdraws_what_does_not_meet_it() -> None:
    story = released()
    story.case = replace(story.case, edits=(edit(1, requirement("strip", {"lower_bound_mpa": 60.0})),))
    story.round()
    assert (story.state(STRIP), story.state(WALK)) == (S.WITHDRAWN, S.MET)
    facts = told_of(story, MessageKind.WITHDRAWAL)[0].facts
    assert (facts["requirement_version"], facts["requirement"]) == (
        "edit 1",
        "lower bound of strength 60.0 MPa (8703 psi)",
    )


def test_a_low_test_that_comes_later_withdraws_a_full_load() -> None:
    site = site_with({"also": ["full load"]})
    story = ran(site, 30)
    for operation in ("strip", "load"):
        story.press("sign", "engineer", operations=[operation])
        for kind in ("under_way", "done"):
            story.press(kind, "crew", operation=operation)
        story.run(31 if operation == "strip" else 32)
    tests = tuple(broken(mpa, equivalent_age_h=20.0, tested_ms=story.now_ms) for mpa in (24.0, 30.0))
    story.case = replace(story.case, tests=tests)
    story.run(33)
    assert story.state(FULL_LOAD) is S.MET
    story.press("sign", "engineer", operations=["full load"])
    low = broken(23.9, equivalent_age_h=20.0, tested_ms=story.now_ms)
    story.case = replace(story.case, tests=(*tests, low))
    story.round()
    assert (story.state(FULL_LOAD), story.state(LOAD)) == (S.WITHDRAWN, S.DONE)


@pytest.mark.row("C6", "C8")
def test_who_acts_on_a_release_is_told_once_that_its_status_is_in_doubt() -> None:
    story = released()
    story.press("sign", operations=["walk"])
    story.press("under_way", "crew", operation="walk")
    story.clock_ok = False
    for _ in range(3):
        story.round()
    told = told_of(story, MessageKind.IN_DOUBT)
    assert [m.subject for m in told] == [STRIP, WALK]
    assert {m.facts["reason"] for m in told} == {"the service's clock is not synchronised"}
    assert "ask the engineer of record" in told[0].facts["how"]
    story.clock_ok = True
    story.round()
    assert (story.state(STRIP), story.state(WALK)) == (S.RELEASED, S.UNDER_WAY)
    story.clock_ok = False
    story.round()
    assert [m.epoch for m in told_of(story, MessageKind.IN_DOUBT)] == [1, 2, 3, 4]


def test_where_nobody_acts_yet_a_doubt_is_told_to_nobody() -> None:
    story = ran(PLAIN, 26)
    story.clock_ok = False
    story.round()
    assert story.state() is S.SUSPENDED
    assert told_of(story, MessageKind.IN_DOUBT) == []


@pytest.mark.row("C7")
def test_a_clock_put_back_by_more_than_two_minutes_contradicts_nothing() -> None:
    story = released(24.75)
    story.now_ms -= 60 * MINUTE_MS
    story.round()
    assert story.state() is S.RELEASED
