"""What becomes of a gate that people act on: contradicted by today's evidence, or found to have been too early."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cure.bay import BayEvidence
from cure.gate import GateEvent
from cure.permits import withdraw
from cure.requirements import findings
from cure.work import SYSTEM, Work
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, Operation
from shared.models.decisions import Finding, HoldKind
from shared.models.messages import MessageKind

CLOCK_BEHIND_MS: Final = 2 * MINUTE_MS
"""Readings may be so far ahead of the clock when they are stored; the clock is wrong when one is further ahead."""
EARLY_WITHIN_MS: Final = 5 * MINUTE_MS
"""How exactly "too early" is told."""


def contradiction(work: Work, operation: Operation) -> str | None:
    """Return why a release does not stand any more. What is not known contradicts nothing, what is refused does."""
    if work.case.calibration is None:
        # Another mix was delivered, or its cylinders are too weak: whatever the release stood on, it was not this.
        return work.no_calibration()
    lasting = _failed(work, operation)
    # A clock that was put back hides the newest readings; less evidence contradicts nothing.
    behind = any(a.newest_ms > work.now_ms + CLOCK_BEHIND_MS for a in work.case.arrivals.values())
    if lasting and not behind:
        return "; ".join(f.rule for f in lasting)
    refused = _refused(work, operation)
    if refused is not None:
        return refused
    frozen = [k for k in (HoldKind.FREEZE_LOCKED, HoldKind.FREEZE_SUSPECTED) if k in work.holds]
    return str(frozen[0]) if frozen else None


def _refused(work: Work, operation: Operation) -> str | None:
    """Return why what a release rests on is not believed any more; a sensor that broke after it says nothing of it."""
    found = findings(work.plan[operation], _all_evidence(work))
    if all(f.met or not f.lasting or f.found is not None for f in found):
        return None
    at_ms = work.memory.get("released", {}).get(operation, {}).get("evidence_ms")
    refusals = _all_evidence(work).refusals_through(work.now_ms if at_ms is None else at_ms)
    return "; ".join(dict.fromkeys(d.reason for d in refusals)) or None


def _failed(work: Work, operation: Operation) -> list[Finding]:
    """Return what lasts of the requirement and is known not to be met, whoever vouches for the hours."""
    found = findings(work.plan[operation], _all_evidence(work))
    return [f for f in found if f.lasting and not f.met and f.found is not None]


def _all_evidence(work: Work) -> BayEvidence:
    return work.evidence if work.whole is None else work.whole


def check_release(work: Work, operation: Operation) -> None:
    """Withdraw a release that the evidence contradicts, once an epoch; tell of one that came too early."""
    cause = contradiction(work, operation)
    if cause is None:
        _check_hour(work, operation)
        return
    told = work.memory.get("contradicted", {})
    if told.get(operation) == work.gates[operation].epoch:
        return
    sentences = [f.explain(work.case.site.site.units) for f in _failed(work, operation)]
    withdraw(work, operation, GateEvent.CONTRADICTED, cause, "; ".join(sentences) or cause, SYSTEM)
    # The epoch after it: each keep-off for what is done is one of its own.
    work.memory["contradicted"] = {**told, operation: work.gates[operation].epoch}


def remember(work: Work, operation: Operation) -> None:
    """Keep what a release rests on, for `check_release`."""
    released = {"epoch": work.gates[operation].epoch, "evidence_ms": work.evidence.watermark_ms, "early": False}
    work.memory["released"] = {**work.memory.get("released", {}), operation: released}


def _met_at(work: Work, operation: Operation, at_ms: Ms) -> bool:
    """Return whether today's evidence met, at an hour, what lasts of the requirement."""
    then = replace(_all_evidence(work), watermark_ms=at_ms)
    return all(f.met for f in findings(work.plan[operation], then) if f.lasting)


def _check_hour(work: Work, operation: Operation) -> None:
    released, through_ms = work.memory.get("released", {}).get(operation), _all_evidence(work).watermark_ms
    if released is None or released["early"] or released["epoch"] != work.gates[operation].epoch:
        return
    at_ms = released["evidence_ms"]
    if at_ms is None or through_ms is None or not through_ms > at_ms or _met_at(work, operation, at_ms):
        return
    early, late = at_ms, through_ms
    if not _met_at(work, operation, late):
        return
    while late - early > EARLY_WITHIN_MS:
        middle = (early + late) // 2
        early, late = (early, middle) if _met_at(work, operation, middle) else (middle, late)
    facts = {"hours_early": (late - at_ms) / HOUR_MS}
    work.tell(MessageKind.RELEASED_EARLY, operation, released["epoch"], facts, operation=operation)
    work.memory["released"] = {**work.memory["released"], operation: {**released, "early": True}}
