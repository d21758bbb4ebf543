"""A requirement made easier, or a required sensor taken away, after the first reading: the engineer's business only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cure.bay import AIR_ZONES
from cure.permits import void_signatures
from cure.plans import GONE
from cure.strictness import asks_at_least
from cure.work import Work
from shared.models.base import Operation
from shared.models.decisions import HoldKind
from shared.models.requirement import Requirement
from shared.ports import PourCase


def has_begun(case: PourCase) -> bool:
    """Return whether a first reading of the pour has come: also when readings cannot be read now."""
    return any(a.newest_ms >= case.pour.start_ms for a in case.arrivals.values())


def judged_so_far(case: PourCase) -> Mapping[Operation, Requirement]:
    """Return what the pour's gates were judged by, once there was a reading."""
    judged = case.state.memory.get("judged")
    if judged is None or not has_begun(case):
        return {}
    of_gates = {op: judged["requirements"].get(op) for op in case.gates}
    return {op: Requirement.model_validate(was) for op, was in of_gates.items() if was is not None}


def judged_now(work: Work) -> dict[str, Any]:
    """Return what the pour is judged by: each requirement, and the sensors that must be alive."""
    required = {
        p.sensor: p.zone.value
        for p in work.case.placements
        if p.required and p.zone not in AIR_ZONES and p.to_ms is None
    }
    rules = {op: f.requirement.model_dump(mode="json", exclude_none=True) for op, f in work.in_force.items()}
    gone = [op for op, f in work.in_force.items() if f.version == GONE]
    return {"requirements": rules, "required": sorted(required), "zones": required, "gone": gone}


def lowered(work: Work) -> None:
    """Raise the hold when less is asked for than the pour was judged by so far.

    What the engineer wrote on the site book, with a second person, is taken as it is.
    """
    before, now = work.memory.get("judged"), judged_now(work)
    for operation, rules in now["requirements"].items():
        if before is not None and before["requirements"].get(operation) != rules:
            void_signatures(work, operation, "its requirement was changed")
    reasons = [] if before is None or not has_begun(work.case) else _reasons(work, before, now)
    if not reasons:
        work.memory["judged"] = now
        return
    how = "the engineer of record lifts it: accepted in writing, or put back"
    work.open_hold(HoldKind.REQUIREMENT_LOWERED, "engineer", "; ".join(reasons), how)


def _reasons(work: Work, before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    fewer = sorted(set(before["required"]) - set(now["required"]))
    reasons = [f"{sensor} is not required any more" for sensor in fewer]
    zones, zones_now = before.get("zones", {}), now["zones"]
    moved = (s for s, zone in sorted(zones.items()) if zones_now.get(s, zone) != zone)
    reasons += [f"{sensor} is required in another zone than before: {zones_now[sensor]}" for sensor in moved]
    reasons += [f"{operation} is {GONE}" for operation in now["gone"] if operation not in before.get("gone", ())]
    for operation, force in work.in_force.items():
        was = before["requirements"].get(operation)
        if was is None or force.by_engineer or was == now["requirements"][operation]:
            continue
        if not asks_at_least(force.requirement, Requirement.model_validate(was)):
            reasons.append(f"{operation} asks for less than before ({force.version})")
    return reasons
