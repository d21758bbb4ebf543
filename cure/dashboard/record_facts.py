"""What a record prints and what it carries inside, from a stored message and its evidence. Values in, values out."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any, Final

from cure.dashboard.charts import ENGLISH, Window, strength_chart, temperature_chart
from cure.dashboard.ink import PAPER
from cure.dashboard.pictures import on_paper
from cure.dashboard.pour_view import PourView
from cure.dashboard.svgchart import svgchart
from cure.work import readings_digests
from shared import units
from shared.models.base import Json, Ms
from shared.models.messages import Message, MessageKind
from shared.shifts import site_hour

RECORDED: Final[Mapping[MessageKind, tuple[str, str]]] = {
    MessageKind.RELEASED: ("Release record", "requirement met, released"),
    MessageKind.MET_NOT_SIGNED: ("Record", "requirement met, not signed"),
    MessageKind.WITHDRAWAL: ("Withdrawal record", "WITHDRAWN"),
    MessageKind.HOLD: ("Hold record", "ON HOLD"),
    MessageKind.FREEZE_SUSPECTED: ("Hold record", "ON HOLD"),
    MessageKind.FREEZE_LOCKED: ("Hold record", "ON HOLD"),
}
"""Kinds of messages that have a record: its title, and the verdict."""
SHUT: Final = frozenset(RECORDED) - {MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED}
SIGNED_BY: Final = ("Quality control", "Engineer of record")
DECIDED: Final = "decided"
"""Stands at the hour of the decision."""
_UNPRINTED: Final = ("chart",)
"""Facts of a message that a record has in another form."""


@dataclass(frozen=True, slots=True)
class Source:
    """Everything that a record is made of."""

    message: Message
    view: PourView
    """The pour as it was at the hour of the message."""
    evidence: Json | None
    """What the gate rested on, as it was kept; None: the message has none."""
    cautions: tuple[str, ...]
    address: str | None = None
    """Where the pages of the service are; None: there is no code to scan."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A record ready to be set."""

    printed: Mapping[str, Json]
    decision: bytes
    """The decision as JSON, attached."""
    readings: bytes
    """The readings as CSV, attached."""
    at: datetime
    """Of the decision: nothing of the record depends on when it is made."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of a sheet."""

    title: str
    head: tuple[str, ...]
    widths: tuple[int, ...]
    """Of the columns, by each other."""
    rows: tuple[tuple[str, ...], ...]
    none: str
    """What stands in place of a table without rows."""


def decision_line(message: Message) -> str:
    """Return a decision in one line of a list."""
    title, verdict = RECORDED[message.kind]
    said = ", ".join(str(message.facts[name]) for name in ("cause", "reason") if message.facts.get(name))
    return f"{message.subject or 'whole pour'}: {title.casefold()}, {verdict}{f' ({said})' if said else ''}"


def sheet(source: Source) -> Sheet:
    """Return what is printed and what is attached."""
    readings = readings_csv(source.view)
    decision = decision_json(source, sha256(readings).hexdigest())
    digest = sha256(decision).hexdigest()
    at = datetime.fromtimestamp(source.message.at_ms // 1000, UTC)
    return Sheet(printed(source, digest), decision, readings, at)


def readings_csv(view: PourView) -> bytes:
    """Return every reading since the first concrete through the decision, as it was read: sensor by sensor."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("sensor", "zone", "taken_at", "temperature_c"))
    for placement, read in view.placed():
        for taken_ms, milli_c in zip(read.taken_ms.tolist(), read.milli_c.tolist(), strict=True):
            at = datetime.fromtimestamp(taken_ms // 1000, UTC).replace(microsecond=taken_ms % 1000 * 1000)
            celsius = f"{'-' if milli_c < 0 else ''}{abs(milli_c) // 1000}.{abs(milli_c) % 1000:03d}"
            rows.writerow((placement.sensor, placement.zone.value, at.isoformat(timespec="milliseconds"), celsius))
    return text.getvalue().encode()


def decision_json(source: Source, readings_sha256: str) -> bytes:
    """Return the decision with its facts and the evidence that was kept of it."""
    m = source.message
    body = {
        "record": m.no,
        "kind": m.kind,
        "pour": m.pour,
        "subject": m.subject,
        "epoch": m.epoch,
        "at": datetime.fromtimestamp(m.at_ms // 1000, UTC).isoformat(),
        "check_code": m.code,
        "log": {"line": m.log_seq, "hash": m.log_hash},
        "facts": {name: value for name, value in m.facts.items() if name not in _UNPRINTED},
        "evidence": source.evidence,
        "readings_sha256": readings_sha256,
    }
    return (json.dumps(body, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def printed(source: Source, digest: str) -> Mapping[str, Json]:
    """Return what the sheet shows; every value of it is plain text or a picture."""
    m, facts, view = source.message, source.message.facts, source.view
    title, verdict = RECORDED[m.kind]
    window = view.window(words=replace(ENGLISH, now=DECIDED))
    operation = str(facts.get("operation", "")) or "whole pour"
    return {
        "title": f"{title} {m.no}",
        "site": str(facts["site"]),
        "paper": "us-letter" if window.first == "US" else "a4",
        "shut": m.kind in SHUT,
        "verdict": f"Bay {facts['bay']}, {operation}: {verdict}",
        "about": about(view, str(facts["floor"]), window),
        "findings": [_finding(sentence) for sentence in facts.get("findings", ())],
        "requirement": str(facts.get("requirement", "")),
        "rows_title": "Decision",
        "rows": [list(row) for row in _rows(source, window)],
        "tables": [],
        "pictures": pictures(view, window),
        "cautions": list(source.cautions),
        "signed_by": list(SIGNED_BY),
        "foot": f"sha256 of decision.json {digest}",
    }


def about(view: PourView, floor: str, window: Window) -> str:
    """Return what pour a sheet is of."""
    pour, bay = view.case.pour, view.case.bay
    thick = units.shown(float(bay.thickness_mm), "mm", first=window.first, limit=False)
    ended = "not ended" if pour.end_ms is None else site_hour(pour.end_ms, window.zone)
    placed = f"placed {site_hour(pour.start_ms, window.zone)} to {ended}"
    return f"Floor {floor} · pour {pour.id} · {thick} · mix {pour.mix} · {placed}"


def _finding(sentence: str) -> list[str]:
    """Return a finding's sentence in its parts: the rule, what was found and is needed, and whether it is met."""
    said, _, met = sentence.rpartition(" - ")
    rule, _, found = said.partition(": ")
    return [rule, found, met]


def _rows(source: Source, window: Window) -> Iterator[tuple[str, str]]:
    m, facts, view = source.message, source.message.facts, source.view
    yield "Decided", f"{site_hour(m.at_ms, window.zone)}, message no. {m.no}, check code {m.code or 'none'}"
    yield from _of_kind(facts)
    if facts.get("signers"):
        yield "Signed by", ", ".join(map(str, facts["signers"]))
    if m.kind in {MessageKind.RELEASED, MessageKind.MET_NOT_SIGNED}:
        shut = ", ".join(map(str, facts.get("not_released", ()))) or "nothing else is asked for"
        yield "Not allowed by this record", shut
        yield "Exclusions", str(facts["exclusions"])
        if facts.get("load_kpa") is not None:
            yield "Construction load", units.shown(float(facts["load_kpa"]), "kPa", first=window.first, limit=False)
    yield from _evidence(source, window)
    yield "Log", f"line {m.log_seq}, {m.log_hash}" if m.log_hash else "not in the log"
    gaps = len(view.temperature(window).missing)
    yield "Gaps", f"{gaps}, hatched below the temperatures" if gaps else "none"


def _of_kind(facts: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield why a gate was shut, and what opens it."""
    for name, label in (("cause", "Cause"), ("reason", "Reason"), ("owner", "To be lifted by"), ("how", "How")):
        if facts.get(name):
            yield label, str(facts[name])


def _evidence(source: Source, window: Window) -> Iterator[tuple[str, str]]:
    kept, view, facts = source.evidence, source.view, source.message.facts
    if facts.get("requirement_version"):
        yield "Requirement of", str(facts["requirement_version"])
    if kept is None:
        calibration = view.case.calibration
        yield "Calibration", "none" if calibration is None else f"{calibration.mix} version {calibration.version}"
        return
    through_ms: Ms | None = kept["evidence_ms"]
    if through_ms is not None:
        yield "Evidence through", site_hour(through_ms, window.zone)
    if kept["calibration"] is not None:
        c = kept["calibration"]
        tested = f"tested from {c['tested_from_h']:g} to {c['tested_to_h']:g} h at 20 °C"
        yield "Calibration", f"{c['mix']} version {c['version']}, {tested}, digest {c.get('digest') or 'none'}"
    yield "Snapshot", f"{facts.get('snapshot')}, code {kept['code']}"
    now = readings_digests(view.evidence, through_ms or 0)
    changed = sorted(s for s, digest in kept["readings"].items() if now.get(s) != digest)
    as_then = "those that the decision rested on"
    yield "Readings attached", as_then if not changed else f"CHANGED since the decision: {', '.join(changed)}"


def pictures(view: PourView, window: Window) -> list[dict[str, str]]:
    """Return the charts of a sheet."""
    strength, temperature = view.strength(window), view.temperature(window)
    drawn = (
        (strength_chart(strength, window), "Strength in place: lower bound, estimate, and what is required of it"),
        (temperature_chart(temperature, window), "Temperature of each sensor, counted hours and gaps"),
    )
    return [{"svg": on_paper(svgchart(chart, PAPER)), "words": words} for chart, words in drawn]
