from __future__ import annotations

from dataclasses import replace

import pytest
from alerts_support import make_due, make_gate, make_told
from hypothesis import given
from hypothesis import strategies as st
from store_support import T0

from alerts.delivery import (
    INSISTENT,
    REPEAT_MS,
    TRANSITIONS,
    DeliveryEvent,
    Go,
    Supersede,
    Wait,
    answered,
    claim,
    delay_ms,
    fence,
    lost,
    may_go,
    overtaken,
    resolved,
    step,
)
from shared.models.base import MINUTE_MS, Ms
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, Delivery, DeliveryState, Due, MessageKind, Outcome, OutcomeKind

S = DeliveryState
E = DeliveryEvent
FIRST, SECOND, THIRD = "1.1", "1.2", "1.3"
RELEASED = make_told(MessageKind.RELEASED)
WITHDRAWAL = make_told(MessageKind.WITHDRAWAL, 42)
LISTS = {MessageKind.MORNING_LIST, MessageKind.HANDOVER, MessageKind.COVER_TONIGHT}
NEEDS_MET = {MessageKind.SIGN_OFF_WANTED, MessageKind.MET_NOT_SIGNED}
OPEN = make_gate(GateState.RELEASED)
SHUT = make_gate(GateState.WITHDRAWN)


def calling(due: Due, now: Ms = T0, token: str = FIRST) -> Due:
    return replace(due, delivery=claim(due, now, token=token, lease_ms=30_000))


def test_the_table_is_this_one() -> None:
    walked = {f"{state} -{event}-> {after}" for (state, event), after in TRANSITIONS.items()}
    assert walked == {
        "queued -claimed-> calling",
        "queued -voided-> superseded",
        "waiting -claimed-> calling",
        "waiting -voided-> superseded",
        "calling -accepted-> accepted",
        "calling -accepted, must go again-> queued",
        "calling -not accepted-> waiting",
        "calling -refused-> refused",
        "calling -attempts used up-> escalated",
        "calling -outcome unknown-> unsure",
        "calling -overtaken by a late release-> calling",
        "unsure -retried-> waiting",
        "unsure -voided-> superseded",
        "unsure -attempts used up-> escalated",
        "calling -confirmed-> confirmed",
        "queued -confirmed-> confirmed",
        "waiting -confirmed-> confirmed",
        "unsure -confirmed-> confirmed",
        "waiting -overtaken by a late release-> waiting",
        "unsure -overtaken by a late release-> unsure",
        "accepted -claimed-> calling",
        "accepted -overtaken by a late release-> queued",
        "accepted -confirmed-> confirmed",
        "confirmed -overtaken by a late release-> queued",
    }


@pytest.mark.parametrize(("state", "event"), [(s, e) for s in S for e in E])
def test_a_step_is_in_the_table_or_it_raises(state: DeliveryState, event: DeliveryEvent) -> None:
    due = make_due(WITHDRAWAL, SHUT, state=state, attempt=1, called_ms=T0)
    if (state, event) in TRANSITIONS:
        assert step(due, event, T0).state is TRANSITIONS[state, event]
    else:
        with pytest.raises(KeyError):
            step(due, event, T0)


def test_every_state_can_be_reached_and_only_three_are_for_good() -> None:
    reached, fresh = {S.QUEUED}, {S.QUEUED}
    while fresh:
        fresh = {after for (state, _), after in TRANSITIONS.items() if state in fresh} - reached
        reached |= fresh
    assert reached == set(S)
    assert set(S) - {state for state, _ in TRANSITIONS} == {S.SUPERSEDED, S.REFUSED, S.ESCALATED}


@pytest.mark.parametrize(
    ("kind", "fitting"),
    [
        (MessageKind.RELEASED, GateState.RELEASED),
        (MessageKind.MET_NOT_SIGNED, GateState.MET),
        (MessageKind.SIGN_OFF_WANTED, GateState.MET),
    ],
)
@pytest.mark.parametrize("state", list(GateState))
@pytest.mark.row("A5")
def test_a_permit_goes_only_while_its_gate_fits(kind: MessageKind, fitting: GateState, state: GateState) -> None:
    said = fence(make_due(make_told(kind), make_gate(state)), T0)
    assert isinstance(said, Go if state is fitting else Supersede)


@pytest.mark.row("A5")
def test_a_permit_of_another_epoch_or_without_a_gate_or_past_its_validity_never_goes() -> None:
    until = RELEASED.valid_until_ms
    assert until is not None
    assert isinstance(fence(make_due(RELEASED, make_gate(GateState.RELEASED, 2)), T0), Supersede)
    assert isinstance(fence(make_due(RELEASED, make_gate(GateState.RELEASED, 0)), T0), Supersede)
    assert isinstance(fence(make_due(RELEASED), T0), Supersede)
    assert isinstance(fence(make_due(replace(RELEASED, valid_until_ms=None), OPEN), T0), Supersede)
    assert isinstance(fence(make_due(RELEASED, OPEN), until), Supersede)
    assert isinstance(fence(make_due(RELEASED, OPEN), until - 1), Go)


def test_a_release_of_a_suspended_gate_waits_for_the_doubt_to_be_lifted() -> None:
    doubted = make_gate(GateState.SUSPENDED, before=GateState.RELEASED)
    assert may_go(make_due(RELEASED, doubted), T0) == Wait(T0 + MINUTE_MS)
    assert resolved(make_due(RELEASED, doubted, state=S.UNSURE, attempt=1, called_ms=T0), T0) is None
    assert isinstance(may_go(make_due(RELEASED, replace(doubted, before=GateState.CURING)), T0), Supersede)


@given(st.sampled_from(sorted(set(MessageKind) - PERMITS - LISTS)), st.sampled_from(GateState), st.integers(0, 2**45))
def test_what_permits_nothing_and_lists_nothing_is_never_fenced(kind: MessageKind, state: GateState, now: int) -> None:
    assert fence(make_due(make_told(kind), make_gate(state)), now) == Go()


def test_a_row_waits_for_its_hour_and_for_the_other_row_of_its_recipient() -> None:
    assert may_go(make_due(RELEASED, OPEN, next_ms=T0 + 1), T0) == Wait()
    assert may_go(make_due(RELEASED, OPEN, busy=True), T0) == Wait()
    assert may_go(make_due(RELEASED, OPEN), T0) == Go()
    assert isinstance(may_go(make_due(RELEASED, SHUT, busy=True), T0), Supersede)


@pytest.mark.parametrize("state", sorted(set(S) - {S.QUEUED, S.WAITING, S.ACCEPTED}))
def test_only_waiting_rows_and_unconfirmed_withdrawals_may_go(state: DeliveryState) -> None:
    assert may_go(make_due(WITHDRAWAL, SHUT, state=state), T0) == Wait()
    assert may_go(make_due(RELEASED, OPEN, state=S.ACCEPTED), T0) == Wait()


def test_an_accepted_withdrawal_goes_again_after_five_minutes_and_never_sooner() -> None:
    sent = calling(make_due(WITHDRAWAL, SHUT))
    heard = replace(sent, delivery=answered(sent, Outcome(OutcomeKind.ACCEPTED, "yes"), FIRST, T0))
    assert heard.delivery.next_ms == T0 + REPEAT_MS
    assert may_go(heard, T0 + REPEAT_MS - 1) == Wait()
    assert may_go(heard, T0 + REPEAT_MS) == Go()
    again = claim(heard, T0 + REPEAT_MS, token=SECOND, lease_ms=30_000)
    assert again.was_unsure, "the text must say that it is a repeat"


def test_a_claim_holds_a_lease_and_the_answer_gives_it_back() -> None:
    sent = calling(make_due(RELEASED, OPEN))
    assert (sent.delivery.attempt, sent.delivery.called_ms) == (1, T0)
    assert (sent.delivery.lease_until_ms, sent.delivery.lease_token) == (T0 + 30_000, "1.1")
    done = answered(sent, Outcome(OutcomeKind.ACCEPTED, "yes"), FIRST, T0)
    assert (done.lease_until_ms, done.lease_token, done.outcome) == (None, None, "yes")


@given(st.sampled_from(OutcomeKind), st.sampled_from(S), st.sampled_from([FIRST, SECOND, None]))
def test_the_answer_of_another_lease_changes_nothing(
    kind: OutcomeKind, state: DeliveryState, token: str | None
) -> None:
    due = make_due(RELEASED, OPEN, state=state, lease_token=THIRD, attempt=1)
    assert answered(due, Outcome(kind, ""), token, T0) == due.delivery


def delays(kind: MessageKind, outcome: OutcomeKind, attempts: int) -> tuple[list[int], Delivery]:
    due, waits = make_due(make_told(kind), make_gate(GateState.RELEASED)), []
    for _ in range(attempts):
        now = max(T0, due.delivery.next_ms)
        due = calling(due, now)
        due = replace(due, delivery=answered(due, Outcome(outcome, ""), FIRST, now))
        if due.delivery.state is S.UNSURE:
            after = resolved(due, now)
            assert after is not None
            due = replace(due, delivery=after)
        if due.delivery.state is not S.WAITING:
            break
        waits.append((due.delivery.next_ms - now) // 1000)
    return waits, due.delivery


@pytest.mark.parametrize("kind", sorted(set(MessageKind) - INSISTENT - NEEDS_MET - LISTS))
@pytest.mark.parametrize("outcome", [OutcomeKind.NOT_NOW, OutcomeKind.UNSURE])
@pytest.mark.row("A1")
def test_five_attempts_then_escalated(kind: MessageKind, outcome: OutcomeKind) -> None:
    waits, delivery = delays(kind, outcome, 9)
    assert waits == [30, 120, 480, 1800]
    assert (delivery.state, delivery.attempt) == (S.ESCALATED, 5)


@pytest.mark.parametrize("kind", sorted(INSISTENT))
@pytest.mark.parametrize("outcome", [OutcomeKind.NOT_NOW, OutcomeKind.UNSURE, OutcomeKind.NEVER])
@pytest.mark.row("A6")
def test_a_withdrawal_is_tried_for_ever(kind: MessageKind, outcome: OutcomeKind) -> None:
    waits, delivery = delays(kind, outcome, 40)
    assert waits == [60] * 9 + [300] * 31
    assert delivery.state is S.WAITING


def test_a_permanent_no_ends_every_other_delivery() -> None:
    for kind in sorted(set(MessageKind) - INSISTENT):
        sent = calling(make_due(make_told(kind), OPEN))
        assert answered(sent, Outcome(OutcomeKind.NEVER, "no"), FIRST, T0).state is S.REFUSED


@pytest.mark.row("A3", "A8")
def test_a_lost_attempt_is_unsure_and_its_repeat_says_so() -> None:
    after = lost(calling(make_due(RELEASED, OPEN)), T0, "crash")
    assert (after.state, after.was_unsure, after.lease_token) == (S.UNSURE, True, None)
    again = resolved(make_due(RELEASED, OPEN, row=after), T0)
    assert again is not None
    assert (again.state, again.was_unsure, again.outcome) == (S.WAITING, True, "crash")


def test_an_unsure_release_is_superseded_once_its_gate_has_moved() -> None:
    after = resolved(make_due(RELEASED, SHUT, state=S.UNSURE, attempt=1, called_ms=T0), T0)
    assert after is not None
    assert after.state is S.SUPERSEDED


def test_the_wait_after_a_lost_attempt_counts_from_its_call() -> None:
    due = make_due(WITHDRAWAL, SHUT, state=S.UNSURE, attempt=1, called_ms=T0)
    soon, late = resolved(due, T0 + 20_000), resolved(due, T0 + 3 * MINUTE_MS)
    assert soon is not None
    assert late is not None
    assert (soon.next_ms, late.next_ms) == (T0 + MINUTE_MS, T0 + 3 * MINUTE_MS)


@pytest.mark.parametrize("release_state", [S.ACCEPTED, S.UNSURE])
@pytest.mark.parametrize("state", list(S))
@pytest.mark.row("A4", "A13")
def test_a_release_that_got_out_late_sends_its_withdrawal_again(
    release_state: DeliveryState, state: DeliveryState
) -> None:
    release = make_due(RELEASED, SHUT, state=release_state)
    withdrawal = make_due(WITHDRAWAL, SHUT, state=state, attempt=1, next_ms=T0 + 9)
    after = overtaken(release, [withdrawal], T0)
    if state in {S.ACCEPTED, S.CONFIRMED}:
        assert [(d.state, d.next_ms, d.was_unsure) for d in after] == [(S.QUEUED, T0, True)]
    elif state is S.CALLING:
        assert [(d.state, d.again) for d in after] == [(S.CALLING, True)]
    else:
        assert after == ()


def test_a_withdrawal_marked_again_goes_once_more_after_it_was_accepted() -> None:
    sent = calling(make_due(WITHDRAWAL, SHUT))
    (marked,) = overtaken(make_due(RELEASED, SHUT, state=S.ACCEPTED), [sent], T0)
    after = answered(replace(sent, delivery=marked), Outcome(OutcomeKind.ACCEPTED, "yes"), FIRST, T0 + 5)
    assert (after.state, after.next_ms, after.again, after.was_unsure) == (S.QUEUED, T0 + 5, False, True)


@pytest.mark.parametrize("state", [S.CALLING, S.WAITING, S.UNSURE, S.ACCEPTED, S.CONFIRMED])
@pytest.mark.row("A6", "A13")
def test_a_repeat_that_a_late_release_overtook_can_only_be_confirmed_after_it_was_accepted_again(
    state: DeliveryState,
) -> None:
    release = make_due(RELEASED, SHUT, state=S.UNSURE)
    withdrawal = make_due(WITHDRAWAL, SHUT, state=state, attempt=2, was_accepted=True)
    (after,) = overtaken(release, [withdrawal], T0)
    assert not after.was_accepted
    assert after.state is (S.QUEUED if state in {S.ACCEPTED, S.CONFIRMED} else state)


def test_a_row_was_accepted_from_its_first_acceptance_on() -> None:
    sent = calling(make_due(WITHDRAWAL, SHUT))
    assert not sent.delivery.was_accepted
    done = answered(sent, Outcome(OutcomeKind.ACCEPTED, "yes"), FIRST, T0)
    assert done.was_accepted
    again = calling(make_due(WITHDRAWAL, SHUT, row=done), T0 + REPEAT_MS, SECOND)
    failed = answered(again, Outcome(OutcomeKind.NOT_NOW, "no"), SECOND, T0 + REPEAT_MS)
    assert (failed.state, failed.was_accepted) == (S.WAITING, True)


def test_the_withdrawal_of_an_earlier_release_stays_as_it_is() -> None:
    release = make_due(make_told(MessageKind.RELEASED, epoch=3), SHUT, state=S.ACCEPTED)
    assert overtaken(release, [make_due(WITHDRAWAL, SHUT, state=S.CONFIRMED)], T0) == ()


def test_only_a_permit_that_may_have_arrived_overtakes() -> None:
    rows = [make_due(WITHDRAWAL, SHUT, state=S.CONFIRMED)]
    assert overtaken(make_due(RELEASED, SHUT, state=S.WAITING), rows, T0) == ()
    assert overtaken(make_due(make_told(MessageKind.COLD_DELAY), None, state=S.ACCEPTED), rows, T0) == ()


@given(st.sampled_from(MessageKind), st.integers(1, 10_000))
def test_a_delay_is_between_half_a_minute_and_half_an_hour(kind: MessageKind, attempt: int) -> None:
    delay = delay_ms(kind, attempt)
    assert delay is None or 30_000 <= delay <= 30 * MINUTE_MS
    assert (delay is None) == (kind not in INSISTENT and attempt >= 5)
