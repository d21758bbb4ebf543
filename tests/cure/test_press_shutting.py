"""STOP, forms found off, holds lifted and gates opened again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import DESK, END_MS, Story, at, warm
from store_support import EDGE

from shared.errors import ActRefusedError
from shared.models.base import LOAD, MINUTE_MS, STRIP, WALK
from shared.models.decisions import GateState, Hold, HoldKind
from shared.models.messages import MessageKind
from shared.models.people import Role

S = GateState
STOPPABLE = [s for s in S if s not in {S.DONE, S.WITHDRAWN, S.DONE_WITHOUT_RELEASE}]


@pytest.mark.parametrize("state", STOPPABLE)
def test_stop_shuts_a_gate_wherever_it_stands_and_tells_everybody(state: GateState) -> None:
    story = at(state)
    story.clock_ok = state is not S.SUSPENDED
    result = story.press("stop", "passer-by", why="crack")
    assert {g.state for g in result.gates} == {S.WITHDRAWN}
    told = [m for m in result.messages if m.kind is MessageKind.WITHDRAWAL]
    assert [m.subject for m in told] == [STRIP, WALK, LOAD]
    assert {m.facts["cause"] for m in told} == {"STOP pressed: crack"}
    assert [m.facts["done"] for m in told] == [state is S.UNDER_WAY] * 2 + [False]


@pytest.mark.row("C8")
def test_stop_knows_that_people_are_at_work_under_a_suspended_gate() -> None:
    story = at(S.SUSPENDED, before=S.UNDER_WAY)
    story.clock_ok = False
    told = [m for m in story.press("stop", "passer-by", why="crack").messages if m.kind is MessageKind.WITHDRAWAL]
    assert [m.facts["done"] for m in told] == [True, True, False]


def test_stop_on_what_is_done_leaves_it_done_and_tells_people_to_keep_off() -> None:
    result = at(S.DONE).press("stop", "passer-by", why="crack")
    assert [g.state for g in result.gates] == [S.DONE, S.DONE, S.WITHDRAWN]
    assert [(m.kind, m.facts["done"]) for m in result.messages] == [
        (MessageKind.WITHDRAWAL, True),
        (MessageKind.WITHDRAWAL, True),
        (MessageKind.WITHDRAWAL, False),
    ]


def test_each_keep_off_for_what_is_done_is_a_message_of_its_own() -> None:
    story = at(S.DONE, epoch=1)
    for quarter in range(20):
        story.add(EDGE, END_MS + quarter * 15 * MINUTE_MS, 3.0)
    story.round()
    story.round()
    told = [m for m in story.messages if m.kind is MessageKind.WITHDRAWAL and m.subject == STRIP]
    assert [m.epoch for m in told] == [2]
    for _ in range(2):
        story.press("stop", "passer-by", why="crack")
        told = [m for m in story.messages if m.kind is MessageKind.WITHDRAWAL and m.subject == STRIP]
        assert told[-1].facts["cause"] == "STOP pressed: crack"
    epochs = [m.epoch for m in told]
    assert epochs == sorted(set(epochs))


def test_a_second_stop_is_taken_and_changes_nothing() -> None:
    story = at(S.RELEASED)
    story.press("stop", "passer-by", why="crack")
    gates = story.case.gates
    result = story.press("stop", "passer-by", why="crack")
    assert (story.case.gates, result.messages) == (gates, ())


@pytest.mark.parametrize("state", [S.RELEASED, S.UNDER_WAY, S.DONE, S.DONE_WITHOUT_RELEASE])
def test_forms_off_is_only_for_forms_that_were_not_to_come_off(state: GateState) -> None:
    with pytest.raises(ActRefusedError, match="begun or done instead"):
        at(state).press("forms_off", "crew")


def held(kind: HoldKind) -> Story:
    story = warm(10)
    story.case = replace(story.case, holds=(Hold(kind, story.now_ms, "qc", "", ""),))
    story.round()
    assert story.state() is S.HOLD
    return story


@pytest.mark.parametrize("kind", HoldKind)
@pytest.mark.parametrize("role", [r for r in Role if r not in DESK])
def test_only_the_desk_lifts_a_hold(kind: HoldKind, role: Role) -> None:
    with pytest.raises(ActRefusedError, match="this takes one of"):
        held(kind).press("lift", role.value, hold=kind, surface_c=5.0, document="d.pdf", why="x")


@pytest.mark.parametrize("kind", HoldKind)
def test_a_hold_that_is_not_there_is_not_lifted(kind: HoldKind) -> None:
    with pytest.raises(ActRefusedError, match="has no hold"):
        warm(1).press("lift", "engineer", hold=kind, surface_c=5.0, document="d.pdf", why="x")


@pytest.mark.parametrize(("surface_c", "lifted"), [(None, False), (0.999, False), (1.0, False), (1.001, True)])
def test_a_suspicion_of_freezing_is_lifted_by_a_surface_above_one_degree(surface_c: float, lifted: bool) -> None:
    story = held(HoldKind.FREEZE_SUSPECTED)
    if lifted:
        story.press("lift", hold="freeze suspected", surface_c=surface_c, why="measured")
        assert (story.case.holds, story.state()) == ((), S.CURING)
        return
    with pytest.raises(ActRefusedError, match="measure the concrete surface"):
        story.press("lift", hold="freeze suspected", surface_c=surface_c, why="measured")


@pytest.mark.row("E11")
@pytest.mark.parametrize(
    ("who", "document", "lifted"),
    [
        ("superintendent", "d.pdf", False),
        ("qc", "d.pdf", False),
        ("engineer", None, False),
        ("engineer", "d.pdf", True),
    ],
)
def test_a_freeze_lock_is_lifted_by_the_engineer_in_writing(who: str, document: str | None, lifted: bool) -> None:
    story = held(HoldKind.FREEZE_LOCKED)
    if lifted:
        story.press("lift", who, hold="freeze locked", document=document, why="cores tested")
        assert story.state() is S.CURING
        return
    with pytest.raises(ActRefusedError, match=r"engineer"):
        story.press("lift", who, hold="freeze locked", document=document, why="cores tested")


def test_a_gate_stays_on_hold_until_the_last_hold_is_lifted() -> None:
    story = held(HoldKind.CONFLICT)
    other = Hold(HoldKind.FREEZE_SUSPECTED, story.now_ms, "qc", "", "")
    story.case = replace(story.case, holds=(*story.case.holds, other))
    story.press("lift", hold="conflicting readings", why="x")
    assert story.state() is S.HOLD
    story.press("lift", hold="freeze suspected", surface_c=5.0, why="x")
    assert story.state() is S.CURING


@pytest.mark.row("A14")
@pytest.mark.parametrize("confirmed", [{}, {STRIP: False}, {WALK: True}])
def test_nothing_is_reopened_before_its_own_withdrawal_is_confirmed(confirmed: dict[str, bool]) -> None:
    story = at(S.WITHDRAWN)
    story.case = replace(story.case, withdrawal_confirmed=confirmed)  # type: ignore[arg-type] # operations
    with pytest.raises(ActRefusedError, match="not confirmed"):
        story.press("reopen", operation="strip", cause="seen")


def test_reopening_begins_a_new_epoch_and_writes_the_cause_down() -> None:
    story = at(S.WITHDRAWN, epoch=3)
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True})
    result = story.press("reopen", operation="strip", cause="looked at with the engineer")
    assert (story.state(STRIP), story.case.gates[STRIP].epoch) == (S.CURING, 4)
    assert (story.state(WALK), story.case.gates[WALK].epoch) == (S.WITHDRAWN, 3)
    assert [(e.what, e.body.get("cause")) for e in result.log][-1] == ("gate", "looked at with the engineer")


@pytest.mark.parametrize("state", [s for s in S if s is not S.WITHDRAWN])
def test_only_what_was_withdrawn_is_reopened(state: GateState) -> None:
    story = at(state)
    story.clock_ok = state is not S.SUSPENDED
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True})
    with pytest.raises(ActRefusedError, match="cannot be reopened"):
        story.press("reopen", operation="strip", cause="seen")
