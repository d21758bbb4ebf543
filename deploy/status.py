"""The board in a terminal: read from the stored rows only, beside a running service."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final, TypeAlias

from cure.accounts import BEFORE
from deploy.heartbeat import WATCHED_NOT
from deploy.refused_counts import refused_by_sensor
from shared import units
from shared.models.base import LOAD, STRIP, WALK, Operation
from shared.models.decisions import Gate, GateState, Hold, Verdict
from shared.models.estimate import Estimate, SensorAccount
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.ports import BoardBook, BoardRow
from shared.shifts import site_hour

CAUTION: Final = (
    "Estimates from temperatures and a laboratory curve, not strength tests. A forecast or an estimate releases\n"
    "nothing; the engineer of record, the contract and the local code govern. No message = no release."
)
CAUTION_LINE: Final = CAUTION.replace("\n", " ")
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
RELEASES: Final = frozenset({MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED})
ACTED_ON: Final = frozenset({GateState.MET, GateState.RELEASED, GateState.UNDER_WAY})
Permits: TypeAlias = Mapping[tuple[str, str, int], Message]
Refused: TypeAlias = Mapping[str, Mapping[str, int]]


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
        return ": " + "; ".join(map(_hold_words, row.holds))
    if state is GateState.NOT_SET_UP:
        missing = verdict.missing if verdict is not None else ()
        return f": {'; '.join(missing)}" if missing else ": not looked at yet"
    if state is GateState.CURING and verdict is not None:
        failed = verdict.failed()
        return f": {'; '.join(f.explain() for f in failed)}" if failed else ": met, must stay so for 30 min"
    if state is GateState.MET:
        return ", not signed"
    return f": {reason}" if state in {GateState.WITHDRAWN, GateState.SUSPENDED} else ""


def _hold_words(hold: Hold) -> str:
    return f"{hold.reason} ({hold.owner}: {hold.how})"


def _number(value: float | None, unit: units.Unit, first: units.System) -> str:
    return units.shown(value, unit, first=first, limit=False)


def _order(row: BoardRow) -> tuple[int, str]:
    return min(LOOK_FIRST.index(g.state) for g in row.gates.values()), row.pour.bay


def board_lines(book: BoardBook, now_ms: int | None = None) -> list[str]:
    """Return the board as lines of text: what is doubtful about the service itself first."""
    site_file = book.site()
    site = site_file.site
    rows = sorted(book.board(), key=_order)
    lines = [f"{site.name} ({site.id})" + ("" if now_ms is None else f"   {site_hour(now_ms, site.zone)}")]
    lines += [f"IN DOUBT, every gate is suspended: {d.reason} (`slabhour resume {d.kind}`)" for d in book.doubts()]
    if site_file.heartbeat.url_file is None:
        lines.append(WATCHED_NOT)
    if not rows:
        lines.append("no pours yet: `slabhour pour start BAY POUR` begins one")
    permits = current_permits(book.messages())
    refused = refused_by_sensor(book.refusals(), rows)
    for row in rows:
        lines += _pour_lines(row, site.units, site.zone, permits, refused)
    lines += [f"gap in the numbers: {followed.explain()}" for followed in book.missing()]
    waiting = [d for d in book.deliveries() if d.state in {DeliveryState.UNSURE, DeliveryState.ESCALATED}]
    if waiting:
        lines.append(f"deliveries that need a person: {', '.join(_delivery(d) for d in waiting[-8:])}")
    return [*lines, "", CAUTION]


def _delivery(d: Delivery) -> str:
    return f"no. {d.message} to {d.recipient} {d.state}"


def current_permits(messages: Sequence[Message]) -> Permits:
    """Return the newest release, or "requirement met, not signed", of each (pour, operation, epoch)."""
    return {(m.pour, m.subject, m.epoch): m for m in messages if m.kind in RELEASES}


def permit_of(gate: Gate, permits: Permits) -> Message | None:
    """Return the message by which people act on a gate now, if there is one."""
    if gate.state not in ACTED_ON:
        return None
    return permits.get((gate.pour, gate.operation, gate.epoch))


def in_order(operations: Iterable[Operation]) -> list[Operation]:
    """Return operations as boards show them: strip, walk, load, then the others by name."""
    given = set(operations)
    return [op for op in (STRIP, WALK, LOAD) if op in given] + sorted(given - {STRIP, WALK, LOAD})


def _pour_lines(row: BoardRow, first: units.System, zone: str, permits: Permits, refused: Refused) -> list[str]:
    e = row.state.estimate
    head = f"\n{row.pour.bay}  floor {row.floor}  pour {row.pour.id}"
    if e is None:
        return [head + "  (no round yet)"]
    age = "end of pour not entered" if e.age_h is None else f"age {e.age_h:.1f} h"
    counted = ", ".join(f"{h:.1f} counted h at or above {c} °C" for c, h in e.counted_h.items())
    bound, estimate = _number(e.lower_bound_mpa, "MPa", first), _number(e.strength_mpa, "MPa", first)
    evidence = "" if e.evidence_ms is None else f"  evidence to {site_hour(e.evidence_ms, zone)}"
    lines = [
        f"{head}  {age}  coldest {_number(e.coldest_c, 'degC', first)}{evidence}",
        f"    strength: lower bound {bound}, estimate {estimate}; {counted or 'no counted hours yet'}",
    ]
    if e.error_budget_mpa:
        taken = sorted(e.error_budget_mpa.items(), key=lambda part: -part[1])
        said = ", ".join(f"{name} {_number(part, 'MPa', first)}" for name, part in taken)
        lines.append(f"    the estimate may be out by (as squares): {said}")
    lines += [
        f"    {_account(a, zone, refused.get(a.sensor, {}))}"
        for a in e.sensors
        if a.sensor in refused or any(k.reason != BEFORE for k in a.kept)
    ]
    if not any(g.state is GateState.HOLD for g in row.gates.values()):
        lines += [f"    hold: {_hold_words(h)}" for h in row.holds]
    for op in in_order(row.gates):
        permit = permit_of(row.gates[op], permits)
        told = "" if permit is None else f"  [no. {permit.no}, check code {permit.code}]"
        lines.append(f"    {op:<6}{verdict_words(row, op)}{told}")
    return lines


def _account(account: SensorAccount, zone: str, reasons: Mapping[str, int]) -> str:
    """Return what became of a sensor's readings, as a sentence."""
    kept = (
        f"{k.readings} kept without credit ({k.reason}, {site_hour(k.from_ms, zone)} to "
        f"{'now' if k.to_ms is None else site_hour(k.to_ms, zone)})"
        for k in account.kept
    )
    refused = (f"{n} refused ({reason})" for reason, n in reasons.items())
    return f"{account.sensor}: {'; '.join((f'{account.credited} readings credited', *kept, *refused))}"


def board_json(book: BoardBook) -> Mapping[str, Any]:
    """Return the board for other programs."""
    site, permits = book.site(), current_permits(book.messages())
    rows = sorted(book.board(), key=_order)
    return {
        "site": site.site.id,
        "doubts": [asdict(d) for d in book.doubts()],
        "silence_watched": site.heartbeat.url_file is not None,
        "missing": [asdict(followed) for followed in book.missing()],
        "refused": refused_by_sensor(book.refusals(), rows),
        "pours": [_row_json(row, permits) for row in rows],
        "caution": CAUTION_LINE,
    }


def _estimate_json(estimate: Estimate | None) -> Mapping[str, Any] | None:
    return None if estimate is None else asdict(estimate)


def _row_json(row: BoardRow, permits: Permits) -> Mapping[str, Any]:
    return {
        "bay": row.pour.bay,
        "floor": row.floor,
        "pour": row.pour.id,
        "estimate": _estimate_json(row.state.estimate),
        "holds": [asdict(h) for h in row.holds],
        "gates": {op: _gate_json(row, op, permit_of(row.gates[op], permits)) for op in in_order(row.gates)},
    }


def _gate_json(row: BoardRow, operation: Operation, permit: Message | None) -> Mapping[str, Any]:
    gate = row.gates[operation]
    return {
        "state": gate.state,
        "epoch": gate.epoch,
        "since_ms": gate.changed_ms,
        "verdict": verdict_words(row, operation),
        "message": None if permit is None else {"no": permit.no, "code": permit.code},
    }
