"""A start of a pour that is taken back: its pour is void, and the pour that it had ended goes on. Pure.

Nothing of a release is renewed by it: what was released is withdrawn, what was met is judged anew.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from typing import Any, Final

from cure.gate import GateEvent, allows, held, step
from cure.permits import tell_withdrawal, withdraw
from cure.work import Work
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import BayId, Ms, Operation
from shared.models.decisions import Gate, GateState, LogEntry
from shared.ports import PourCase, Result

MARK: Final = "taken_back"
"""Under this the memory of a void pour says who took its start back, when and why."""
BACK: Final = "came_back"
"""Under this the memory of a pour says by which start it had been ended, and since when it goes on."""
BINDS: Final[dict[str, str]] = {
    "sign": "a signature",
    "under_way": "work that was begun",
    "done": "work that was done",
    "forms_off": "forms that were found off",
    "test_result": "a test of its concrete",
    "hand_reading": "a temperature of its concrete",
}
"""Acts that say of a pour that it is there: after one of them its start stands."""
STARTED_OVER: Final = "another pour was started here by mistake"
_UNSIGNED: Final = frozenset({GateState.NOT_SET_UP, GateState.CURING, GateState.HOLD, GateState.MET})
"""Where a gate stands, or stood before it was suspended, of which nothing is signed and nothing begun."""


def check_void(case: PourCase, did: Collection[str]) -> None:
    """Raise `ActRefusedError` unless the start of a pour may be taken back.

    Args:
        case: the pour.
        did: kinds of the acts on it.
    """
    pour, memory = case.pour, case.state.memory
    if MARK in memory:
        raise ActRefusedError(f"the start of {pour.id} was taken back already")
    if pour.closed_ms is not None:
        raise ActRefusedError(f"{pour.id} has ended: a later pour was started in bay {pour.bay}, and its start stands")
    binding = [words for kind, words in BINDS.items() if kind in did]
    if memory.get("released"):
        binding.append("a release")
    if binding:
        raise ActRefusedError(f"the start of {pour.id} stands: there is {'; '.join(binding)}")


def void(case: PourCase, act: acts.TakeBack, now_ms: Ms) -> Result:
    """Return what becomes of the pour itself: closed, judged by no calibration, nothing of it met.

    What stands of it stays to be read; a STOP that was pressed stays pressed.
    """
    pour = case.pour
    steps = [(gate, _not_met(gate, now_ms)) for gate in case.gates.values()]
    near = {BayId(b) for b in case.bay.neighbours} | {b.bay for b in case.beside}
    mark = {"who": act.who, "at_ms": now_ms, "why": act.why}
    return Result(
        at_ms=now_ms,
        pour=replace(pour, closed_ms=max(now_ms, pour.start_ms), calibration_version=None),
        gates=tuple(after for _, after in steps),
        holds=case.holds,
        state=replace(case.state, memory={**case.state.memory, MARK: mark}),
        log=tuple(_lines(steps, act, now_ms)),
        wake=tuple(sorted(near)),
    )


def _not_met(gate: Gate, now_ms: Ms) -> Gate:
    """Return the gate without "met", so that a message that asks for a signature is not true any more."""
    if gate.state is GateState.MET:
        return step(gate, GateEvent.UNMET, now_ms, "its start was taken back")
    if held(gate) is GateState.MET:
        return step(gate, GateEvent.RESUME, now_ms, "its start was taken back")
    return gate


def _lines(steps: list[tuple[Gate, Gate]], act: acts.TakeBack, now_ms: Ms) -> Iterator[LogEntry]:
    for before, after in steps:
        if before != after:
            body = {
                "pour": before.pour,
                "operation": before.operation,
                "from": before.state,
                "to": after.state,
                "epoch": after.epoch,
                "reason": after.reason,
                "evidence_ms": None,
                "found": [],
            }
            yield LogEntry(now_ms, act.who, "gate", body)


def going_on(case: PourCase, over: PourCase, now_ms: Ms) -> PourCase:
    """Return the pour that a start had ended as it is judged again: open, no gate half-way to "met", no cover lying on.

    Args:
        case: of the pour, as it was when it was ended.
        over: of the pour whose start is taken back.
        now_ms: site time.
    """
    ended_ms = over.pour.start_ms
    stopped = any(gate.state is GateState.WITHDRAWN for gate in over.gates.values())
    memory: dict[str, Any] = {
        **case.state.memory,
        BACK: {"pour": over.pour.id, "ended_ms": ended_ms, "at_ms": now_ms, "stopped": stopped},
    }
    # Whoever took a cover off meanwhile could not say so here.
    for name in ("covers", "covers_said", "heated"):
        if name in memory:
            memory[name] = [[a, max(a, ended_ms) if b is None else b, *more] for a, b, *more in memory[name]]
    if "covered" in memory:
        memory["covered"] = False
    return replace(
        case,
        pour=replace(case.pour, closed_ms=None),
        gates={op: replace(gate, steady_from_ms=None) for op, gate in case.gates.items()},
        state=replace(case.state, memory=memory),
    )


def goes_on(work: Work, act: acts.TakeBack) -> None:
    """Shut what the pour had open when it was ended, and what was shut by STOP while it was."""
    back = work.memory.get(BACK)
    if back is not None:
        work.log[-1] = replace(work.log[-1], body={**work.log[-1].body, "goes_on": work.case.pour.id})
        work.wake.update(work.disturbed(), (beside.bay for beside in work.case.beside))
    cause = f"{STARTED_OVER}: {act.why}"
    for operation, gate in list(work.gates.items()):
        if back is not None and back["stopped"] and allows(gate.state, GateEvent.STOPPED):
            withdraw(work, operation, GateEvent.STOPPED, "STOP pressed", cause, act.who)
        elif held(gate) is GateState.RELEASED:
            withdraw(work, operation, GateEvent.CONTRADICTED, STARTED_OVER, cause, act.who)
        elif gate.state is GateState.MET:
            work.take(operation, GateEvent.UNMET, STARTED_OVER, act.who)
        _untell_met(work, operation, cause)


def _untell_met(work: Work, operation: Operation, cause: str) -> None:
    """Take "requirement met, not signed" back from those who hold it: a site without sign-offs acts on it."""
    gate, told = work.gates[operation], work.memory.get("told_met", {})
    if told.get(operation) == gate.epoch and held(gate) in _UNSIGNED:
        work.memory["told_met"] = {op: epoch for op, epoch in told.items() if op != operation}
        tell_withdrawal(work, operation, cause, done=False)
        work.gates[operation] = replace(gate, epoch=gate.epoch + 1)
