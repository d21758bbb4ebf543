"""One round at one pour, pure: the case, its readings, now, perhaps a person's act -> everything to record.

Order: evidence, doubts, verdicts, gates, the act, what is worth telling. Missing, late or odd input has no way to open
a gate: a finding that is not known is not met, and only a steady, complete, fresh verdict steps to "met".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from cure import watch
from cure.bay import SILENT_AFTER_INTERVALS, evidence
from cure.gate import OPEN, GateEvent, allows, held
from cure.press import changed_pour, press, sign_offs_wanted, tell_permit, tell_withdrawal, withdraw
from cure.requirements import clock_rule
from cure.work import CODE_VERSION, SYSTEM, Work, signing_roles, why
from shared.models.acts import PourAct
from shared.models.base import DAY_MS, LOAD, MINUTE_MS, BayId, Ms, Operation, SensorId
from shared.models.decisions import Finding, Gate, GateState, HoldKind, PourState, Verdict
from shared.models.messages import MessageKind
from shared.models.readings import Series
from shared.ports import PourCase, Result

STEADY_MS: Final = 30 * MINUTE_MS
"""A requirement must be met through this much evidence."""
ESTIMATES_APART_MS: Final = MINUTE_MS
"""And at two estimates at least so far apart: a buffer that comes in bit by bit is in by the second."""
SUSPENDED_RETRY_MS: Final = MINUTE_MS
CLOCK_BEHIND_MS: Final = 2 * MINUTE_MS
"""Readings may be so far ahead of the clock when they are stored; the clock is wrong when one is further ahead."""
NOBODY_ACTS: Final = frozenset({GateState.NOT_SET_UP, GateState.CURING, GateState.HOLD})


def assess(
    case: PourCase,
    series: Mapping[SensorId, Series],
    now_ms: Ms,
    *,
    clock_ok: bool,
    act: PourAct | None = None,
) -> Result:
    """Return what a round makes of a pour.

    Args:
        case: everything but the readings.
        series: readings by sensor.
        now_ms: site time.
        clock_ok: the host's clock may be believed, or nobody asked for that.
        act: what a person has just done, if this round is for that.

    Raises:
        ActRefusedError: the act cannot be accepted now; nothing is to be recorded.
    """
    if act is not None:
        case = replace(case, pour=changed_pour(case, act, now_ms))
    work = Work(
        case=case,
        evidence=evidence(case, series, now_ms),
        now_ms=now_ms,
        gates={},
        holds={h.kind: h for h in case.holds},
        memory=dict(case.state.memory),
    )
    work.gates = {op: case.gates.get(op, Gate(case.pour.id, op)) for op in work.plan}
    watch.freezing(work)
    watch.conflicts(work)
    work.verdicts = {op: _verdict(work, op) for op in work.plan}
    for operation in work.plan:
        _bring_up_to_date(work, operation, clock_ok=clock_ok)
    if act is not None:
        press(work, act)
        _lift_gates(work)
    watch.delays(work)
    watch.silences(work)
    return _result(case, work, act)


def _missing(work: Work, operation: Operation) -> tuple[str, ...]:
    case = work.case
    wanted = (
        (case.site.plan.adopted_by is not None, "the engineer has not adopted the plan"),
        (case.calibration is not None, f"no calibration of mix {case.mix.id}"),
        (case.pour.end_ms is not None, "the end of the pour"),
        (any(s.placement.required for s in work.evidence.sensors), "a required sensor in the concrete"),
        (operation != LOAD or case.bay.construction_load_kpa is not None, "the engineer's construction load"),
    )
    return tuple(words for there, words in wanted if not there)


def _verdict(work: Work, operation: Operation) -> Verdict:
    silent = ", ".join(p.sensor for p in work.evidence.silent)
    fresh = Finding(
        "required sensors alive", f"silent: {silent}" if silent else "yes", None, "", met=False, lasting=False
    )
    fresh = replace(fresh, met=work.evidence.fresh())
    findings = (fresh, *work.plan[operation].findings(work.evidence))
    missing = _missing(work, operation)
    return Verdict(operation, missing, not missing and all(f.met for f in findings), findings)


def _contradiction(work: Work, operation: Operation) -> str | None:
    """Return why a release does not stand any more. What is merely not known contradicts nothing."""
    lasting = [f for f in work.verdicts[operation].failed(lasting_only=True) if f.found is not None]
    # A clock that was put back hides the newest readings; less evidence contradicts nothing.
    behind = any(a.newest_ms > work.now_ms + CLOCK_BEHIND_MS for a in work.case.arrivals.values())
    if lasting and not behind:
        return "; ".join(f.rule for f in lasting)
    frozen = [k for k in (HoldKind.FREEZE_LOCKED, HoldKind.FREEZE_SUSPECTED) if k in work.holds]
    return str(frozen[0]) if frozen else None


def _bring_up_to_date(work: Work, operation: Operation, *, clock_ok: bool) -> None:
    # First, and whatever the clock says: people go by a release although its gate is suspended.
    if held(work.gates[operation]) in OPEN | {GateState.DONE}:
        _check_release(work, operation)
    if not clock_ok:
        if allows(work.gates[operation].state, GateEvent.SUSPEND):
            work.take(operation, GateEvent.SUSPEND, "the service's clock is not synchronised")
    else:
        if work.gates[operation].state is GateState.SUSPENDED:
            work.take(operation, GateEvent.RESUME, "the service's clock is synchronised")
        _judge(work, operation)
    _take_back(work, operation)


def _judge(work: Work, operation: Operation) -> None:
    """Step a gate that nobody acts on yet."""
    gate, verdict = work.gates[operation], work.verdicts[operation]
    doubt = "; ".join(work.holds)
    if gate.state is GateState.HOLD and not doubt:
        gate = work.take(operation, GateEvent.LIFTED, "no doubt is left")
    if gate.state is GateState.NOT_SET_UP and not doubt and not verdict.missing:
        gate = work.take(operation, GateEvent.SET_UP, "set-up complete")
    event, reason = _lost(work, operation, doubt)
    if event is not None:
        work.take(operation, event, reason)
    elif gate.state is GateState.CURING:
        _steady(work, operation)


def _told_met(work: Work, operation: Operation) -> bool:
    """Return whether people hold "requirement met, not signed" of this gate: a site without sign-offs acts on it."""
    return bool(work.memory.get("told_met", {}).get(operation) == work.gates[operation].epoch)


def _take_back(work: Work, operation: Operation) -> None:
    """Withdraw "requirement met, not signed" once: also after a suspension, which leaves the gate curing."""
    gate = work.gates[operation]
    suspended_met = gate.state is GateState.SUSPENDED and gate.before is GateState.MET
    if not _told_met(work, operation) or not (suspended_met or held(gate) in NOBODY_ACTS):
        return
    reasons = ("; ".join(work.holds), "; ".join(work.verdicts[operation].missing), _contradiction(work, operation))
    cause = next((reason for reason in reasons if reason), None)
    if cause is not None:
        work.memory["told_met"] = {op: e for op, e in work.memory["told_met"].items() if op != operation}
        tell_withdrawal(work, operation, cause, done=False)


def _lost(work: Work, operation: Operation, doubt: str) -> tuple[GateEvent | None, str]:
    """Return the event that shuts a gate again, if there is one, and why.

    What people hold in their hands is taken back only by what lasts, as a release is: not by a silent logger.
    """
    gate, verdict = work.gates[operation], work.verdicts[operation]
    if doubt and allows(gate.state, GateEvent.DOUBT):
        return GateEvent.DOUBT, doubt
    if verdict.missing and allows(gate.state, GateEvent.MISSING):
        return GateEvent.MISSING, "; ".join(verdict.missing)
    if gate.state is GateState.MET and _told_met(work, operation):
        cause = _contradiction(work, operation)
        return (None, "") if cause is None else (GateEvent.UNMET, cause)
    if gate.state is GateState.MET and not verdict.met:
        return GateEvent.UNMET, why(verdict)
    return None, ""


def _check_release(work: Work, operation: Operation) -> None:
    cause = _contradiction(work, operation)
    if cause is None:
        return
    told = work.memory.get("contradicted", {})
    if told.get(operation) == work.gates[operation].epoch:
        return
    sentences = [f.explain(work.case.site.site.units) for f in work.verdicts[operation].failed(lasting_only=True)]
    withdraw(work, operation, GateEvent.CONTRADICTED, cause, "; ".join(sentences) or cause, SYSTEM)
    work.memory["contradicted"] = {**told, operation: work.gates[operation].epoch}


def _steady(work: Work, operation: Operation) -> None:
    """Step to "met" when the evidence has met the requirement for 30 min, and a later estimate found so again."""
    gate, verdict = work.gates[operation], work.verdicts[operation]
    if not verdict.met:
        work.gates[operation] = replace(gate, steady_from_ms=None)
        return
    first_ms = work.now_ms if gate.steady_from_ms is None else gate.steady_from_ms
    work.gates[operation] = replace(gate, steady_from_ms=first_ms)
    if work.now_ms - first_ms < ESTIMATES_APART_MS or not _stood(work, operation):
        return
    work.take(operation, GateEvent.MET, "requirement met")
    work.keep_evidence(operation)
    wanted = sign_offs_wanted(work)
    if wanted == 0:
        work.memory["told_met"] = {**work.memory.get("told_met", {}), operation: work.gates[operation].epoch}
        tell_permit(work, operation, MessageKind.MET_NOT_SIGNED)
        return
    facts = {
        "roles": [str(r) for r in signing_roles(operation)],
        "sign_offs": wanted,
        "sign_command": f"slabhour sign --who YOU {work.case.pour.id} {operation}",
    }
    work.tell(MessageKind.SIGN_OFF_WANTED, operation, work.gates[operation].epoch, facts, operation=operation)


def _stood(work: Work, operation: Operation) -> bool:
    """Return whether the evidence met the requirement 30 min before the watermark too."""
    through = work.evidence.watermark_ms
    if through is None:
        return False
    earlier = replace(work.evidence, watermark_ms=through - STEADY_MS)
    return all(f.met for f in work.plan[operation].findings(earlier))


def _lift_gates(work: Work) -> None:
    if work.holds:
        return
    for operation, gate in list(work.gates.items()):
        if gate.state is GateState.HOLD:
            work.take(operation, GateEvent.LIFTED, "the doubt was lifted")


def _next_due(work: Work, now_ms: Ms, *, acted: bool) -> Ms:
    """Return when to look again without news: a second estimate, a sensor falling silent, a suspended gate."""
    if acted:
        return now_ms
    if any(g.state is GateState.SUSPENDED for g in work.gates.values()):
        return now_ms + SUSPENDED_RETRY_MS
    found_met = [g.steady_from_ms for g in work.gates.values() if g.steady_from_ms is not None]
    second = [t + ESTIMATES_APART_MS for t in found_met if t + ESTIMATES_APART_MS > now_ms]
    when = min([now_ms + DAY_MS, *second])
    for p in work.case.placements:
        arrival = work.case.arrivals.get(p.sensor)
        came = max(work.case.pour.start_ms, p.from_ms)
        newest = came if arrival is None else max(arrival.newest_ms, came)
        falls_silent = newest + SILENT_AFTER_INTERVALS * p.interval_s * 1000 + 1
        if p.to_ms is None and falls_silent > now_ms:
            when = min(when, falls_silent)
    return when


def _result(case: PourCase, work: Work, act: PourAct | None) -> Result:
    limits = {c.at_c for c in map(clock_rule, work.plan.values()) if c is not None}
    state = PourState(
        as_of_ms=work.now_ms,
        input_revision=case.input_revision,
        next_due_ms=_next_due(work, work.now_ms, acted=act is not None),
        code=CODE_VERSION,
        estimate=work.evidence.estimate(tuple(sorted(limits))),
        verdicts=tuple(work.verdicts.values()),
        memory=work.memory,
    )
    return Result(
        at_ms=work.now_ms,
        pour=case.pour,
        gates=tuple(work.gates.values()),
        holds=tuple(work.holds.values()),
        state=state,
        messages=work.told(),
        log=tuple(work.log),
        snapshots=work.snapshots,
        wake=tuple(BayId(bay) for bay in sorted(work.wake)),
        act=act,
    )
