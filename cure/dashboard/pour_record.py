"""The record of a whole pour: where each gate stands, what was decided and done, the concrete beside its strength, the
cold-weather log, the curves and every reading."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from typing import Final

from cure import tickets
from cure.condition_report import LOG_HEAD, Told, log_cells, told
from cure.condition_seen import Given, air_from_ms, observed
from cure.dashboard.board import COLUMNS
from cure.dashboard.charts import ENGLISH, Window
from cure.dashboard.look import look
from cure.dashboard.pour_view import PourView
from cure.dashboard.record import READINGS, Attached, set_document
from cure.dashboard.record_facts import RECORDED, SIGNED_BY, Table, about, decision_line, pictures, readings_csv
from cure.rounds import checked_elapsed_ms
from cure.seen import LOOK_BEFORE_MS
from cure.taken_back import BACK, MARK
from shared.models.acts import Act, act_to
from shared.models.base import Json, Operation, PourId
from shared.models.decisions import Gate, GateState
from shared.models.messages import Message
from shared.ports import BoardBook, Clock, PourCase, Readings
from shared.shifts import site_hour

ABOUT: Final = "What this record says, for other programs"
SHUT: Final = frozenset(
    {GateState.WITHDRAWN, GateState.HOLD, GateState.SUSPENDED, GateState.DONE_WITHOUT_RELEASE, GateState.NOT_SET_UP}
)
AS_OF: Final = "as of"
_SAID_OF_ACT: Final = frozenset({"kind", "at", "who", "pour", "scripted", "photo", "answered"})
"""Fields of an act that stand in columns of their own, in the title, or in another table."""
_SAID_OF_TRUCK: Final = {
    "mix": "mix",
    "dose_class": "dose class",
    "water_l": "l of water added",
    "withheld_l": "l held back",
    "air_percent": "% of air",
    "air_wanted_percent": "% of air ordered",
    "temperature_c": "degC as delivered",
    "place": "place",
}


@dataclass(frozen=True, slots=True)
class PourSource:
    """Everything that the record of a pour is made of."""

    view: PourView
    condition: Told
    messages: tuple[Message, ...]
    """Decisions that have a record, in order."""
    acts: tuple[Act, ...]
    """What people did to this pour, in order."""
    doubts: tuple[str, ...]
    """Of the service about itself: while there is one, nothing here is released."""
    last: str
    """The caution that stands on everything."""


def gather_pour(book: BoardBook, stored: Readings, clock: Clock, pour: PourId, last: str) -> PourSource:
    """Return what the record of a pour, open or closed, is made of. Raises `StoreError`."""
    view, acts, case, now_ms = look(book, stored, clock, pour), book.acts(), book.case(pour), clock.now()
    after_ms = min(case.pour.start_ms - LOOK_BEFORE_MS, air_from_ms(case.pour, now_ms)) - 1
    series = {p.sensor: stored.between(p.sensor, after_ms, now_ms) for p in case.placements}
    seen = observed(case, series, acts, now_ms, elapsed_ms=checked_elapsed_ms(case, clock))
    decided = tuple(m for m in book.messages() if m.pour == pour and m.kind in RECORDED)
    mine = tuple(act for act in acts if getattr(act, "pour", None) == pour)
    doubts = tuple(doubt.reason for doubt in book.doubts())
    return PourSource(view, told(seen, Given()), decided, mine, doubts, last)


def render_pour(source: PourSource) -> bytes:
    """Return the record of a pour as a PDF; the same input gives the same bytes."""
    view = source.view
    at = datetime.fromtimestamp(view.until_ms // 1000, UTC)
    readings = readings_csv(view).decode()
    body = _body(source, sha256(readings.encode()).hexdigest())
    said = json.dumps(body, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    printed = {**body, "foot": f"sha256 of pour.json {sha256(said.encode()).hexdigest()}", **_drawn(source)}
    files = [
        Attached("pour.json", said, "application/json", ABOUT),
        Attached("readings.csv", readings, "text/csv", READINGS),
    ]
    return set_document(str(body["title"]), at, [printed], files)


def _window(source: PourSource) -> Window:
    return source.view.window(words=replace(ENGLISH, now=AS_OF))


def _drawn(source: PourSource) -> Mapping[str, Json]:
    return {"code": "", "code_words": "", "pictures": pictures(source.view, _window(source))}


def _body(source: PourSource, readings_sha256: str) -> dict[str, Json]:
    view, window = source.view, _window(source)
    case = view.case
    return {
        "title": f"Record of pour {case.pour.id}",
        "site": case.site.site.name,
        "paper": "us-letter" if window.first == "US" else "a4",
        "shut": bool(source.doubts)
        or MARK in case.state.memory
        or any(gate.state in SHUT for gate in case.gates.values()),
        "verdict": f"Bay {case.bay.id}, whole pour: {_states(source)}",
        "about": about(view, case.bay.floor, window),
        "findings": [],
        "requirement": "",
        "rows_title": "The pour",
        "rows": [list(row) for row in _rows(source, window, readings_sha256)],
        "tables": [asdict(table) for table in _tables(source, window.zone)],
        "cautions": ["This record releases nothing: each release has a record of its own.", source.last],
        "signed_by": list(SIGNED_BY),
    }


def _states(source: PourSource) -> str:
    if MARK in source.view.case.state.memory:
        return "START TAKEN BACK, nothing was poured under this name"
    if source.doubts:
        return "IN DOUBT, nothing is released"
    gates = _in_order(source.view.case.gates)
    return "; ".join(f"{gate.operation} {gate.state}" for gate in gates) or "no operation"


def _in_order(gates: Mapping[Operation, Gate]) -> list[Gate]:
    """Return gates as pages show them: strip, walk, load, then the others by name."""
    return [gates[op] for op in COLUMNS if op in gates] + [gates[op] for op in sorted(set(gates) - set(COLUMNS))]


def _rows(source: PourSource, window: Window, readings_sha256: str) -> Iterator[tuple[str, str]]:
    case = source.view.case
    yield "As of", site_hour(source.view.until_ms, window.zone)
    closed_ms = case.pour.closed_ms
    yield "Closed", "no: what stands here may still change" if closed_ms is None else site_hour(closed_ms, window.zone)
    if (mark := case.state.memory.get(MARK)) is not None:
        yield "Start taken back", f"{site_hour(mark['at_ms'], window.zone)} by {mark['who']}: {mark['why']}"
    if (back := case.state.memory.get(BACK)) is not None:
        since, to = (site_hour(back[name], window.zone) for name in ("ended_ms", "at_ms"))
        yield "Ended by mistake", f"{since}, by the start of {back['pour']}; judged again from {to}"
    c = case.calibration
    yield "Calibration", "none" if c is None else f"{c.mix} version {c.version}"
    yield "Exclusions", case.bay.exclusions
    for doubt in source.doubts:
        yield "Service in doubt", doubt
    for hold in case.holds:
        yield "On hold", f"{hold.reason}, since {site_hour(hold.since_ms, window.zone)}; to lift it: {hold.how}"
    yield "Sensors", ", ".join(f"{p.sensor} ({p.zone})" for p in case.placements) or "none"
    gaps = len(source.view.temperature(window).missing)
    yield "Gaps", f"{gaps}, hatched below the temperatures" if gaps else "none"
    yield "Readings attached", f"sha256 {readings_sha256}"


def _tables(source: PourSource, zone: str) -> Iterator[Table]:
    case, condition = source.view.case, source.condition
    gates = tuple(
        (g.operation, str(g.state), site_hour(g.changed_ms, zone), ", ".join(g.signers) or "nobody", g.reason)
        for g in _in_order(case.gates)
    )
    head = ("operation", "state", "since", "signed by", "reason")
    yield Table("Where each gate stands", head, (2, 3, 4, 3, 6), gates, "No operation.")
    yield Table(
        "What was decided",
        ("record", "hour", "decision", "check code"),
        (1, 4, 8, 2),
        tuple((str(m.no), site_hour(m.at_ms, zone), decision_line(m), m.code or "none") for m in source.messages),
        "Nothing was released, held or withdrawn.",
    )
    trucks = tuple(_truck(ticket, case, zone) for ticket in tickets.of(case.state.memory))
    head = ("placed", "ticket", "said", "odd", "picture")
    yield Table("Trucks", head, (3, 2, 6, 5, 2), trucks, "No ticket was entered.")
    acts = tuple((site_hour(act.at_ms, zone), act.who, *_did(act)) for act in source.acts)
    yield Table("What people did", ("hour", "who", "act", "said"), (4, 2, 2, 7), acts, "Nothing was entered.")
    rows = tuple((r.quantity, r.found, r.limit, str(r.kept)) for r in condition.rows)
    yield Table(
        "The concrete beside its strength", ("quantity", "found", "limit", "kept"), (4, 5, 4, 2), rows, "Nothing."
    )
    log = tuple(map(tuple, log_cells(condition)))
    yield Table("Cold-weather log, twice a day", LOG_HEAD[:-1], (4, 3, 3, 3, 3), log, "No line yet.")
    notes = tuple((note,) for note in condition.notes)
    yield Table("Notes", ("note",), (1,), notes, "None.")


def _truck(ticket: tickets.Kept, case: PourCase, zone: str) -> tuple[str, ...]:
    """Return one truck as a row; of its picture the first signs of the SHA-256 by which it is kept."""
    batched = f"batched {site_hour(ticket['batched_ms'], zone)}"
    said = [f"{name}: {ticket[field]}" for field, name in _SAID_OF_TRUCK.items() if field in ticket]
    odd = "; ".join(tickets.doubts_about(ticket, case)) or "nothing"
    picture = ticket.get("photo", "none")[:12]
    return site_hour(ticket["placed_ms"], zone), ticket["number"], "; ".join([batched, *said]), odd, picture


def _did(act: Act) -> Sequence[str]:
    body = act_to(act)
    said = (f"{name.replace('_', ' ')}: {_plain(value)}" for name, value in body.items() if name not in _SAID_OF_ACT)
    return str(body["kind"]).replace("_", " "), "; ".join(said)


def _plain(value: Json) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
