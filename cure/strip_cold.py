"""Taking forms off in the cold: what it does to a young slab is told beside the signature, and likely frost is a hold.

The hold is the only way by which a forecast comes into a gate, and it only shuts. A person lifts it.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

from cure.work import Work
from shared import units
from shared.models.base import HOUR_MS, STRIP, Json, Operation
from shared.models.decisions import GateState, HoldKind

CHANCE: Final = 0.10
"""Above which frost after the strip is a hold (our judgement)."""
COLD_C: Final = 1.0
"""Frost at the surface is not far (our judgement)."""
STRONG_MPA: Final = 7.0
"""From this bound on frost does no harm."""
ANSWERED_MS: Final = 12 * HOUR_MS
"""So long a person's lifting answers for what is foreseen."""
WAITS: Final = frozenset({GateState.CURING, GateState.HOLD, GateState.MET})
HOW: Final = "heat the space below, or strip at a warmer hour; lifting it says that the slab is kept warm"


def heated_now(memory: dict[str, Any]) -> bool:
    """Return whether somebody has entered that the space below is heated, and not that it ended."""
    spans = memory.get("heated", [])
    return bool(spans) and spans[-1][1] is None


def watch(work: Work) -> None:
    """Keep what the strip would do, to be told; raise the hold where frost is likely."""
    found = work.standing.stripped
    gate, verdict = work.gates.get(STRIP), work.verdicts.get(STRIP)
    if found is None or gate is None or verdict is None or gate.state not in WAITS or not verdict.met:
        work.memory.pop("stripped", None)
        return
    work.memory["stripped"] = asdict(found)
    if work.case.site.plan.cold_strip == "tell":
        return
    if not found.chance_cold > CHANCE or heated_now(work.memory) or work.evidence.lower_bound_mpa() >= STRONG_MPA:
        return
    lifted = work.memory.get("lifted", {}).get(HoldKind.STRIP_COLD)
    if lifted is not None and 0 <= work.now_ms - int(lifted["at_ms"]) < ANSWERED_MS:
        return
    shown = units.shown(COLD_C, "degC", first=work.case.site.site.units, limit=True)
    reason = (
        f"stripped now, {100.0 * found.chance_cold:.0f} % chance of {shown} or colder before 7 MPa, by the forecast"
    )
    work.open_hold(HoldKind.STRIP_COLD, "engineer", reason, HOW)


def facts(work: Work, operation: Operation) -> dict[str, Json]:
    """Return what the strip would do as facts of a message about it; empty for others, and where it is warm ahead."""
    found = work.memory.get("stripped")
    if operation != STRIP or found is None:
        return {}
    limits = {"stripped_cold_c": COLD_C, "stripped_strong_mpa": STRONG_MPA}
    said = {
        "percent": round(100.0 * found["chance_cold"]),
        "coldest_c": found["coldest_c"],
        "load_ms": found["load_ms"],
    }
    return {**limits, **{f"stripped_{name}": value for name, value in said.items()}}
