"""One round at one pour, pure: the case, its readings, now, perhaps a person's act -> everything to record.

Order: evidence, doubts, verdicts, gates, the act, what to tell. Odd input opens no gate: what is not known is not met.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from cure import strip_cold, watch
from cure.bay import evidence
from cure.burst import quiet_at_ms
from cure.clockstart import waits_for
from cure.cold import delays
from cure.counted import as_verified, in_validity
from cure.entered import changed_case, check_finding, note_entered
from cure.gate import OPEN, GateEvent, allows, held
from cure.lowering import judged_so_far, lowered
from cure.nextlook import ESTIMATES_APART_MS, STEADY_MS, next_due
from cure.permits import tell_permit, tell_withdrawal
from cure.placed import as_placed
from cure.plans import in_force
from cure.press import press, sign_offs_wanted
from cure.released import check_release, contradiction, remember
from cure.requirements import clock_rule, findings
from cure.work import CODE_VERSION, Standing, Work, why
from shared.models.acts import PourAct
from shared.models.base import HOUR_MS, LOAD, BayId, Ms, Operation, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import Finding, Gate, GateState, Pour, PourState, Verdict
from shared.models.messages import MessageKind
from shared.models.readings import Series
from shared.models.requirement import ConstructionLoadRule
from shared.ports import PourCase, Result

LOAD_MISSING: Final = "the engineer's construction load"
NOBODY_ACTS: Final = frozenset({GateState.NOT_SET_UP, GateState.CURING, GateState.HOLD})


def assess(
    case: PourCase,
    series: Mapping[SensorId, Series],
    now_ms: Ms,
    *,
    standing: Standing,
    act: PourAct | None = None,
) -> Result:
    """Return what a round makes of a pour.

    Args:
        case: everything but the readings.
        series: readings by sensor.
        now_ms: site time.
        standing: what the service knows about itself.
        act: what a person has just done, if this round is for that.

    Raises:
        ActRefusedError: the act cannot be accepted now; nothing is to be recorded.
    """
    if act is not None:
        case = changed_case(case, act, now_ms)
    case, stands = as_verified(replace(case, state=as_placed(case.state, case.placements)))
    work = Work(
        case=case,
        evidence=evidence(case, series, now_ms, elapsed_ms=standing.elapsed_ms),
        now_ms=now_ms,
        gates={},
        holds={h.kind: h for h in case.holds},
        memory=dict(case.state.memory),
        in_force=in_force(case.site, case.edits, judged_so_far(case)),
        standing=standing,
        verified=stands,
    )
    work.gates = {op: case.gates.get(op, Gate(case.pour.id, op)) for op in work.in_force}
    # A gate that was never judged and that nobody asks for stays as it is.
    work.gates |= {op: gate for op, gate in case.gates.items() if op not in work.gates}
    if work.capped and case.pour.end_ms is not None:
        work.whole = evidence(case, series, now_ms, elapsed_ms=max(0, now_ms - case.pour.end_ms))
    note_entered(work, act)
    watch.doubts(work)
    lowered(work)
    work.verdicts = {op: _verdict(work, op) for op in work.in_force}
    strip_cold.watch(work)
    for operation in work.in_force:
        _bring_up_to_date(work, operation)
    if act is not None:
        press(work, act)
        watch.answered(work)
        _lift_gates(work)
    delays(work)
    for look in (watch.silences, watch.heat, watch.verification, watch.cold_start, watch.validity):
        look(work)
    return _result(case, work, act)


def _is_for_release(calibration: Calibration | None) -> bool:
    return calibration is None or calibration.fit_for == "release"


def _missing(work: Work, operation: Operation) -> tuple[str, ...]:
    case = work.case
    wanted = (
        (case.site.plan.adopted_by is not None, "the engineer has not adopted the plan"),
        (case.calibration is not None, work.no_calibration()),
        (_is_for_release(case.calibration), f"a calibration of mix {case.mix.id} that is fit for release"),
        (in_validity(case), f"a calibration of mix {case.mix.id} for pours of this day"),
        (case.mix.id == case.pour.mix, f"the calibration of {case.pour.mix}"),
        (case.pour.end_ms is not None, "the end of the pour"),
        (not waits_for(case), f"the end of {', '.join(waits_for(case))}, placed against it"),
        (any(s.placement.required for s in work.evidence.sensors), "a required sensor in the concrete"),
        (not _asks_for_load(work, operation) or case.bay.construction_load_kpa is not None, LOAD_MISSING),
    )
    return tuple(words for there, words in wanted if not there)


def _asks_for_load(work: Work, operation: Operation) -> bool:
    return operation == LOAD or ConstructionLoadRule(construction_load=True) in work.in_force[operation].requirement.all


def _verdict(work: Work, operation: Operation) -> Verdict:
    said, fresh_now = work.evidence.alive(), work.evidence.fresh()
    fresh = Finding("required sensors alive", said, None, "", met=fresh_now, lasting=False)
    checked = (check_finding(work),) if work.case.site.plan.second_check else ()
    found = (fresh, *work.standing.room(), *checked, *findings(work.plan[operation], work.evidence))
    if not all(f.met for f in found):
        found = (*found, *_elapsed(work))
    missing = _missing(work, operation)
    return Verdict(operation, missing, not missing and all(f.met for f in found), found)


def _elapsed(work: Work) -> tuple[Finding, ...]:
    """Say when readings are not credited because nobody vouches for their hours; it explains, and shuts nothing."""
    elapsed_ms = work.standing.elapsed_ms
    if not work.capped or elapsed_ms is None:
        return ()
    return (Finding("checked elapsed time", elapsed_ms / HOUR_MS, None, "h", met=False, lasting=False),)


def _bring_up_to_date(work: Work, operation: Operation) -> None:
    # First, and whatever is in doubt: people go by a release although its gate is suspended.
    if held(work.gates[operation]) in OPEN | {GateState.DONE}:
        check_release(work, operation)
    if work.standing.doubts:
        _suspend(work, operation)
    else:
        if work.gates[operation].state is GateState.SUSPENDED:
            work.take(operation, GateEvent.RESUME, "the service is not in doubt any more")
        _judge(work, operation)
    _take_back(work, operation)


def _suspend(work: Work, operation: Operation) -> None:
    before, reason = work.gates[operation], "; ".join(work.standing.doubts)
    if not allows(before.state, GateEvent.SUSPEND):
        return
    work.take(operation, GateEvent.SUSPEND, reason)
    if before.state in OPEN:
        work.memory["doubts"] = int(work.memory.get("doubts", 0)) + 1
        facts = {"reason": reason, "how": "ask the engineer of record before going on; nothing new is released"}
        work.tell(MessageKind.IN_DOUBT, operation, work.memory["doubts"], facts, operation=operation)


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
    reasons = ("; ".join(work.holds), "; ".join(work.verdicts[operation].missing), contradiction(work, operation))
    cause = next((reason for reason in reasons if reason), None)
    if cause is not None:
        work.memory["told_met"] = {op: e for op, e in work.memory["told_met"].items() if op != operation}
        tell_withdrawal(work, operation, cause, done=False)
        # Whatever is withdrawn of this gate from now on is told by itself.
        work.gates[operation] = replace(work.gates[operation], epoch=gate.epoch + 1)


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
        cause = contradiction(work, operation)
        return (None, "") if cause is None else (GateEvent.UNMET, cause)
    if gate.state is GateState.MET and not verdict.met:
        return GateEvent.UNMET, why(verdict)
    return None, ""


def _steady(work: Work, operation: Operation) -> None:
    """Step to "met" when the evidence has met the requirement for 30 min, and a later estimate found so again."""
    gate, verdict = work.gates[operation], work.verdicts[operation]
    if not verdict.met:
        work.gates[operation] = replace(gate, steady_from_ms=None)
        return
    first_ms = work.now_ms if gate.steady_from_ms is None else gate.steady_from_ms
    work.gates[operation] = replace(gate, steady_from_ms=first_ms)
    if work.now_ms - first_ms < ESTIMATES_APART_MS or quiet_at_ms(work.case, work.now_ms) is not None:
        return
    if not _stood(work, operation):
        return
    work.take(operation, GateEvent.MET, "requirement met")
    work.keep_evidence(operation)
    wanted = sign_offs_wanted(work, operation)
    if wanted == 0:
        work.memory["told_met"] = {**work.memory.get("told_met", {}), operation: work.gates[operation].epoch}
        remember(work, operation)
        tell_permit(work, operation, MessageKind.MET_NOT_SIGNED)
        return
    facts = {
        "roles": [str(r) for r in work.in_force[operation].signed_by],
        "sign_offs": wanted,
        "sign_command": f"slabhour sign --who YOU {work.case.pour.id} {operation}",
        **strip_cold.facts(work, operation),
    }
    work.tell(MessageKind.SIGN_OFF_WANTED, operation, work.gates[operation].epoch, facts, operation=operation)


def _stood(work: Work, operation: Operation) -> bool:
    """Return whether the evidence met the requirement 30 min before the watermark too."""
    through = work.evidence.watermark_ms
    if through is None:
        return False
    earlier = replace(work.evidence, watermark_ms=through - STEADY_MS)
    return all(f.met for f in findings(work.plan[operation], earlier))


def _lift_gates(work: Work) -> None:
    if work.holds:
        return
    for operation, gate in list(work.gates.items()):
        if gate.state is GateState.HOLD:
            work.take(operation, GateEvent.LIFTED, "the doubt was lifted")


def _result(case: PourCase, work: Work, act: PourAct | None) -> Result:
    limits = {rule.at_c for rule in map(clock_rule, work.plan.values()) if rule is not None}
    state = PourState(
        as_of_ms=work.now_ms,
        input_revision=case.input_revision,
        next_due_ms=next_due(work, work.now_ms, acted=act is not None),
        code=CODE_VERSION,
        estimate=work.evidence.estimate(tuple(sorted(limits))),
        verdicts=tuple(work.verdicts.values()),
        memory=work.memory,
    )
    return Result(
        at_ms=work.now_ms,
        pour=_with_version(case),
        gates=tuple(work.gates.values()),
        holds=tuple(work.holds.values()),
        state=state,
        messages=work.told(),
        log=tuple(work.log),
        snapshots=work.snapshots,
        wake=tuple(BayId(bay) for bay in sorted(work.wake)),
        act=act,
    )


def _with_version(case: PourCase) -> Pour:
    """Return the pour with the calibration that it is judged by from now on, once its end is known."""
    pour, calibration = case.pour, case.calibration
    if pour.end_ms is None or pour.calibration_version is not None or calibration is None:
        return pour
    # Only of its own mix: in the round of another mix the case still holds the old one's.
    return replace(pour, calibration_version=calibration.version) if calibration.mix == pour.mix else pour
