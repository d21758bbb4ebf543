"""The condition of a pour as terminal, other programs and the site diary get it. Pure; values in, text and HTML out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from html import escape
from typing import Final

from cure.condition_curing import curing
from cure.condition_plot import plot
from cure.condition_seen import Given, Observed
from cure.condition_table import Row, freezing, temperatures
from cure.condition_weather import cold_weather, drying_now
from cure.credit import NO_EDGE_ALLOWANCE_C
from cure.report_parts import STYLE, bullets, table
from cure.weather import LogLine, cold_log
from shared import units
from shared.models.base import Json
from shared.models.setup import Zone
from shared.shifts import site_hour

BINDS: Final = (
    "A rule stands in a standard or specification that a contract can bind; advice in a guide, in common practice or "
    "is our judgement. What is from memory wants to be checked against the document. None of it releases anything."
)
CURED: Final = (
    "Hours of curing are hours in which the coldest zone was known to be warm enough; whether the concrete was kept "
    "moist no sensor tells."
)
RATIO: Final = (
    "How fast the mix gains strength is not known: the slowest that each rule knows is taken (--strength-ratio: mean "
    "strength at 2 days by that at 28 days)."
)
SKY: Final = "What the sky was like is a person's to add."
_HEAD: Final = ("quantity", "found", "limit", "kept or not", "rule or advice", "source")
LOG_HEAD: Final = ("date and hour", "air", "concrete surface", "coldest in 24 h", "hottest in 24 h", "sky (by hand)")


@dataclass(frozen=True, slots=True)
class Told:
    """The condition of one pour."""

    observed: Observed
    rows: tuple[Row, ...]
    log: tuple[LogLine, ...]
    notes: tuple[str, ...]

    @property
    def title(self) -> str:
        """Bay, floor and pour."""
        case = self.observed.case
        return f"{case.pour.bay}  floor {case.bay.floor}  pour {case.pour.id}"


def told(o: Observed, given: Given) -> Told:
    """Return everything that is told of a pour beside its strength."""
    rows = (*freezing(o), *temperatures(o), *curing(o, given), *drying_now(o, given), *cold_weather(o))
    return Told(o, rows, tuple(_log(o)), tuple(_notes(o, given)))


def _log(o: Observed) -> list[LogLine]:
    whole = cold_log(o.tracks, o.air, o.zone, o.case.pour.start_ms, o.now_ms)
    found = []
    for line in whole:
        # An exchanged sensor says nothing any more, and must not make the surface unknown for ever.
        there = [
            s
            for s in o.tracks
            if s.placement.from_ms <= line.at_ms and not (s.placement.to_ms and s.placement.to_ms < line.at_ms)
        ]
        found += [
            replace(line, surface_c=now.surface_c) for now in cold_log(there, o.air, o.zone, line.at_ms, line.at_ms)
        ]
    return found


def _notes(o: Observed, given: Given) -> list[str]:
    doubted = {d.sensor: d.reason for d in o.evidence.doubts}
    found = [f"{h.kind}: {h.reason} ({h.owner}: {h.how})" for h in o.case.holds]
    found += [
        f"not believed, and left out of heat, drops and differences: {doubted.get(sensor, sensor)}"
        for sensor in sorted(o.evidence.not_counted)
    ]
    if not any(p.zone is Zone.EXPOSED_EDGE and p.required and p.to_ms is None for p in o.case.placements):
        by = units.shown(NO_EDGE_ALLOWANCE_C, "degC apart", first=o.first, limit=True)
        found.append(f"no required sensor at the exposed edge: cold is taken as {by} colder than read")
    return [*found, *([RATIO] if given.strength_ratio is None else []), CURED]


def _celsius(c: float, first: units.System, *, up: bool = False) -> str:
    return units.shown(c, "degC", first=first, limit=up)


def log_cells(t: Told) -> list[tuple[str, ...]]:
    """Return the lines of the cold-weather log as text, one cell less than its head: the sky is a person's to add."""
    first, zone = t.observed.first, t.observed.zone
    return [
        (
            site_hour(line.at_ms, zone),
            _celsius(line.air_c, first),
            _celsius(line.surface_c, first),
            _celsius(line.low_c, first),
            _celsius(line.high_c, first, up=True),
        )
        for line in t.log
    ]


def lines(t: Told) -> list[str]:
    """Return one pour as lines of text."""
    found = [f"\n{t.title}   {site_hour(t.observed.now_ms, t.observed.zone)}"]
    for row in t.rows:
        weight = "" if row.weight is None else f"  [{row.weight}: {row.source}]"
        found.append(f"  {row.kept:<9}  {row.quantity}: {row.found}; {row.limit}{weight}")
    found.append("  cold-weather log, twice a day: " + ", ".join(LOG_HEAD[:-1]))
    found += [f"    {'  '.join(cells)}" for cells in log_cells(t)] or ["    no line yet"]
    return [*found, *(f"  note: {note}" for note in t.notes)]


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def as_json(t: Told) -> Mapping[str, Json]:
    """Return one pour for other programs; what is not known is null."""
    case = t.observed.case
    return {
        "bay": case.pour.bay,
        "floor": case.bay.floor,
        "pour": case.pour.id,
        "at_ms": t.observed.now_ms,
        "rows": [asdict(row) for row in t.rows],
        "log": [
            {
                "at_ms": line.at_ms,
                "air_c": _number(line.air_c),
                "surface_c": _number(line.surface_c),
                "low_c": _number(line.low_c),
                "high_c": _number(line.high_c),
            }
            for line in t.log
        ],
        "notes": list(t.notes),
    }


def _pour(t: Told) -> str:
    rows = [
        (r.quantity, r.found, r.limit, r.kept.value, "" if r.weight is None else r.weight.value, r.source)
        for r in t.rows
    ]
    log = [(*cells, "") for cells in log_cells(t)]
    return "\n".join((
        f"<h2>{escape(t.title)}</h2>",
        f"<p>As of {escape(site_hour(t.observed.now_ms, t.observed.zone))}.</p>",
        plot(t.observed),
        table(_HEAD, rows),
        "<h3>Cold-weather log</h3>",
        f"<p>{escape(SKY)}</p>",
        table(LOG_HEAD, log) if log else "<p>no line yet</p>",
        "<h3>Notes</h3>",
        bullets(t.notes, "none"),
    ))  # fmt: skip


def page(site: str, pours: Sequence[Told], caution: str) -> str:
    """Return the page for the site diary."""
    parts = (
        '<!doctype html><html lang="en"><meta charset="utf-8">',
        f"<title>Condition of the concrete, {escape(site)}</title>",
        f"<style>{STYLE}</style><h1>Condition of the concrete <small>{escape(site)}</small></h1>",
        *(map(_pour, pours) if pours else ("<p>no open pour</p>",)),
        f"<h2>Cautions</h2><p>{escape(BINDS)}</p><p>{escape(caution)}</p>",
        "</html>",
    )
    return "\n".join(parts) + "\n"
