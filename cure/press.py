"""What a person's act does to a pour: who may, when it is accepted, what it changes. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from cure import taps, tickets
from cure.bay import BayEvidence
from cure.burst import quiet_at_ms
from cure.entered import second_check
from cure.gate import GateEvent, allows
from cure.lowering import judged_now
from cure.nextlook import ESTIMATES_APART_MS, STEADY_MS
from cure.permits import tell_permit, tell_withdrawal, withdraw
from cure.released import remember
from cure.roles import check_role
from cure.taken_back import goes_on
from cure.work import Work
from shared.errors import ActRefusedError
from shared.models import acts
from shared.models.base import FULL_LOAD, MINUTE_MS, STRIP, Operation
from shared.models.decisions import Gate, GateState, HoldKind, LogEntry
from shared.models.messages import MessageKind
from shared.models.people import Role
from shared.models.requirement import ANSWERS, DESK

HANDS: Final = (Role.CREW, Role.SUPERINTENDENT, Role.QC, Role.ENGINEER)
MAY: Final[dict[type[acts.ActBase], tuple[Role, ...]]] = {
    acts.PourStart: HANDS,
    acts.TakeBack: HANDS,
    acts.PourEnd: DESK,
    acts.UnderWay: HANDS,
    acts.Done: HANDS,
    acts.FormsOff: HANDS,
    acts.Lift: DESK,
    acts.Reopen: DESK,
    acts.SecondCheck: DESK,
    acts.ChangeMix: ANSWERS,
    acts.StrengthTest: ANSWERS,
    acts.Want: DESK,
    acts.Cover: HANDS,
    acts.Heat: HANDS,
    acts.Ticket: HANDS,
    acts.HandReading: (Role.INSTALLER, *DESK),
}
"""Who may do what; signing is by requirement, STOP is anyone's."""
ENGINEER_LIFTS: Final = frozenset({HoldKind.FREEZE_LOCKED, HoldKind.REQUIREMENT_LOWERED})
"""Holds that nobody else lifts."""
SURFACE_ABOVE_C: Final = 1.0
"""A measured surface above this lifts "freeze suspected"."""


def sign_offs_wanted(work: Work, operation: Operation) -> int:
    """Return how many sign-offs a release takes.

    0 is refused after a hold, below 10 degC in the first 24 h, and where the requirement names who signs.
    """
    wanted, force = work.case.site.plan.sign_offs, work.in_force[operation]
    if force.requirement.each_signs:
        return max(wanted, len(set(force.signed_by)))
    named = force.requirement.signed_by is not None or operation == FULL_LOAD
    if wanted == 0 and (named or work.memory.get("holds") or _cold_first_day(work.evidence)):
        return 1
    return wanted


def _cold_first_day(evidence: BayEvidence) -> bool:
    end_ms = evidence.case.pour.end_ms
    if end_ms is None:
        return True
    first_day = [s.raw.milli_c[s.raw.taken_ms <= end_ms + 24 * 3_600_000] for s in evidence.sensors]
    return any(len(t) == 0 or not bool((t >= 10_000).all()) for t in first_day)


CONFIRMED_BY: Final = (
    f"the requirement is met and being confirmed, by {STEADY_MS // MINUTE_MS} min of readings that meet it and by a "
    f"second estimate {ESTIMATES_APART_MS // MINUTE_MS} min after the first; a message says when a signature is wanted"
)


def _missed(gate: Gate) -> str:
    """Return why a gate whose requirement is met cannot be signed."""
    return CONFIRMED_BY if gate.state is GateState.CURING else gate.reason


def _sign(work: Work, act: acts.Sign) -> None:
    if (quiet := quiet_at_ms(work.case, work.now_ms)) is not None:
        left_s = -(-(quiet - work.now_ms) // 1000)
        raise ActRefusedError(f"late readings of {work.case.pour.id} are still coming in: sign again in {left_s} s")
    # All of them are checked before any is signed: half a page is never signed.
    operations = [Operation(name) for name in dict.fromkeys(act.operations)]
    for operation in operations:
        gate, verdict = work.gates.get(operation), work.verdicts.get(operation)
        if gate is None or verdict is None:
            raise ActRefusedError(f"{operation} is not an operation of this site's plan")
        check_role(work.case.site, act, work.in_force[operation].signed_by)
        if gate.state is not GateState.MET or not verdict.met:
            missed = _missed(gate) if verdict.met else "; ".join(work.sentences(operation))
            yet = " yet" if verdict.met and gate.state is GateState.CURING else ""
            raise ActRefusedError(
                f"{operation} of {gate.pour} is {gate.state}, there is nothing to sign{yet}: {missed}"
            )
        if act.who in gate.signers:
            raise ActRefusedError(f"{act.who} has signed {operation} already; a second person must sign")
        _check_turn(work, operation, act)
    released = []
    for operation in operations:
        gate = work.gates[operation]
        work.gates[operation] = gate = replace(gate, signers=(*gate.signers, act.who))
        work.keep_evidence(operation)
        if len(gate.signers) >= max(1, sign_offs_wanted(work, operation)):
            work.take(operation, GateEvent.SIGNED, "signed", act.who)
            remember(work, operation)
            released.append(operation)
    # After all of them, so that each message knows what else is released.
    for operation in released:
        tell_permit(work, operation, MessageKind.RELEASED)


def _check_turn(work: Work, operation: Operation, act: acts.Sign) -> None:
    """Where each role signs, nobody takes the place of a role that has not signed yet."""
    force, signers = work.in_force[operation], work.gates[operation].signers
    if not force.requirement.each_signs:
        return
    roles = {person.id: person.role for person in work.case.site.recipient}
    unsigned = set(force.signed_by) - {roles.get(who) for who in signers}
    places = sign_offs_wanted(work, operation) - len(signers)
    if roles.get(act.who) not in unsigned and places <= len(unsigned):
        raise ActRefusedError(f"{roles[act.who]} has signed {operation} already; the other roles must sign too")


def _gate_step(work: Work, name: str, event: GateEvent, reason: str, who: str) -> None:
    operation = Operation(name)
    gate = work.gates.get(operation)
    if gate is None:
        raise ActRefusedError(f"{name} is not an operation of this site's plan")
    unsigned = gate.state is GateState.MET and event is GateEvent.BEGUN and not _goes_unsigned(work, operation)
    if unsigned or not allows(gate.state, event):
        raise ActRefusedError(f"{name} of {gate.pour} is {gate.state}: it cannot be {event}")
    work.take(operation, event, reason, who)


def _goes_unsigned(work: Work, operation: Operation) -> bool:
    return operation in work.in_force and sign_offs_wanted(work, operation) == 0


def _under_way(work: Work, act: acts.UnderWay) -> None:
    _gate_step(work, act.operation, GateEvent.BEGUN, "begun", act.who)
    if act.operation == STRIP:
        near = [work.case.bay.id, *work.disturbed()]
        facts = {"cause": "stripping is under way below", "bays": near}
        work.tell(MessageKind.KEEP_OFF, STRIP, work.gates[STRIP].epoch, facts, operation=STRIP)


def _done(work: Work, act: acts.Done) -> None:
    _gate_step(work, act.operation, GateEvent.FINISHED, "done", act.who)


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
    if act.hold in ENGINEER_LIFTS:
        check_role(work.case.site, act, (Role.ENGINEER,))
    if act.hold is HoldKind.FREEZE_LOCKED and act.document is None:
        raise ActRefusedError("a freeze lock is lifted by the engineer's written disposition: name the document")
    if act.hold is HoldKind.REQUIREMENT_LOWERED:
        work.memory["judged"] = judged_now(work)
    if act.hold is HoldKind.TICKET:
        tickets.settle(work)
    if act.hold is HoldKind.FREEZE_SUSPECTED and not (act.surface_c is not None and act.surface_c > SURFACE_ABOVE_C):
        raise ActRefusedError("measure the concrete surface: this hold is lifted by a surface above 1 degC (34 degF)")
    every = (*work.evidence.sensors, *work.evidence.ended)
    coldest = min((int(s.raw.milli_c.min()) for s in every if len(s.raw)), default=0)
    work.memory["lifted"] = {**work.memory.get("lifted", {}), act.hold: {"at_ms": work.now_ms, "milli_c": coldest}}
    work.lift_hold(act.hold, act.who, act.why)


def _reopen(work: Work, act: acts.Reopen) -> None:
    operation = Operation(act.operation)
    if not work.case.withdrawal_confirmed.get(operation, False):
        raise ActRefusedError(f"the withdrawal of {act.operation} is not confirmed yet: confirm its message first")
    _gate_step(work, act.operation, GateEvent.REOPENED, "reopened", act.who)
    work.log[-1] = replace(work.log[-1], body={**work.log[-1].body, "cause": act.cause})


def _want(work: Work, act: acts.Want) -> None:
    if Operation(act.operation) not in work.in_force:
        raise ActRefusedError(f"{act.operation} is not an operation of this site's plan")
    work.memory["wanted"] = {**work.memory.get("wanted", {}), act.operation: acts.ms(act.wanted)}


def _test_result(work: Work, act: acts.StrengthTest) -> None:
    tested_ms = act.at_ms if act.tested is None else acts.ms(act.tested)
    if not work.case.pour.start_ms < tested_ms <= work.now_ms:
        raise ActRefusedError("a test lies after the start of its pour and not in the future")


_PRESSES: Final[dict[type[acts.ActBase], Callable[[Work, Any], None]]] = {
    acts.TakeBack: goes_on,
    acts.Sign: _sign,
    acts.UnderWay: _under_way,
    acts.Done: _done,
    acts.Stop: _stop,
    acts.FormsOff: _forms_off,
    acts.Lift: _lift,
    acts.Reopen: _reopen,
    acts.SecondCheck: second_check,
    acts.Want: _want,
    acts.Cover: taps.cover,
    acts.Heat: taps.heat,
    acts.Ticket: tickets.keep,
    acts.StrengthTest: _test_result,
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
