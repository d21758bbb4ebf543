"""The board in a terminal: read from the stored rows only, beside a running service."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final
from zoneinfo import ZoneInfo

from shared import units
from shared.models.acts import instant
from shared.models.base import STRIP, Operation
from shared.models.decisions import Estimate, GateState, Verdict
from shared.models.messages import Delivery, DeliveryState
from shared.ports import BoardBook, BoardRow

CAUTION: Final = (
    "Estimates from temperatures and a laboratory curve, not strength tests. A forecast or an estimate releases\n"
    "nothing; the engineer of record, the contract and the local code govern. No message = no release."
)
LOOK_FIRST: Final = (
    GateState.WITHDRAWN,
    GateState.DONE_WITHOUT_RELEASE,
    GateState.SUSPENDED,
    GateState.HOLD,
    GateState.RELEASED,
    GateState.UNDER_WAY,
    GateState.MET,
    GateState.NOT_SET_UP,
    GateState.CURING,
    GateState.DONE,
)
"""Board order: what a person must look at stands first."""


def verdict_words(row: BoardRow, operation: Operation) -> str:
    """Return one operation's verdict with its reason, in one line."""
    gate = row.gates[operation]
    near = row.gates.get(STRIP)
    stripping = (near is not None and near.state is GateState.UNDER_WAY) or bool(row.stripping)
    if operation != STRIP and stripping:
        return f"KEEP OFF, stripping below or beside ({gate.state})"
    verdict = next((v for v in row.state.verdicts if v.operation == operation), None)
    return f"{gate.state.upper()}{_because(row, gate.state, verdict, gate.reason)}"


def _because(row: BoardRow, state: GateState, verdict: Verdict | None, reason: str) -> str:
    if state is GateState.HOLD:
        return ": " + "; ".join(f"{h.reason} ({h.owner}: {h.how})" for h in row.holds)
    if state is GateState.NOT_SET_UP:
        missing = verdict.missing if verdict is not None else ()
        return f": {'; '.join(missing)}" if missing else ": not looked at yet"
    if state is GateState.CURING and verdict is not None:
        failed = verdict.failed()
        return f": {'; '.join(f.explain() for f in failed)}" if failed else ": met, must stay so for 30 min"
    if state is GateState.MET:
        return ", not signed"
    return f": {reason}" if state in {GateState.WITHDRAWN, GateState.SUSPENDED} else ""


def _number(value: float | None, unit: units.Unit, first: units.System) -> str:
    return units.shown(value, unit, first=first, limit=False)


def _order(row: BoardRow) -> tuple[int, str]:
    return min(LOOK_FIRST.index(g.state) for g in row.gates.values()), row.pour.bay


def board_lines(book: BoardBook, now_ms: int | None = None) -> list[str]:
    """Return the board as lines of text."""
    site = book.site().site
    rows = sorted(book.board(), key=_order)
    lines = [f"{site.name} ({site.id})" + ("" if now_ms is None else f"   {_local(now_ms, site.zone)}")]
    if not rows:
        lines.append("no pours yet: `slabhour pour start BAY POUR` begins one")
    for row in rows:
        lines += _pour_lines(row, site.units, site.zone)
    waiting = [d for d in book.deliveries() if d.state in {DeliveryState.UNSURE, DeliveryState.ESCALATED}]
    if waiting:
        lines.append(f"deliveries that need a person: {', '.join(_delivery(d) for d in waiting[-8:])}")
    return [*lines, "", CAUTION]


def _delivery(d: Delivery) -> str:
    return f"no. {d.message} to {d.recipient} {d.state}"


def _pour_lines(row: BoardRow, first: units.System, zone: str) -> list[str]:
    e = row.state.estimate
    head = f"\n{row.pour.bay}  floor {row.floor}  pour {row.pour.id}"
    if e is None:
        return [head + "  (no round yet)"]
    age = "end of pour not entered" if e.age_h is None else f"age {e.age_h:.1f} h"
    counted = ", ".join(f"{h:.1f} counted h at or above {c} °C" for c, h in e.counted_h.items())
    bound, estimate = _number(e.lower_bound_mpa, "MPa", first), _number(e.strength_mpa, "MPa", first)
    evidence = "" if e.evidence_ms is None else f"  evidence to {_local(e.evidence_ms, zone)}"
    lines = [
        f"{head}  {age}  coldest {_number(e.coldest_c, 'degC', first)}{evidence}",
        f"    strength: lower bound {bound}, estimate {estimate}; {counted or 'no counted hours yet'}",
    ]
    return lines + [f"    {op:<6}{verdict_words(row, op)}" for op in row.gates]


def _local(at_ms: int, zone: str) -> str:
    return instant(at_ms, ZoneInfo(zone)).strftime("%a %d %b %H:%M UTC%z")


def board_json(book: BoardBook) -> Mapping[str, Any]:
    """Return the board for other programs."""
    return {
        "site": book.site().site.id,
        "pours": [_row_json(row) for row in sorted(book.board(), key=_order)],
        "caution": CAUTION.replace("\n", " "),
    }


def _estimate_json(estimate: Estimate | None) -> Mapping[str, Any] | None:
    return None if estimate is None else asdict(estimate)


def _row_json(row: BoardRow) -> Mapping[str, Any]:
    return {
        "bay": row.pour.bay,
        "floor": row.floor,
        "pour": row.pour.id,
        "estimate": _estimate_json(row.state.estimate),
        "holds": [asdict(h) for h in row.holds],
        "gates": {
            op: {"state": g.state, "epoch": g.epoch, "since_ms": g.changed_ms, "verdict": verdict_words(row, op)}
            for op, g in row.gates.items()
        },
    }
