"""Hours that only the wall clock has seen: they earn nothing, and take nothing away."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Story, make_case
from gates_support import finding_of, ran, site_with, told_of
from store_support import AIR, EDGE

from cure.work import SLACK_MS
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

S = GateState
SITE = site_with()
RULE = "checked elapsed time"


def ahead(story: Story, jump_ms: int, elapsed_h: float, hours: float) -> Story:
    """Let the wall clock jump, and readings with its hours come on, while nobody vouches for any of them."""
    story.now_ms += jump_ms
    story.elapsed_ms = round(elapsed_h * HOUR_MS)
    return story.run((story.now_ms - END_MS) / HOUR_MS + hours)


def counted_h(story: Story) -> float:
    estimate = story.case.state.estimate
    assert estimate is not None
    return estimate.counted_h["5"]


@pytest.mark.row("C6", "E12")
def test_a_wall_clock_ten_days_ahead_releases_nothing_and_the_finding_says_so() -> None:
    story = ran(SITE, 10)
    for jump_ms in (10 * DAY_MS, 0):
        ahead(story, jump_ms, 10.0, 15)
        assert (story.state(), counted_h(story)) == (S.CURING, 10.0)
    assert MessageKind.SIGN_OFF_WANTED not in story.told()
    found = finding_of(story, STRIP, RULE)
    assert found is not None
    assert found.explain() == f"{RULE}: 10.0 h - not met"


@pytest.mark.row("C6")
@pytest.mark.parametrize("from_h", [24.75, 30.0])
def test_a_wall_clock_ten_days_ahead_withdraws_nothing(from_h: float) -> None:
    story = ran(SITE, from_h)
    story.press("sign", operations=["strip"])
    for elapsed_h, jump_ms in ((from_h, 10 * DAY_MS), (3.0, 0), (0.0, 0)):
        ahead(story, jump_ms, elapsed_h, 2)
        assert story.state(STRIP) is S.RELEASED
    assert told_of(story, MessageKind.WITHDRAWAL) == []
    assert told_of(story, MessageKind.RELEASED_EARLY) == []


@pytest.mark.row("C6", "E13")
def test_a_clock_that_nobody_vouches_for_hides_no_contradiction() -> None:
    story = ran(SITE, 25)
    story.press("sign", operations=["strip"])
    story.elapsed_ms = 3 * HOUR_MS
    story.run(26)
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * QUARTER_MS, 4.0)
    story.round()
    assert story.state() is S.WITHDRAWN
    assert "counted hours" in told_of(story, MessageKind.WITHDRAWAL)[0].facts["cause"]


@pytest.mark.row("C6", "E12")
@pytest.mark.parametrize("elapsed_h", [0.0, 3.0, 11.99, 24.0, 30.0])
def test_no_more_hours_are_counted_than_have_passed_by_the_checked_clock(elapsed_h: float) -> None:
    story = ran(SITE, 30)
    story.elapsed_ms = round(elapsed_h * HOUR_MS)
    story.round()
    estimate = story.case.state.estimate
    assert estimate is not None
    assert estimate.counted_h.get("5", 0.0) <= elapsed_h
    assert estimate.equivalent_age_h is None or estimate.equivalent_age_h <= elapsed_h


@pytest.mark.parametrize(("short_ms", "said"), [(SLACK_MS, False), (QUARTER_MS, True)])
def test_a_minute_that_nobody_vouches_for_is_not_worth_a_word(short_ms: int, said: bool) -> None:
    story = ran(SITE, 10)
    story.elapsed_ms = story.now_ms - END_MS - short_ms
    story.round()
    assert (finding_of(story, STRIP, RULE) is not None) is said


@pytest.mark.row("C6")
def test_credit_that_is_vouched_for_is_enough_although_later_hours_are_not() -> None:
    story = ran(SITE, 24)
    story.elapsed_ms = 26 * HOUR_MS
    assert story.run(30).state() is S.MET
    story.press("sign", operations=["strip"])
    assert story.state() is S.RELEASED


@pytest.mark.row("C6", "E12")
def test_where_nobody_knows_how_long_it_is_nothing_is_credited() -> None:
    story = Story(make_case(SITE))
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=END_MS))
    story.elapsed_ms = 0
    story.run(40)
    assert (story.state(STRIP), story.state(WALK)) == (S.CURING, S.CURING)


@pytest.mark.row("C11")
def test_after_a_sleep_of_eight_hours_the_first_round_releases_nothing_on_the_old_estimate() -> None:
    story = ran(SITE, 24)
    story.now_ms += 8 * HOUR_MS
    story.round()
    assert story.state() is S.CURING
    for quarter in range(1, 33):
        for sensor in (*CONCRETE, AIR):
            story.add(sensor, END_MS + 24 * HOUR_MS + quarter * QUARTER_MS, 12.0 if sensor == AIR else 18.0)
    story.round()
    assert story.state() is S.CURING, "one estimate alone opens nothing"
    story.now_ms += MINUTE_MS
    story.round()
    assert story.state() is S.MET
