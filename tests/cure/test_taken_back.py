"""A start that is taken back, in memory: which one may be, and how the pour before goes on."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from cure_support import END_MS, at, make_case, warm
from store_support import make_pour

from cure.taken_back import BACK, BINDS, check_void, going_on, void
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, PourId
from shared.models.decisions import Gate, GateState, PourState
from shared.models.messages import MessageKind
from shared.ports import PourCase

S = GateState
OVER = PourId("2-b1-p2")
OVER_MS = END_MS + 20 * HOUR_MS
NOW = END_MS + 25 * HOUR_MS
ACT = acts.TakeBack(at=datetime.fromtimestamp(NOW / 1000, UTC), who="crew", pour=OVER, why="wrong bay")


def mistaken(**changes: Any) -> PourCase:
    """Return the case of the pour that was started by mistake."""
    gates = {op: Gate(OVER, op, S.CURING) for op in (STRIP, WALK, LOAD)}
    pour = make_pour(OVER, start_ms=OVER_MS)
    whole: dict[str, Any] = {"pour": pour, "gates": gates, **changes}
    return make_case(**whole)


@pytest.mark.parametrize(
    ("case", "did", "why"),
    [
        *((mistaken(), {"pour_start", kind}, words) for kind, words in BINDS.items()),
        (mistaken(state=PourState(memory={"released": {"strip": {"epoch": 1}}})), set(), "a release"),
        (mistaken(state=PourState(memory={"taken_back": {}})), set(), "taken back already"),
        (mistaken(pour=replace(make_pour(OVER), closed_ms=NOW)), set(), "a later pour"),
    ],
)
def test_a_start_stands_once_anything_hangs_on_it(case: PourCase, did: set[str], why: str) -> None:
    with pytest.raises(ActRefusedError, match=why):
        check_void(case, did)


def test_taps_and_tickets_do_not_make_a_start_stand() -> None:
    check_void(
        mistaken(), {"pour_start", "pour_end", "cover", "heat", "ticket", "want", "stop", "lift", "second_check"}
    )


@pytest.mark.parametrize(
    ("gate", "after"),
    [
        (Gate(OVER, STRIP, S.MET), S.CURING),
        (Gate(OVER, STRIP, S.SUSPENDED, before=S.MET), S.CURING),
        (Gate(OVER, STRIP, S.SUSPENDED, before=S.HOLD), S.SUSPENDED),
        (Gate(OVER, STRIP, S.WITHDRAWN), S.WITHDRAWN),
        (Gate(OVER, STRIP, S.HOLD), S.HOLD),
    ],
)
def test_nothing_of_a_void_pour_is_met_and_it_is_closed_now(gate: Gate, after: GateState) -> None:
    result = void(mistaken(gates={STRIP: gate}), ACT, NOW)
    assert (result.pour.closed_ms, result.pour.calibration_version) == (NOW, None)
    assert [g.state for g in result.gates] == [after]
    assert (result.messages, [line.body["to"] for line in result.log]) == ((), [after] if after is S.CURING else [])


def test_a_pour_goes_on_with_no_cover_lying_since_it_was_ended() -> None:
    heated = [[END_MS, END_MS + 1, 20.0], [END_MS, None, None]]
    memory = {"covered": True, "covers": [[END_MS, None]], "heated": heated}
    before = make_case(state=PourState(memory=memory))
    case = going_on(replace(before, pour=replace(before.pour, closed_ms=OVER_MS)), mistaken(), NOW)
    assert case.pour.closed_ms is None
    memory = dict(case.state.memory)
    assert (memory["covered"], memory["covers"]) == (False, [[END_MS, OVER_MS]])
    assert memory["heated"] == [[END_MS, END_MS + 1, 20.0], [END_MS, OVER_MS, None]]
    assert memory[BACK] == {"pour": OVER, "ended_ms": OVER_MS, "at_ms": NOW, "stopped": False}


@pytest.mark.parametrize(
    ("was", "state", "told"),
    [
        (S.MET, S.CURING, 0),
        (S.RELEASED, S.WITHDRAWN, 2),
        (S.UNDER_WAY, S.UNDER_WAY, 0),
        (S.DONE, S.DONE, 0),
        (S.WITHDRAWN, S.WITHDRAWN, 0),
    ],
)
def test_what_was_met_is_judged_anew_and_what_was_released_is_withdrawn(
    was: GateState, state: GateState, told: int
) -> None:
    story = at(was)
    story.case = going_on(story.case, mistaken(), story.now_ms)
    story.press("take_back", "crew", why="wrong bay")
    assert (story.state(STRIP), story.state(WALK)) == (state, state)
    assert story.told().count(MessageKind.WITHDRAWAL) == told


def test_met_not_signed_is_taken_back_from_those_who_hold_it() -> None:
    story = warm(25, sign_offs=0)
    assert story.state() is S.MET
    story.case = going_on(story.case, mistaken(), story.now_ms)
    result = story.press("take_back", "crew", why="wrong bay")
    assert [m.subject for m in result.messages if m.kind is MessageKind.WITHDRAWAL] == [STRIP, WALK]
    assert story.state() is S.CURING


def test_stop_pressed_on_the_mistaken_pour_shuts_all_of_the_one_that_goes_on() -> None:
    story = at(S.CURING)
    stopped = mistaken(gates={STRIP: Gate(OVER, STRIP, S.WITHDRAWN)})
    story.case = going_on(story.case, stopped, story.now_ms)
    story.press("take_back", "crew", why="wrong bay")
    assert {gate.state for gate in story.case.gates.values()} == {S.WITHDRAWN}
