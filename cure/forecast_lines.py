"""The scores of forecasts as text and as JSON. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from cure.forecast_scores import Line, Scores
from shared.models.base import Json, PourId
from shared.models.forecasts import KeptForecast
from shared.ports import BoardRow
from shared.shifts import site_hour

CAUTION: Final = (
    "A forecast is expected, not released. It releases nothing, however good its score: wait for the release."
)
LEAST_SHARE: Final = 0.005
"""Of what is told in whole percent."""


def lines(scores: Scores) -> list[str]:
    """Return the report as a table."""
    if scores.lines[0].forecasts == 0:
        said = ["no forecast is scored yet: each is scored when what it foretold has come, or its horizon is over"]
        return [*said, *_left_out(scores)]
    head = f"{'':34}{'forecasts':>10}{'cases':>7}  {'inside 80 % interval':24}{'CRPS h':>8}{'error h':>9}{'bias h':>8}"
    return [head, *map(_line, scores.lines), scores.rolling.said, *_left_out(scores)]


def _left_out(scores: Scores) -> list[str]:
    said = []
    if scores.closed:
        said.append(f"{scores.closed} not scored: their pour was closed before")
    if scores.late:
        said.append(f"{scores.late} not scored: made when the evidence was there already")
    return said


def _name(line: Line) -> str:
    if line.lead_h is not None:
        low, high = line.lead_h
        return f"made {low:g} h or more before" if math.isinf(high) else f"made {low:g} to {high:g} h before"
    return "all" if line.mix is None else f"mix {line.mix}, {line.operation}"


def _line(line: Line) -> str:
    if not line.forecasts:
        return f"{_name(line):34}{0:10}{0:7}"
    share = f"{100 * line.covered:.0f} % ({100 * line.covered_low:.0f} to {100 * line.covered_high:.0f} %)"
    numbers = f"{line.crps_h:8.1f}{line.error_h:9.1f}{line.bias_h:+8.1f}"
    return f"{_name(line):34}{line.forecasts:10}{line.cases:7}  {share:24}{numbers}"


def to_json(scores: Scores) -> dict[str, Json]:
    """Return the report as a JSON object."""
    r = scores.rolling
    return {
        "lines": [line.to_json() for line in scores.lines],
        "last_pours": {
            "pours": r.pours,
            "covered": None if math.isnan(r.covered) else r.covered,
            "widened": r.widened,
            "said": r.said,
        },
        "closed": scores.closed,
        "made_too_late": scores.late,
        "caution": CAUTION,
    }


def told_of(rows: Iterable[BoardRow]) -> dict[PourId, Mapping[str, Any]]:
    """Return what the last round kept of each open pour's forecast, beside its hours."""
    return {row.pour.id: row.state.memory["forecast"] for row in rows if "forecast" in row.state.memory}


def shares(of: Mapping[str, float], spell: Callable[[str], str] = str) -> str:
    """Return shares in words, the largest first; those that come to nothing are left out."""
    largest = sorted(of.items(), key=lambda part: -part[1])
    return ", ".join(f"{spell(name)} {100.0 * share:.0f} %" for name, share in largest if share >= LEAST_SHARE)


def newest_lines(newest: Sequence[KeptForecast], told: Mapping[PourId, Mapping[str, Any]], zone: str) -> list[str]:
    """Return what is foreseen now: an operation a line, what it waits for below it, and why pours have none."""

    def hour(at_ms: int | None) -> str:
        return "not within 5 days" if at_ms is None else site_hour(at_ms, zone)

    found = []
    none = {pour for pour, said in told.items() if said["none"]}
    for f in newest:
        if f.pour in none:
            # What was foreseen before stands no more.
            continue
        found.append(
            f"{f.pour} {f.operation}: expected {hour(f.middle_ms)} (80 %: {hour(f.low_ms)} to {hour(f.high_ms)}),"
            f" made {site_hour(f.made_ms, zone)}"
        )
        kept = told.get(f.pour, {}).get("hours", {}).get(f.operation)
        if kept is not None:
            found.append(
                f"  waits last for {shares(kept['waits_for']) or 'none'}; its width: {shares(kept['spread']) or 'none'}"
            )
        if kept is not None and kept["wanted_ms"] is not None:
            found.append(f"  by {hour(kept['wanted_ms'])}, as wanted: {100.0 * kept['wanted_chance']:.0f} %")
    for pour, said in sorted(told.items()):
        found += [f"{pour}: nothing is foreseen: {said['none']}"] if said["none"] else []
        found += [f"{pour}: {note}" for note in said["notes"]]
    return found


def newest_json(newest: Sequence[KeptForecast], told: Mapping[PourId, Mapping[str, Any]]) -> dict[str, Any]:
    """Return the same as a JSON object."""
    names = ("pour", "operation", "mix", "made_ms", "through_ms", "horizon_ms", "low_ms", "middle_ms", "high_ms")
    beside = ("wanted_ms", "wanted_chance", "waits_for", "spread")
    found = []
    for f in newest:
        kept = told.get(f.pour, {}).get("hours", {}).get(f.operation, {})
        found.append(
            {**{name: getattr(f, name) for name in names}, "widened": f.widened, **{n: kept.get(n) for n in beside}}
        )
    pours = {pour: {"none": said["none"], "notes": said["notes"]} for pour, said in sorted(told.items())}
    return {"forecasts": found, "pours": pours, "caution": CAUTION}
