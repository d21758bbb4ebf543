"""Little stories of what takes a release, or "met, not signed", away again, and what does not."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Story, make_case, plain
from store_support import AIR, EDGE, make_site, site_dict

from shared.models.base import HOUR_MS, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

S = GateState


def plan(**changes: object) -> dict[str, object]:
    return {**site_dict()["plan"], **changes}


@pytest.mark.row("E13")
def test_late_colder_readings_withdraw_a_release() -> None:
    story = plain(25)
    story.press("sign", operations=["strip"])
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * QUARTER_MS, 3.0)
    story.round()
    assert story.state() is S.WITHDRAWN
    assert story.told()[-1] is MessageKind.WITHDRAWAL
    story.round()
    assert story.told().count(MessageKind.WITHDRAWAL) == 1


def test_an_end_of_pour_moved_later_withdraws_a_release() -> None:
    story = plain(25)
    story.press("sign", operations=["strip", "walk"])
    later = END_MS + 3 * HOUR_MS
    story.press("pour_end", happened=datetime.fromtimestamp(later / 1000, UTC))
    assert (story.state(STRIP), story.state(WALK)) == (S.WITHDRAWN, S.WITHDRAWN)


def test_silence_after_a_release_withdraws_nothing() -> None:
    story = plain(25)
    story.press("sign", operations=["strip"])
    story.silent = set(CONCRETE)
    assert story.run(60).state() is S.RELEASED


def released(state: GateState = S.RELEASED) -> Story:
    """Return a warm pour whose strip was released at 25 h, and perhaps begun and done."""
    story = plain(25)
    story.press("sign", operations=["strip"])
    for act in {S.UNDER_WAY: ("under_way",), S.DONE: ("under_way", "done")}.get(state, ()):
        story.press(act, "super", operation="strip")
    return story


def turned_cold(story: Story, c: float = 4.0) -> Story:
    """Let five cold hours come in late, and judge."""
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * QUARTER_MS, c)
    story.round()
    return story


def withdrawals(story: Story) -> list[tuple[str, bool]]:
    return [(m.subject, m.facts["done"]) for m in story.messages if m.kind is MessageKind.WITHDRAWAL]


@pytest.mark.row("C8", "E13")
@pytest.mark.parametrize(
    ("state", "after", "done"),
    [(S.RELEASED, S.WITHDRAWN, False), (S.UNDER_WAY, S.WITHDRAWN, True), (S.DONE, S.DONE, True)],
)
@pytest.mark.parametrize("suspended_before", [True, False])
def test_a_contradiction_does_not_wait_for_the_clock(
    state: GateState, after: GateState, done: bool, suspended_before: bool
) -> None:
    story = released(state)
    story.clock_ok = False
    if suspended_before:
        story.round()
    turned_cold(story)
    assert story.state() is after
    assert withdrawals(story) == [(STRIP, done)]
    story.round()
    story.clock_ok = True
    story.round()
    assert story.state() is after
    assert withdrawals(story) == [(STRIP, done)]


@pytest.mark.row("C7")
@pytest.mark.parametrize("clock_ok", [True, False])
def test_a_clock_that_was_put_back_takes_no_release_away(clock_ok: bool) -> None:
    story = released()
    story.now_ms -= 3 * HOUR_MS
    story.clock_ok = clock_ok
    story.round()
    assert withdrawals(story) == []
    story.now_ms += 3 * HOUR_MS
    story.clock_ok = True
    assert story.run(26).state() is S.RELEASED


@pytest.mark.parametrize("state", [S.RELEASED, S.UNDER_WAY, S.DONE])
def test_a_contradiction_is_told_with_what_people_have_done_already(state: GateState) -> None:
    story = turned_cold(released(state))
    assert withdrawals(story) == [(STRIP, state is not S.RELEASED)]
    assert story.state() is (S.DONE if state is S.DONE else S.WITHDRAWN)
    assert "counted hours" in story.messages[-1].facts["cause"]


def test_a_conflict_after_a_release_leaves_it_to_the_colder_reading() -> None:
    story = released()
    story.conflict(EDGE, END_MS + HOUR_MS, 16.0, 18.0)
    story.round()
    assert (story.state(STRIP), story.state(WALK)) == (S.RELEASED, S.HOLD)


@pytest.mark.row("E11")
def test_freezing_found_after_a_release_withdraws_it() -> None:
    story = released()
    story.add(EDGE, END_MS + HOUR_MS, 0.2)
    story.round()
    assert story.state() is S.WITHDRAWN
    assert MessageKind.FREEZE_LOCKED in story.told()


@pytest.mark.row("C8", "E13")
@pytest.mark.parametrize("clock_ok", [True, False])
def test_met_not_signed_is_taken_back_although_the_clock_was_in_doubt_meanwhile(clock_ok: bool) -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=0)))).run(25)
    story.clock_ok = False
    story.round()
    story.clock_ok = clock_ok
    turned_cold(story)
    assert story.state() is (S.CURING if clock_ok else S.SUSPENDED)
    assert withdrawals(story) == [(STRIP, False), (WALK, False)]
    story.clock_ok = True
    story.round()
    story.round()
    assert len(withdrawals(story)) == 2


@pytest.mark.row("C8")
def test_met_not_signed_outlives_a_clock_in_doubt_when_the_evidence_stands() -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=0)))).run(25)
    story.clock_ok = False
    story.run(25.5)
    story.clock_ok = True
    assert story.run(26).state() is S.MET
    assert withdrawals(story) == []
    assert [m.epoch for m in story.messages if m.kind is MessageKind.MET_NOT_SIGNED and m.subject == STRIP] == [1, 2]


def test_met_not_signed_that_is_contradicted_later_while_all_is_silent_is_taken_back() -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=0)))).run(25)
    story.clock_ok, story.silent = False, set(CONCRETE)
    story.run(26)
    story.clock_ok = True
    story.round()
    assert (story.state(), withdrawals(story)) == (S.CURING, [])
    turned_cold(story)
    assert withdrawals(story) == [(STRIP, False), (WALK, False)]


def test_without_sign_offs_it_is_met_not_signed_and_is_taken_back_only_by_what_lasts() -> None:
    story = Story(make_case(make_site(plan=plan(sign_offs=0)))).run(25)
    assert MessageKind.MET_NOT_SIGNED in story.told()
    assert MessageKind.RELEASED not in story.told()
    story.silent = {*CONCRETE, AIR}
    assert story.run(30).state() is S.MET
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * QUARTER_MS, 4.0)
    story.round()
    assert story.state() is S.CURING
    assert MessageKind.WITHDRAWAL in story.told()
