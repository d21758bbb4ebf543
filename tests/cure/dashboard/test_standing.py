"""Whether what was said still stands: never longer than its gate says, and not in doubt."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import Story
from told_support import released_story, stopped_story

from cure.dashboard.standing import Standing, standing
from shared.models.base import STRIP, WALK, BayId
from shared.models.decisions import Gate, GateState
from shared.models.messages import Message, MessageKind
from shared.ports import BoardRow


def message_of(told: Story, kind: MessageKind, subject: str = STRIP) -> Message:
    m = [m for m in told.messages if m.kind is kind and m.subject == subject][-1]
    return Message(7, m.kind, m.pour, m.subject, m.epoch, m.at_ms, m.valid_until_ms, m.facts)


def asked(
    told: Story, message: Message, *, stopped: bool = False, later_ms: int = 0, **gate: object
) -> Standing | None:
    case = told.case
    found: Gate = replace(case.gates[STRIP], **gate)  # type: ignore[arg-type]
    case = replace(case, gates={**case.gates, STRIP: found})
    row = BoardRow(case.pour, case.bay.floor, case.gates, case.holds, case.state, case.stripping)
    return standing(message, case, row, told.now_ms + later_ms, stopped=stopped)


@pytest.mark.parametrize("state", GateState)
def test_a_release_stands_only_while_its_gate_does(state: GateState) -> None:
    told = released_story()
    message = message_of(told, MessageKind.RELEASED)
    wanted = {
        GateState.RELEASED: Standing.STANDS,
        GateState.UNDER_WAY: Standing.STANDS,
        GateState.DONE: Standing.STANDS,
        GateState.SUSPENDED: Standing.DOUBTED,
    }.get(state, Standing.FALLEN)
    assert asked(told, message, state=state) is wanted
    # Of an older epoch it never does, and nothing stands while nobody judges.
    assert asked(told, message, state=state, epoch=message.epoch + 1) is Standing.FALLEN
    assert asked(told, message, state=state, stopped=True) in {Standing.DOUBTED, Standing.FALLEN}


def test_a_release_that_nobody_began_is_void_after_its_own_hour() -> None:
    told = released_story()
    message = message_of(told, MessageKind.RELEASED)
    assert message.valid_until_ms is not None
    later_ms = message.valid_until_ms - told.now_ms
    assert asked(told, message, later_ms=later_ms - 1) is Standing.STANDS
    assert asked(told, message, later_ms=later_ms) is Standing.EXPIRED
    assert asked(told, replace(message, valid_until_ms=None)) is Standing.EXPIRED
    assert asked(told, message, later_ms=later_ms, state=GateState.UNDER_WAY) is Standing.STANDS


def test_a_release_falls_with_stop_and_the_withdrawal_stands_until_the_gate_moves_on() -> None:
    told = stopped_story()
    assert asked(told, message_of(told, MessageKind.RELEASED)) is Standing.FALLEN
    withdrawal = message_of(told, MessageKind.WITHDRAWAL)
    assert asked(told, withdrawal) is Standing.SHUT
    assert asked(told, withdrawal, state=GateState.CURING, epoch=withdrawal.epoch + 1) is Standing.OVER
    assert asked(told, withdrawal, stopped=True) is Standing.SHUT


def test_walk_is_to_be_kept_off_while_forms_are_stripped_beside() -> None:
    told = released_story()
    message = replace(message_of(told, MessageKind.RELEASED), subject=WALK)
    gate = replace(told.case.gates[WALK], state=GateState.RELEASED, epoch=message.epoch)
    case = replace(told.case, gates={**told.case.gates, WALK: gate})
    beside = BoardRow(case.pour, "2", case.gates, (), case.state, (BayId("2-b2"),))
    assert standing(message, case, replace(beside, stripping=()), told.now_ms, stopped=False) is Standing.STANDS
    assert standing(message, case, beside, told.now_ms, stopped=False) is Standing.KEEP_OFF


def test_what_neither_permits_nor_shuts_has_no_standing() -> None:
    told = released_story()
    message = replace(message_of(told, MessageKind.RELEASED), kind=MessageKind.SIGN_OFF_WANTED)
    assert asked(told, message) is None
