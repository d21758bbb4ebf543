"""A requirement made easier, or a required sensor taken away, while a pour is being judged."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import Story, make_case
from gates_support import CRANE, edit, ran, requirement, resited, site_with, told_of
from store_support import EDGE, END

from shared.errors import ActRefusedError
from shared.models.base import STRIP, WALK, SensorId
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import MessageKind
from shared.models.requirement import Requirement
from shared.models.setup import SiteFile

S = GateState
LOWERED = HoldKind.REQUIREMENT_LOWERED
STRICT = site_with({"use": "strict"})
COMMON = site_with()


def strip_at(mpa: float, **changes: Any) -> Requirement:
    return requirement("strip", {"lower_bound_mpa": mpa}, {"age_h": 20}, **changes)


def written(*requirements: Requirement) -> SiteFile:
    return site_with(requirement=requirements)


def holds(story: Story) -> list[HoldKind]:
    return [hold.kind for hold in story.case.holds]


def sensors(story: Story, *, without: SensorId | None = None, moved: SensorId | None = None) -> Story:
    """Change the placements as the site book does when a sensor is not required any more, or was moved away."""
    changed = [
        replace(p, required=False)
        if p.sensor == without
        else replace(p, to_ms=story.now_ms)
        if p.sensor == moved
        else p
        for p in story.case.placements
    ]
    story.case = replace(story.case, placements=tuple(changed))
    return story


@pytest.mark.row("O6", "O14", "M18")
def test_an_easier_plan_after_the_first_reading_is_a_hold_of_the_engineer() -> None:
    story = resited(ran(STRICT, 3), COMMON)
    result = story.round()
    assert [(hold.kind, hold.owner) for hold in result.holds] == [(LOWERED, "engineer")]
    assert "strip asks for less than before (plan common-practice)" in result.holds[0].reason
    (told,) = told_of(story, MessageKind.HOLD)
    assert told.facts["owner_people"] == ["engineer"]
    assert story.run(30).state() is S.HOLD
    assert len(told_of(story, MessageKind.HOLD)) == 1


def test_a_stricter_plan_is_taken_as_it_is() -> None:
    story = resited(ran(COMMON, 3), STRICT)
    story.round()
    assert holds(story) == []
    assert resited(story, COMMON).round().holds != (), "and from then on it is what counts"


@pytest.mark.row("O14")
def test_before_the_first_reading_anything_may_be_written() -> None:
    story = Story(make_case(STRICT))
    story.round()
    resited(story, COMMON).round()
    assert holds(story) == []
    assert holds(story.run(3)) == []


@pytest.mark.row("O14")
@pytest.mark.parametrize("who", ["superintendent", "qc"])
def test_only_the_engineer_lifts_it(who: str) -> None:
    story = resited(ran(STRICT, 3), COMMON)
    story.round()
    with pytest.raises(ActRefusedError, match="this takes one of: engineer"):
        story.press("lift", who, hold=LOWERED, why="fine")
    story.press("lift", "engineer", hold=LOWERED, why="rev 3")
    assert holds(story) == []
    assert holds(story.run(4)) == []
    assert story.run(26).state() is S.MET


@pytest.mark.row("O6", "M18")
@pytest.mark.parametrize(("mpa", "held"), [(3.5, False), (5.0, False), (5.1, False), (4.999, True), (1.0, True)])
def test_a_limit_of_the_site_file_that_is_written_lower_is_found(mpa: float, held: bool) -> None:
    # 3.5 is what the other site began with.
    story = ran(written(strip_at(5.0 if mpa != 3.5 else 3.5)), 3)
    resited(story, written(strip_at(mpa))).round()
    assert (holds(story) == [LOWERED]) is held


@pytest.mark.row("O14")
def test_fewer_who_must_sign_is_found() -> None:
    both = {"signed_by": ["engineer", "qc"], "each_signs": True}
    story = resited(ran(written(strip_at(5.0, **both)), 3), written(strip_at(5.0, signed_by=["engineer"])))
    story.round()
    assert holds(story) == [LOWERED]


def test_what_the_engineer_wrote_on_the_site_book_is_taken_as_it_is() -> None:
    story = ran(STRICT, 3)
    story.case = replace(story.case, edits=(edit(1, strip_at(2.0)),))
    story.round()
    assert holds(story) == []
    assert story.run(22).state() is S.MET


@pytest.mark.row("O14", "M18")
def test_an_operation_that_is_written_no_more_is_judged_on_and_held() -> None:
    crane = requirement(CRANE, {"lower_bound_mpa": 5.0})
    story = resited(ran(written(crane), 3), COMMON)
    story.round()
    assert holds(story) == [LOWERED]
    assert "crane pad is written no more" in story.case.holds[0].reason
    assert CRANE in story.case.gates
    assert story.case.gates[CRANE].state is S.HOLD
    story.press("lift", "engineer", hold=LOWERED, why="not needed")
    assert holds(story.run(4)) == []


@pytest.mark.row("O13", "O14")
def test_a_required_sensor_that_is_not_required_any_more_is_found() -> None:
    story = sensors(ran(COMMON, 3), without=EDGE)
    story.round()
    assert holds(story) == [LOWERED]
    assert story.case.holds[0].reason == f"{EDGE} is not required any more"
    assert story.run(30).state() is S.HOLD


@pytest.mark.row("O13", "O14", "L7")
def test_a_required_sensor_that_was_moved_away_is_found_although_nobody_else_has_spoken() -> None:
    alone = sensors(Story(make_case(COMMON)), without=None)
    alone.silent = {s for s in alone.profile if s != END}
    alone.run(1)
    sensors(alone, moved=END).round()
    assert holds(alone) == [LOWERED]


@pytest.mark.row("O13", "O14")
def test_removal_after_a_release_holds_what_is_not_released_and_checks_what_is() -> None:
    story = ran(COMMON, 25)
    story.press("sign", operations=["strip"])
    sensors(story, without=EDGE).round()
    assert (story.state(STRIP), story.state(WALK)) == (S.RELEASED, S.HOLD)
    story.add(END, story.now_ms - 900_000 * 40, 0.1)
    story.round()
    assert story.state(STRIP) is S.WITHDRAWN


def test_a_sensor_more_is_no_hold() -> None:
    story = ran(COMMON, 3)
    new = replace(story.case.placements[0], sensor=SensorId("lg-05.1"), from_ms=story.now_ms)
    story.case = replace(story.case, placements=(*story.case.placements, new))
    story.round()
    assert holds(story) == []
    sensors(story, moved=SensorId("lg-05.1")).round()
    assert holds(story) == [LOWERED]


@pytest.mark.row("O8", "O9", "O14")
def test_a_first_signature_does_not_outlive_the_requirement_it_was_given_for() -> None:
    story = ran(site_with({"sign_offs": 2}), 25)
    story.press("sign", operations=["strip", "walk"])
    stricter = site_with({"sign_offs": 2}, requirement=[strip_at(3.5)])
    story.case = replace(story.case, edits=(edit(1, requirement("strip", {"lower_bound_mpa": 2.0})),), site=stricter)
    story.round()
    assert (story.state(STRIP), story.case.gates[STRIP].signers) == (S.CURING, ())
    assert (story.state(WALK), story.case.gates[WALK].signers) == (S.MET, ("qc",))
    story.run(26)
    story.press("sign", "engineer", operations=["strip"])
    assert story.state(STRIP) is S.MET
