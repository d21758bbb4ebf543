"""What a person's act does to a pour: who may, when it is accepted, what it changes. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from cure.bay import BayEvidence
from cure.gate import GateEvent, allows, held
from cure.requirements import allowed_load_kpa
from cure.work import Work, signing_roles
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import LOAD, STRIP, Ms, Operation
from shared.models.decisions import GateState, HoldKind, LogEntry, Pour
from shared.models.messages import MessageKind
from shared.models.setup import Role, SiteFile
from shared.ports import PourCase

HANDS: Final = (Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER)
DESK: Final = (Role.SUPERINTENDENT, Role.QC, Role.ENGINEER)
MAY: Final[dict[type[acts.ActBase], tuple[Role, ...]]] = {
    acts.PourStart: HANDS,
    acts.PourEnd: DESK,
    acts.UnderWay: HANDS,
    acts.Done: HANDS,
    acts.FormsOff: HANDS,
    acts.Lift: DESK,
    acts.Reopen: DESK,
}
"""Who may do what; signing is by operation (`signing_roles`), STOP is anyone's."""
SURFACE_ABOVE_C: Final = 1.0
"""A measured surface above this lifts "freeze suspected"."""


def check_role(site: SiteFile, act: acts.ActBase, roles: tuple[Role, ...]) -> None:
    """Raise `ActRefusedError` unless the person is known and has one of the roles."""
    person = site.person(act.who)
    if person is None:
        raise ActRefusedError(f"nobody called {act.who!r} is in the site file; add a [[recipient]] with a role")
    if person.role not in roles:
        raise ActRefusedError(f"{act.who} is {person.role}; this takes one of: {', '.join(roles)}")


def changed_pour(case: PourCase, act: acts.PourAct, now_ms: Ms) -> Pour:
    """Return the pour as the act leaves it, before the evidence is looked at.

    An end may be moved later by one person; earlier needs a second one, because an earlier clock start releases more.
    """
    if not isinstance(act, acts.PourEnd):
        return case.pour
    end_ms = acts.ms(act.happened or act.at)
    if not case.pour.start_ms < end_ms <= now_ms:
        raise ActRefusedError("the end of a pour lies after its start and not in the future")
    if case.pour.end_ms is not None and end_ms < case.pour.end_ms:
        second = None if act.second_person is None else case.site.person(act.second_person)
        if second is None or second.id == act.who or second.role not in DESK:
            raise ActRefusedError(
                "moving the end of a pour earlier needs a second person (superintendent, qc, engineer)"
            )
    calibration = case.pour.calibration_version
    if calibration is None and case.calibration is not None:
        calibration = case.calibration.version
    return replace(case.pour, end_ms=end_ms, calibration_version=calibration)


def sign_offs_wanted(work: Work) -> int:
    """Return how many sign-offs a release takes: 0 is refused after a hold, or below 10 degC in the first 24 h."""
    wanted = work.case.site.plan.sign_offs
    if wanted == 0 and (work.memory.get("holds") or _cold_first_day(work.evidence)):
        return 1
    return wanted


def _cold_first_day(evidence: BayEvidence) -> bool:
    end_ms = evidence.case.pour.end_ms
    if end_ms is None:
        return True
    first_day = [s.raw.milli_c[s.raw.taken_ms <= end_ms + 24 * 3_600_000] for s in evidence.sensors]
    return any(len(t) == 0 or not bool((t >= 10_000).all()) for t in first_day)


def _sign(work: Work, act: acts.Sign) -> None:
    # All of them are checked before any is signed: half a page is never signed.
    operations = [Operation(name) for name in dict.fromkeys(act.operations)]
    for operation in operations:
        gate, verdict = work.gates.get(operation), work.verdicts.get(operation)
        if gate is None or verdict is None:
            raise ActRefusedError(f"{operation} is not an operation of this site's plan")
        check_role(work.case.site, act, signing_roles(operation))
        if gate.state is not GateState.MET or not verdict.met:
            missed = "; ".join(work.sentences(operation)) if not verdict.met else gate.reason
            raise ActRefusedError(f"{operation} of {gate.pour} is {gate.state}, there is nothing to sign: {missed}")
        if act.who in gate.signers:
            raise ActRefusedError(f"{act.who} has signed {operation} already; a second person must sign")
    released = []
    for operation in operations:
        gate = work.gates[operation]
        work.gates[operation] = gate = replace(gate, signers=(*gate.signers, act.who))
        work.keep_evidence(operation)
        if len(gate.signers) >= max(1, sign_offs_wanted(work)):
            work.take(operation, GateEvent.SIGNED, "signed", act.who)
            released.append(operation)
    # After all of them, so that each message knows what else is released.
    for operation in released:
        tell_permit(work, operation, MessageKind.RELEASED)


def tell_permit(work: Work, operation: Operation, kind: MessageKind) -> None:
    """Write a release, or "requirement met, not signed"."""
    gate = work.gates[operation]
    load = {"load_kpa": allowed_load_kpa(work.evidence)} if operation == LOAD else {}
    work.tell(kind, operation, gate.epoch, {"signers": list(gate.signers), **load}, operation=operation)


def _gate_step(work: Work, name: str, event: GateEvent, reason: str, who: str) -> None:
    operation = Operation(name)
    gate = work.gates.get(operation)
    if gate is None:
        raise ActRefusedError(f"{name} is not an operation of this site's plan")
    unsigned = gate.state is GateState.MET and event is GateEvent.BEGUN and sign_offs_wanted(work) > 0
    if unsigned or not allows(gate.state, event):
        raise ActRefusedError(f"{name} of {gate.pour} is {gate.state}: it cannot be {event}")
    work.take(operation, event, reason, who)


def _under_way(work: Work, act: acts.UnderWay) -> None:
    _gate_step(work, act.operation, GateEvent.BEGUN, "begun", act.who)
    if act.operation == STRIP:
        near = [work.case.bay.id, *work.disturbed()]
        facts = {"cause": "stripping is under way below", "bays": near}
        work.tell(MessageKind.KEEP_OFF, STRIP, work.gates[STRIP].epoch, facts, operation=STRIP)


def _done(work: Work, act: acts.Done) -> None:
    _gate_step(work, act.operation, GateEvent.FINISHED, "done", act.who)


def withdraw(work: Work, operation: Operation, event: GateEvent, reason: str, cause: str, who: str) -> None:
    """Shut a gate that a release may stand on, and tell everybody who could hold that release."""
    before = held(work.gates[operation])
    work.take(operation, event, reason, who)
    tell_withdrawal(work, operation, cause, done=before in {GateState.UNDER_WAY, GateState.DONE})


def tell_withdrawal(work: Work, operation: Operation, cause: str, *, done: bool) -> None:
    """Write a withdrawal; `done`: people have acted on the release already."""
    facts = {"cause": cause, "done": done}
    work.tell(MessageKind.WITHDRAWAL, operation, work.gates[operation].epoch, facts, operation=operation)


def _stop(work: Work, act: acts.Stop) -> None:
    for operation, gate in list(work.gates.items()):
        if allows(gate.state, GateEvent.STOPPED):
            withdraw(work, operation, GateEvent.STOPPED, "STOP pressed", f"STOP pressed: {act.why}", act.who)


def _forms_off(work: Work, act: acts.FormsOff) -> None:
    gate = work.gates[STRIP]
    if not allows(gate.state, GateEvent.FORMS_OFF):
        raise ActRefusedError(f"strip of {gate.pour} is {gate.state}: record it as begun or done instead")
    work.take(STRIP, GateEvent.FORMS_OFF, "forms found off", act.who)
    tell_withdrawal(work, STRIP, "forms found off without a release", done=True)


def _lift(work: Work, act: acts.Lift) -> None:
    if act.hold not in work.holds:
        raise ActRefusedError(f"{work.case.pour.id} has no hold {act.hold!r}")
    if act.hold is HoldKind.FREEZE_LOCKED:
        check_role(work.case.site, act, (Role.ENGINEER,))
        if act.document is None:
            raise ActRefusedError("a freeze lock is lifted by the engineer's written disposition: name the document")
    if act.hold is HoldKind.FREEZE_SUSPECTED and not (act.surface_c is not None and act.surface_c > SURFACE_ABOVE_C):
        raise ActRefusedError("measure the concrete surface: this hold is lifted by a surface above 1 degC (34 degF)")
    coldest = min((int(s.raw.milli_c.min()) for s in work.evidence.sensors if len(s.raw)), default=0)
    work.memory["lifted"] = {**work.memory.get("lifted", {}), act.hold: {"at_ms": work.now_ms, "milli_c": coldest}}
    work.lift_hold(act.hold, act.who, act.why)


def _reopen(work: Work, act: acts.Reopen) -> None:
    operation = Operation(act.operation)
    if not work.case.withdrawal_confirmed.get(operation, False):
        raise ActRefusedError(f"the withdrawal of {act.operation} is not confirmed yet: confirm its message first")
    _gate_step(work, act.operation, GateEvent.REOPENED, "reopened", act.who)
    work.log[-1] = replace(work.log[-1], body={**work.log[-1].body, "cause": act.cause})


_PRESSES: Final[dict[type[acts.ActBase], Callable[[Work, Any], None]]] = {
    acts.Sign: _sign,
    acts.UnderWay: _under_way,
    acts.Done: _done,
    acts.Stop: _stop,
    acts.FormsOff: _forms_off,
    acts.Lift: _lift,
    acts.Reopen: _reopen,
}


def press(work: Work, act: acts.PourAct) -> None:
    """Carry out an act on the gates and holds, after they have been brought up to the evidence.

    Raises:
        ActRefusedError: it cannot be accepted now, and why.
    """
    if type(act) in MAY:
        check_role(work.case.site, act, MAY[type(act)])
    work.log.append(LogEntry(work.now_ms, act.who, "act", acts.act_to(act)))
    if type(act) in _PRESSES:
        _PRESSES[type(act)](work, act)
