"""Acts on a pour: who may, when they are accepted, what they change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from cure_support import CONCRETE, DESK, END_MS, Story, at, make_case, plain, site_of_all, warm
from store_support import AIR, BAY, EDGE, OTHER_BAY, bay_dict, make_calibration

from shared.errors import ActRefusedError
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, Ms
from shared.models.decisions import Gate, GateState
from shared.models.messages import MessageKind
from shared.models.people import Role
from shared.ports import Result

S = GateState


def instant(ms: Ms) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC)


def end(story: Story, ms: Ms, who: str = "qc", **fields: object) -> Result:
    return story.press("pour_end", who, happened=instant(ms), **fields)


HANDS = {Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER}
RIGHTS = [
    ("pour_end", {}, S.CURING, DESK),
    ("sign", {"operations": ["strip"]}, S.MET, DESK),
    ("sign", {"operations": ["walk"]}, S.MET, DESK),
    ("under_way", {"operation": "strip"}, S.RELEASED, HANDS),
    ("done", {"operation": "strip"}, S.UNDER_WAY, HANDS),
    ("forms_off", {}, S.CURING, HANDS),
    ("reopen", {"operation": "strip", "cause": "seen"}, S.WITHDRAWN, DESK),
    ("stop", {"why": "crack"}, S.MET, set(Role)),
]


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize(("kind", "fields", "state", "may"), RIGHTS, ids=[f"{r[0]} {r[1]}" for r in RIGHTS])
def test_an_act_is_taken_from_those_who_may_and_refused_to_all_others(
    kind: str, fields: dict[str, object], state: GateState, may: set[Role], role: Role
) -> None:
    story = at(state)
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True})
    if role in may:
        story.press(kind, role.value, **fields)
        return
    with pytest.raises(ActRefusedError, match=f"{role.value} is {role.value}; this takes one of"):
        story.press(kind, role.value, **fields)


@pytest.mark.parametrize("kind", ["under_way", "done"])
def test_somebody_whom_the_site_file_does_not_name_may_do_nothing_but_stop(kind: str) -> None:
    story = at(S.RELEASED)
    with pytest.raises(ActRefusedError, match="nobody called"):
        story.press(kind, "passer-by", operation="strip")
    assert {g.state for g in story.press("stop", "passer-by", why="crack").gates} == {S.WITHDRAWN}


@pytest.mark.row("O2")
@pytest.mark.parametrize("minutes", [-60, -61, 24 * 60 + 1])
def test_a_pour_ends_after_its_start_and_not_in_the_future(minutes: int) -> None:
    story = warm(24)
    with pytest.raises(ActRefusedError, match="after its start and not in the future"):
        end(story, END_MS + minutes * MINUTE_MS, second_person="super")


@pytest.mark.row("O2")
@pytest.mark.parametrize("second", [None, "qc", "crew", "viewer", "installer", "admin", "nobody"])
def test_an_end_moved_earlier_needs_a_second_person_of_the_desk(second: str | None) -> None:
    story = warm(10)
    with pytest.raises(ActRefusedError, match="needs a second person"):
        end(story, END_MS - 1, second_person=second)
    assert story.case.pour.end_ms == END_MS


@pytest.mark.parametrize("second", ["superintendent", "qc-two", "engineer"])
def test_two_people_of_the_desk_move_an_end_earlier(second: str) -> None:
    story = warm(10)
    assert end(story, END_MS - 1, second_person=second).pour.end_ms == END_MS - 1


def test_one_person_moves_an_end_later() -> None:
    assert end(warm(10), END_MS + 1).pour.end_ms == END_MS + 1


@pytest.mark.row("O2")
def test_an_end_moved_earlier_releases_nothing_at_once_and_nothing_without_a_signature() -> None:
    story = Story()
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=END_MS + HOUR_MS))
    story.run(24.75)
    assert story.state() is S.CURING
    moved = end(story, END_MS, second_person="super")
    assert moved.state.verdicts[0].met  # the evidence is there now
    assert story.state() is S.CURING
    assert moved.messages == ()
    story.run(30)
    assert story.state() is S.MET
    assert MessageKind.RELEASED not in story.told()


def test_an_end_moved_earlier_leaves_a_release_as_it_is() -> None:
    story = warm(25)
    story.press("sign", operations=["strip"])
    before = story.case.gates
    end(story, END_MS - 30 * MINUTE_MS, second_person="superintendent")
    assert story.case.gates == before


@pytest.mark.row("E5")
def test_the_end_binds_the_pour_to_the_calibration_of_that_hour() -> None:
    case = make_case(calibration=make_calibration(version=7))
    story = Story(replace(case, pour=replace(case.pour, end_ms=None, calibration_version=None))).run(2)
    assert end(story, END_MS).pour.calibration_version == 7
    story.case = replace(story.case, calibration=make_calibration(version=8))
    assert end(story, END_MS + 1).pour.calibration_version == 7


def test_whoever_signs_while_a_met_requirement_is_being_confirmed_is_told_so() -> None:
    story = plain(24.25)
    assert (story.state(), story.case.state.verdicts[0].met) == (S.CURING, True)
    told = "nothing to sign yet: the requirement is met and being confirmed, by 30 min of readings .* 1 min after"
    with pytest.raises(ActRefusedError, match=told):
        story.press("sign", operations=["strip"])


@pytest.mark.row("O9")
@pytest.mark.parametrize("state", [s for s in S if s is not S.MET])
def test_only_what_is_met_can_be_signed(state: GateState) -> None:
    story = warm(10) if state is S.CURING else at(state)
    story.clock_ok = state is not S.SUSPENDED
    with pytest.raises(ActRefusedError, match="there is nothing to sign"):
        story.press("sign", operations=["strip"])


@pytest.mark.row("L1", "O9")
def test_nothing_is_signed_while_a_required_sensor_is_silent() -> None:
    story = warm(25)
    story.now_ms += 46 * MINUTE_MS
    with pytest.raises(ActRefusedError, match="silent: "):
        story.press("sign", operations=["strip"])


def test_an_operation_that_the_plan_has_not_is_not_signed_begun_or_done() -> None:
    story = at(S.MET)
    with pytest.raises(ActRefusedError, match="not an operation"):
        story.press("sign", operations=["full load"])
    for kind in ("under_way", "done"):
        with pytest.raises(ActRefusedError, match="not an operation"):
            story.press(kind, operation="full load")


def test_half_a_page_is_never_signed() -> None:
    story = warm(25)
    with pytest.raises(ActRefusedError, match="load of"):
        story.press("sign", operations=["strip", "load"])
    assert (story.state(STRIP), story.case.gates[STRIP].signers) == (S.MET, ())


@pytest.mark.row("O8")
@pytest.mark.parametrize("sign_offs", [1, 2])
def test_an_operation_named_twice_in_one_act_is_signed_once(sign_offs: int) -> None:
    story = warm(25, sign_offs)
    story.press("sign", operations=["strip", "strip"])
    assert story.case.gates[STRIP].signers == ("qc",)
    assert story.state() is (S.RELEASED if sign_offs == 1 else S.MET)
    assert story.told().count(MessageKind.RELEASED) == (sign_offs == 1)


@pytest.mark.row("O8", "O9")
def test_a_first_signature_does_not_outlive_the_evidence_it_was_given_on() -> None:
    story = warm(25, 2)
    story.press("sign", operations=["strip"])
    story.add(EDGE, story.now_ms, 4.0)
    story.round()
    assert (story.state(), story.case.gates[STRIP].signers) == (S.CURING, ())
    story.run(28)
    assert story.state() is S.MET
    story.press("sign", "engineer", operations=["strip"])
    assert story.state() is S.MET


def test_a_signature_keeps_the_evidence_of_the_press() -> None:
    story = warm(25)
    result = story.press("sign", operations=["strip"])
    kept = story.case.gates[STRIP].snapshot
    assert kept is not None
    body = result.snapshots[kept]
    assert body["evidence_ms"] == story.now_ms
    assert body["end_ms"] == END_MS
    assert set(body["readings"]) == set(CONCRETE)
    assert len(body["findings"]) == 4


def test_with_no_sign_offs_the_crew_begins_on_what_is_met() -> None:
    story = warm(25, 0)
    story.press("under_way", "crew", operation="strip")
    assert story.state() is S.UNDER_WAY


@pytest.mark.parametrize("sign_offs", [1, 2])
def test_with_sign_offs_nobody_begins_before_they_are_given(sign_offs: int) -> None:
    story = warm(25, sign_offs)
    with pytest.raises(ActRefusedError, match="met: it cannot be begun"):
        story.press("under_way", "crew", operation="strip")


def test_with_no_sign_offs_a_pour_that_was_on_hold_is_signed_all_the_same() -> None:
    story = warm(5, 0)
    story.conflict(EDGE, END_MS, 17.0, 20.0)
    story.round()
    story.press("lift", hold="conflicting readings", why="the colder is right")
    story.run(25)
    assert MessageKind.SIGN_OFF_WANTED in story.told()
    assert MessageKind.MET_NOT_SIGNED not in story.told()
    with pytest.raises(ActRefusedError, match="cannot be begun"):
        story.press("under_way", "crew", operation="strip")


def test_a_strip_under_way_is_told_to_every_bay_that_it_disturbs() -> None:
    bays = [
        bay_dict(BAY, neighbours=["2-b2"], below=["1-b1"]),
        bay_dict(OTHER_BAY, first_logger=11),
        bay_dict("2-b3", first_logger=21, neighbours=[BAY]),
        bay_dict("3-b1", first_logger=31, below=[BAY]),
        bay_dict("1-b1", first_logger=41),
    ]
    story = Story(make_case(site_of_all(bay=bays))).run(25)
    story.press("sign", operations=["strip"])
    begun = story.press("under_way", "crew", operation="strip")
    told = next(m for m in begun.messages if m.kind is MessageKind.KEEP_OFF)
    assert told.facts["bays"] == [BAY, "2-b2", "2-b3", "3-b1"]
    assert begun.wake == ("2-b2", "2-b3", "3-b1")
    assert story.press("done", "crew", operation="strip").wake == begun.wake


def test_an_act_that_is_refused_changes_nothing() -> None:
    story = warm(10)
    case, count = story.case, len(story.results)
    for kind, fields in (("sign", {"operations": ["strip"]}), ("done", {"operation": "strip"})):
        with pytest.raises(ActRefusedError):
            story.press(kind, **fields)
    assert (story.case, len(story.results)) == (case, count)


def test_an_act_is_written_down_with_who_and_what() -> None:
    result = warm(25).press("sign", operations=["strip"])
    entry = next(e for e in result.log if e.what == "act")
    assert (entry.who, entry.body["kind"], entry.body["operations"]) == ("qc", "sign", ["strip"])
    assert result.act is not None
    assert isinstance(result.gates[0], Gate)
    assert AIR not in result.snapshots
