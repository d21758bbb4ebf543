from __future__ import annotations

from itertools import product

import pytest

from cure.gate import TABLE, GateEvent, allows, held, step
from shared.models.base import STRIP, PourId
from shared.models.decisions import Gate, GateState

S, E = GateState, GateEvent
PAIRS = list(product(GateState, GateEvent))


def gate(state: GateState, **changes: object) -> Gate:
    return Gate(PourId("p"), STRIP, state, **changes)  # type: ignore[arg-type] # the tests name real fields


@pytest.mark.parametrize(("state", "event"), PAIRS, ids=str)
def test_a_gate_steps_as_the_table_says_and_no_other_way(state: GateState, event: GateEvent) -> None:
    assert allows(state, event) == ((state, event) in TABLE)
    if allows(state, event):
        after = step(gate(state), event, 7, "why")
        assert (after.state, after.changed_ms, after.reason) == (TABLE[state, event], 7, "why")
    else:
        with pytest.raises(KeyError):
            step(gate(state), event, 7, "why")


def test_every_state_can_be_reached_from_not_set_up() -> None:
    reached = {S.NOT_SET_UP}
    while grown := {after for (before, _), after in TABLE.items() if before in reached} - reached:
        reached |= grown
    assert reached == set(S)


@pytest.mark.row("O7")
def test_only_a_signature_on_met_releases() -> None:
    assert [pair for pair, after in TABLE.items() if after is S.RELEASED] == [(S.MET, E.SIGNED)]


def test_only_a_curing_gate_can_become_met() -> None:
    assert [pair for pair, after in TABLE.items() if after is S.MET] == [(S.CURING, E.MET)]


@pytest.mark.row("A14")
def test_only_a_person_opens_what_was_withdrawn() -> None:
    ways_out = {event: after for (state, event), after in TABLE.items() if state is S.WITHDRAWN}
    assert ways_out == {E.REOPENED: S.CURING, E.FORMS_OFF: S.DONE_WITHOUT_RELEASE}


def test_stop_never_opens_anything() -> None:
    stopped = {after for (_, event), after in TABLE.items() if event is E.STOPPED}
    assert stopped == {S.WITHDRAWN, S.DONE}
    assert TABLE[S.DONE, E.STOPPED] is S.DONE


@pytest.mark.parametrize("before", list(S))
def test_a_suspended_gate_never_goes_straight_back_to_met(before: GateState) -> None:
    after = step(gate(S.SUSPENDED, before=before), E.RESUME, 1, "")
    kept = {S.NOT_SET_UP, S.HOLD, S.RELEASED, S.UNDER_WAY}
    assert after.state is (before if before in kept else S.CURING)


@pytest.mark.row("C8")
def test_a_suspended_gate_is_shut_for_good_by_what_contradicts_its_release() -> None:
    assert step(gate(S.SUSPENDED, before=S.RELEASED), E.CONTRADICTED, 1, "").state is S.WITHDRAWN


@pytest.mark.parametrize("before", [S.RELEASED, S.UNDER_WAY, S.HOLD])
def test_a_suspended_gate_is_held_as_what_it_was(before: GateState) -> None:
    assert held(gate(before)) is before
    assert held(gate(S.SUSPENDED, before=before)) is before
    assert held(gate(S.SUSPENDED)) is S.SUSPENDED


def test_there_is_no_way_from_curing_to_released_but_through_met_and_a_signature() -> None:
    without = {pair: after for pair, after in TABLE.items() if pair not in {(S.CURING, E.MET), (S.MET, E.SIGNED)}}
    for start in (S.NOT_SET_UP, S.CURING, S.HOLD):
        reached = {start}
        while grown := {after for (before, _), after in without.items() if before in reached} - reached:
            reached |= grown
        assert not reached & {S.RELEASED, S.MET, S.UNDER_WAY, S.DONE}


def test_suspending_remembers_what_it_was() -> None:
    assert step(gate(S.RELEASED), E.SUSPEND, 1, "").before is S.RELEASED


def test_a_new_epoch_begins_with_each_met_and_each_reopening() -> None:
    met = step(gate(S.CURING, epoch=2), E.MET, 1, "")
    assert met.epoch == 3
    assert step(met, E.SIGNED, 1, "").epoch == 3
    assert step(gate(S.WITHDRAWN, epoch=3), E.REOPENED, 1, "").epoch == 4


def test_signatures_do_not_survive_a_gate_that_shuts() -> None:
    signed = gate(S.MET, signers=("qc",), snapshot="x")
    assert step(signed, E.SIGNED, 1, "").signers == ("qc",)
    for event in (E.UNMET, E.DOUBT, E.STOPPED, E.MISSING):
        after = step(signed, event, 1, "")
        assert (after.signers, after.snapshot) == ((), None)
