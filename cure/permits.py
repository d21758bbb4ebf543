"""Writing what permits something, and taking it back. Values only; the words are for others."""

from __future__ import annotations

from cure.gate import GateEvent, held
from cure.plans import allowed_load_kpa
from cure.work import Work
from shared.models.base import LOAD, Operation
from shared.models.decisions import GateState
from shared.models.messages import MessageKind


def tell_permit(work: Work, operation: Operation, kind: MessageKind) -> None:
    """Write a release, or "requirement met, not signed"."""
    gate = work.gates[operation]
    load = {"load_kpa": allowed_load_kpa(work.evidence)} if operation == LOAD else {}
    work.tell(kind, operation, gate.epoch, {"signers": list(gate.signers), **load}, operation=operation)


def void_signatures(work: Work, operation: Operation, reason: str) -> None:
    """A signature is for what was signed: the second of two must not complete it for something else."""
    gate = work.gates[operation]
    if gate.state is GateState.MET and gate.signers:
        work.take(operation, GateEvent.UNMET, reason)


def withdraw(work: Work, operation: Operation, event: GateEvent, reason: str, cause: str, who: str) -> None:
    """Shut a gate that a release may stand on, and tell everybody who could hold that release."""
    before = held(work.gates[operation])
    work.take(operation, event, reason, who)
    tell_withdrawal(work, operation, cause, done=before in {GateState.UNDER_WAY, GateState.DONE})


def tell_withdrawal(work: Work, operation: Operation, cause: str, *, done: bool) -> None:
    """Write a withdrawal; `done`: people have acted on the release already."""
    facts = {"cause": cause, "done": done}
    work.tell(MessageKind.WITHDRAWAL, operation, work.gates[operation].epoch, facts, operation=operation)
