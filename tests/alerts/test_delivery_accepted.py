from __future__ import annotations

from dataclasses import replace

import pytest
from alerts_support import make_due, make_gate, make_told
from store_support import T0

from alerts.delivery import DeliveryEvent, Go, Supersede, Wait, may_go, step
from shared.models.base import HOUR_MS, MINUTE_MS, WALK
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, DeliveryState, MessageKind

S = DeliveryState
WITHDRAWAL = make_told(MessageKind.WITHDRAWAL, 42)
LATER = T0 + MINUTE_MS


def test_the_hour_of_the_first_acceptance_stays_through_repeats() -> None:
    first = step(make_due(WITHDRAWAL, state=S.CALLING), DeliveryEvent.ACCEPTED, T0)
    assert first.accepted_ms == T0
    repeat = step(make_due(WITHDRAWAL, row=first), DeliveryEvent.CLAIMED, LATER)
    assert step(make_due(WITHDRAWAL, row=repeat), DeliveryEvent.ACCEPTED, LATER).accepted_ms == T0


@pytest.mark.row("A4")
@pytest.mark.parametrize("state", [S.ACCEPTED, S.CONFIRMED, S.CALLING, S.WAITING, S.UNSURE])
def test_an_acceptance_that_a_release_overtook_is_none(state: DeliveryState) -> None:
    due = make_due(WITHDRAWAL, state=state, accepted_ms=T0, was_accepted=True)
    after = step(due, DeliveryEvent.OVERTAKEN, LATER)
    assert (after.accepted_ms, after.was_accepted) == (None, False)


@pytest.mark.row("O11")
def test_a_silence_or_a_withdrawal_of_its_pour_comes_after_the_gate_and_before_the_hour() -> None:
    release = make_told(MessageKind.RELEASED)
    true, moved = make_gate(GateState.RELEASED), make_gate(GateState.WITHDRAWN)
    for silenced in (True, False):
        here = make_due(release, true, silenced=silenced, inhibited=not silenced)
        assert may_go(here, T0) == Wait(T0 + MINUTE_MS)
        assert isinstance(may_go(replace(here, gate=moved), T0), Supersede)
    hint = make_told(MessageKind.COLD_DELAY)
    assert isinstance(may_go(make_due(hint, inhibited=True), T0), Supersede)
    assert isinstance(may_go(make_due(WITHDRAWAL, silenced=True, inhibited=True), T0), Go)


@pytest.mark.parametrize("kind", sorted(PERMITS))
def test_what_permits_another_operation_waits_while_its_bay_is_to_be_kept_off(kind: MessageKind) -> None:
    fits = GateState.RELEASED if kind is MessageKind.RELEASED else GateState.MET
    here = replace(make_due(make_told(kind, subject=WALK), make_gate(fits, operation=WALK)), kept_off=True)
    assert may_go(here, T0) == Wait(T0 + MINUTE_MS)
    assert isinstance(may_go(replace(here, kept_off=False), T0), Go)
    strip = make_due(make_told(kind), make_gate(fits))
    assert isinstance(may_go(replace(strip, kept_off=True), T0), Go), "two crews may strip side by side"


@pytest.mark.parametrize(
    ("kind", "stands_ms"),
    [
        (MessageKind.MORNING_LIST, 15 * MINUTE_MS),
        (MessageKind.HANDOVER, 15 * MINUTE_MS),
        # After a weekend without power nobody is told to cover what was poured on Friday "tonight".
        (MessageKind.COVER_TONIGHT, 8 * HOUR_MS),
    ],
)
def test_a_list_of_what_stands_is_not_told_when_it_is_too_old(kind: MessageKind, stands_ms: int) -> None:
    here = make_due(make_told(kind), state=S.WAITING)
    assert isinstance(may_go(here, T0 + stands_ms - 1), Go)
    assert may_go(here, T0 + stands_ms) == Supersede("too old a list of what stands")
