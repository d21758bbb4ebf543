"""What people enter about a pour, the second person who checks it, and the mix that was delivered after all."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import END_MS, Story
from gates_support import OTHER_MIX, SLOW, finding_of, ran, site_with, told_of

from cure.entered import END_AGREES_MS
from shared.errors import ActRefusedError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, STRIP, WALK, BayId, Ms, PourId
from shared.models.calibration import Calibration
from shared.models.decisions import Beside, GateState, HoldKind
from shared.models.messages import MessageKind
from shared.ports import Result

S = GateState
CHECKED = site_with({"second_check": True})
PLAIN = site_with()


def end(story: Story, who: str = "superintendent", at_ms: Ms = END_MS, **fields: Any) -> Result:
    return story.press("pour_end", who, happened=instant(at_ms), **fields)


def check(story: Story, who: str = "qc", **changes: Any) -> Result:
    fields = {
        "mix": "c32-f",
        "ticket": "T-2-b1",
        "end": instant(END_MS),
        "loggers_alive": True,
        "plan_seen": True,
    }
    return story.press("second_check", who, **(fields | changes))


def entered(hours: float = 2.0) -> Story:
    """Return a pour whose end the superintendent entered."""
    story = ran(CHECKED, hours)
    end(story)
    return story


def is_checked(story: Story) -> bool:
    found = finding_of(story, STRIP, "second-person check")
    assert found is not None
    return found.met


@pytest.mark.row("O1", "O2")
def test_before_a_second_person_has_checked_it_nothing_is_met_and_the_finding_says_so() -> None:
    story = entered().run(30)
    assert (story.state(STRIP), story.state(WALK)) == (S.CURING, S.CURING)
    found = finding_of(story, STRIP, "second-person check")
    assert found is not None
    assert found.explain() == "second-person check: not done - not met"
    check(story)
    story.run(30.5)
    assert (story.state(STRIP), is_checked(story)) == (S.MET, True)


def test_where_the_plan_wants_no_second_check_there_is_no_such_finding() -> None:
    story = ran(PLAIN, 25)
    assert finding_of(story, STRIP, "second-person check") is None
    assert story.state() is S.MET


@pytest.mark.row("O1", "O2")
@pytest.mark.parametrize(
    ("who", "changes", "why"),
    [
        ("superintendent", {}, "a second person must check it"),
        ("crew", {}, "takes one of"),
        ("viewer", {}, "takes one of"),
        ("nobody", {}, "nobody called"),
        ("qc", {"loggers_alive": False}, "loggers seen alive"),
        ("qc", {"plan_seen": False}, "plan seen"),
        ("qc", {"end": instant(END_MS + END_AGREES_MS + 1)}, "differ by more than 15 min"),
        ("qc", {"end": instant(END_MS - END_AGREES_MS - 1)}, "differ by more than 15 min"),
    ],
)
def test_a_check_that_is_none_is_refused(who: str, changes: dict[str, Any], why: str) -> None:
    story = entered()
    with pytest.raises(ActRefusedError, match=why):
        check(story, who, **changes)
    assert not is_checked(story)


@pytest.mark.row("O2")
@pytest.mark.parametrize("hours", [-12, -24])
def test_an_end_entered_half_a_day_or_a_day_early_does_not_pass_the_second_person(hours: int) -> None:
    story = entered()
    with pytest.raises(ActRefusedError, match="enter the right one first"):
        check(story, end=instant(END_MS - hours * HOUR_MS))


def test_hours_of_the_end_that_nearly_agree_are_agreed() -> None:
    story = entered()
    check(story, end=instant(END_MS + END_AGREES_MS))
    assert is_checked(story.run(2.25))


def test_nothing_is_checked_before_the_end_is_entered() -> None:
    story = ran(CHECKED, 2)
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=None))
    with pytest.raises(ActRefusedError, match="is not entered yet"):
        check(story)


@pytest.mark.row("O2", "O3")
def test_a_later_end_voids_the_check_and_the_one_who_entered_it_does_not_check_it() -> None:
    story = entered()
    check(story)
    assert is_checked(story.run(3))
    end(story, "qc", END_MS + HOUR_MS)
    story.round()
    assert not is_checked(story)
    with pytest.raises(ActRefusedError, match="qc entered the end"):
        check(story, "qc", end=instant(END_MS + HOUR_MS))
    check(story, "superintendent", end=instant(END_MS + HOUR_MS))
    assert is_checked(story.run(3.25))


@pytest.mark.row("O3")
def test_concrete_again_counts_from_the_end_of_the_last_placement() -> None:
    story = ran(PLAIN, 24)
    end(story, "superintendent", END_MS + 6 * HOUR_MS)
    assert story.run(30).state() is S.CURING
    assert story.run(31).state() is S.MET


@pytest.mark.row("O2")
def test_a_check_that_was_voided_takes_no_release_away_by_itself() -> None:
    story = ran(CHECKED, 26)
    end(story)
    check(story)
    story.run(27)
    story.press("sign", "qc", operations=["strip"])
    end(story, "qc", END_MS + 60_000)
    story.run(28)
    assert (story.state(), is_checked(story)) == (S.RELEASED, False)


def test_an_end_entered_wakes_the_bays_poured_against_this_one() -> None:
    story = ran(PLAIN, 2)
    beside = Beside(PourId("2-b2-p1"), BayId("2-b2"), END_MS - HOUR_MS, END_MS - 60_000)
    story.case = replace(story.case, beside=(beside,))
    assert end(story).wake == ("2-b2",)


@pytest.mark.row("O1")
def test_a_ticket_with_another_mix_is_a_hold_of_qc_and_no_check() -> None:
    story = entered()
    result = check(story, mix=OTHER_MIX)
    assert [(h.kind, h.owner) for h in result.holds] == [(HoldKind.MIX, "qc")]
    assert result.holds[0].reason == "the ticket T-2-b1 says c25, c32-f was entered"
    (told,) = [m for m in result.messages if m.kind is MessageKind.HOLD]
    assert told.facts["owner_people"] == ["qc", "qc-two"]
    assert (story.run(26).state(), is_checked(story)) == (S.HOLD, False)


def delivered(story: Story, who: str = "qc", second: str = "superintendent", mix: str = OTHER_MIX) -> Result:
    return story.press("mix", who, mix=mix, second_person=second, why="ticket 41")


def judged_by(story: Story, calibration: Calibration | None) -> Result:
    """Judge once more, as the site book then hands the case out: with the other mix and its calibration."""
    mix = story.case.site.mix_named(story.case.pour.mix)
    story.case = replace(story.case, mix=mix, calibration=calibration)
    return story.round()


@pytest.mark.row("O1")
def test_another_mix_settles_the_doubt_and_is_judged_from_the_next_round_on() -> None:
    story = entered()
    check(story, mix=OTHER_MIX)
    result = delivered(story)
    assert (result.holds, result.pour.mix, result.pour.calibration_version) == ((), OTHER_MIX, None)
    assert result.state.next_due_ms == story.now_ms
    assert judged_by(story, SLOW).pour.calibration_version == SLOW.version
    assert not is_checked(story)
    check(story, mix=OTHER_MIX)
    story.round()
    assert is_checked(story)


@pytest.mark.row("O1")
def test_a_check_of_the_first_mix_does_not_stand_for_the_other_one() -> None:
    story = entered()
    check(story)
    delivered(story)
    judged_by(story, SLOW)
    assert not is_checked(story)


@pytest.mark.row("O1")
@pytest.mark.parametrize("calibration", [SLOW, None], ids=["slower", "not calibrated"])
def test_a_slower_mix_or_one_that_nobody_calibrated_withdraws_what_was_released(
    calibration: Calibration | None,
) -> None:
    story = ran(PLAIN, 25)
    story.press("sign", operations=["strip", "walk"])
    delivered(story)
    judged_by(story, calibration)
    assert (story.state(STRIP), story.state(WALK)) == (S.WITHDRAWN, S.WITHDRAWN)
    told = told_of(story, MessageKind.WITHDRAWAL)
    assert [m.subject for m in told] == [STRIP, WALK]
    assert ("lower bound of strength" if calibration else "no calibration of mix c25") in told[0].facts["cause"]
    judged_by(story, calibration)
    assert len(told_of(story, MessageKind.WITHDRAWAL)) == 2


@pytest.mark.row("O1")
def test_nothing_is_met_or_signed_in_the_round_that_changes_the_mix() -> None:
    story = ran(PLAIN, 25)
    story.press("sign", operations=["walk"])
    delivered(story)
    assert story.state(STRIP) is S.NOT_SET_UP
    with pytest.raises(ActRefusedError, match="there is nothing to sign"):
        story.press("sign", operations=["strip"])
    judged_by(story, SLOW)
    assert story.state(STRIP) is S.CURING


@pytest.mark.row("O1")
@pytest.mark.parametrize(
    ("who", "second", "mix", "why"),
    [
        ("superintendent", "qc", OTHER_MIX, "takes one of: qc, engineer"),
        ("qc", "qc", OTHER_MIX, "second person"),
        ("qc", "crew", OTHER_MIX, "second person"),
        ("qc", "nobody", OTHER_MIX, "second person"),
        ("qc", "engineer", "c99", "no mix 'c99' in the site file; there are: c32-f, c25"),
        ("qc", "engineer", "c32-f", "has the mix c32-f already"),
    ],
)
def test_a_mix_is_changed_by_two_people_to_one_of_the_sites(who: str, second: str, mix: str, why: str) -> None:
    story = ran(PLAIN, 2)
    with pytest.raises(ActRefusedError, match=why):
        delivered(story, who, second, mix)
    assert story.case.pour.mix == "c32-f"
