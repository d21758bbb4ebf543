"""A plan in words and as JSON. Pure.

Every hour here is expected; none is a release, and none bears the word of one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any, Final

from cure.forecast import Expected
from cure.planner import Found, Protection, Tried
from cure.turnaround import HARDLY_H, Cause, Chain, Turn
from shared.models.base import Ms
from shared.shifts import site_hour

EXPECTED: Final = "EXPECTED, NOT RELEASED"
LATER: Final = "not within what is foreseen"
LEAST_REST: Final = 0.05
"""Less than this of a spread is told with no source of its own."""


def protection_said(by: Protection) -> str:
    """Return a protection in words."""
    parts = []
    if by.cover_m2_k_per_w:
        for_h = "until further notice" if by.cover_for_h is None else f"for {by.cover_for_h:g} h"
        parts.append(f"cover R {by.cover_m2_k_per_w:g} m2K/W from {by.cover_on_h:g} h after the end, {for_h}")
    if by.below_c is not None:
        for_h = "until further notice" if by.below_for_h is None else f"for {by.below_for_h:g} h"
        parts.append(f"space below at {by.below_c:g} degC, {for_h}")
    return "; ".join(parts) or "no protection"


def _hour(at_ms: Ms | None, zone: str) -> str:
    return LATER if at_ms is None else site_hour(at_ms, zone)


def _percent(chance: float | None) -> str:
    return "-" if chance is None else f"{100.0 * chance:.0f} %"


def spread_said(expected: Expected) -> str:
    """Return how much of the spread of an hour is weather, heat model and mix."""
    shares = {str(source): share for source, share in expected.spread.items()}
    if not any(shares.values()):
        return "none of it is told apart"
    rest = 1.0 - sum(shares.values())
    shares |= {"not told apart": rest} if rest >= LEAST_REST else {}
    return ", ".join(f"{source} {_percent(share)}" for source, share in shares.items())


def case_lines(one: Tried, zone: str) -> list[str]:
    """Return one case with all its operations."""
    slab = f"{one.work.thickness_mm:g} mm, placed at {one.work.placing_c:g} degC"
    lines = [
        f"{one.work.pour}: first concrete {site_hour(one.start_ms, zone)}, {slab}",
        f"  {protection_said(one.protection)}",
        f"  {EXPECTED}",
    ]
    for operation, expected in one.forecast.expected.items():
        hours = " / ".join(_hour(expected.at(chance), zone) for chance in (0.1, 0.5, 0.9))
        last = max(expected.governs, key=lambda g: expected.governs[g], default=None)
        lines.append(f"  {operation:10} 10 / 50 / 90 %: {hours}" + ("" if last is None else f"; waits for {last}"))
        lines.append(f"  {'':10} spread: {spread_said(expected)}")
    lines.append(f"  {one.operation} with {_percent(one.wanted_chance)}: {_hour(one.ready_ms, zone)}")
    if one.chance is not None and one.wanted_ms is not None:
        lines.append(f"  {one.operation} by {site_hour(one.wanted_ms, zone)}: {_percent(one.chance)}")
    lines.append(f"  frost in young concrete: {_percent(one.forecast.freezing)}")
    return [*lines, *(f"  note: {note}" for note in one.forecast.notes)]


def table_lines(tried: Sequence[Tried], zone: str) -> list[str]:
    """Return several cases, a line each."""
    head = f"{'first concrete':28} {'by the chance':28} {'by the hour':>11} {'frost':>6}  protection"
    rows = [
        f"{site_hour(one.start_ms, zone):28} {_hour(one.ready_ms, zone):28} {_percent(one.chance):>11} "
        f"{_percent(one.forecast.freezing):>6}  {protection_said(one.protection)}"
        for one in tried
    ]
    return [head, *rows]


def search_lines(found: Found, zone: str, what: str) -> list[str]:
    """Return what a search came to: the answer first, then all that was tried."""
    said = what if found.best is not None else f"nothing that was tried meets it; the nearest ({what})"
    return [f"{said}:", *case_lines(found.nearest, zone), "", "tried:", *table_lines(found.tried, zone)]


def _turn_line(turn: Turn, zone: str) -> str:
    start = "no start: its set is not free" if turn.start_ms is None else site_hour(turn.start_ms, zone)
    late = [
        f"{cause}" if math.isinf(hours) else f"{cause} {hours:.1f} h"
        for cause, hours in turn.late_h.items()
        if hours >= HARDLY_H
    ]
    waits = "" if turn.start_ms is None or not late else f", {turn.waits_h:.1f} h later than planned"
    why = f" ({', '.join(late)})" if late else ""
    return (
        f"{turn.bay:12} set {turn.form_set:8} {start}{waits}{why}; "
        f"strip expected {_hour(turn.ready_ms, zone)}, set free {_hour(turn.free_ms, zone)}"
        f"; frost {_percent(turn.frost)}"
    )


def chain_lines(chain: Chain, zone: str, chance: float) -> list[str]:
    """Return a sequence of bays: each start, where it breaks and by what, which set is short."""
    return [
        f"{EXPECTED}, each with {100.0 * chance:.0f} %",
        *(_turn_line(turn, zone) for turn in chain.turns),
        *_breaks(chain),
        _short(chain),
    ]


def _breaks(chain: Chain) -> list[str]:
    """Return where what first makes pours late."""
    said = {
        Cause.COLD: "the cold breaks the chain at {bay}",
        Cause.STRENGTH: "at 20 degC too the strength takes longer than the clock hours: the chain is slow at {bay}",
        Cause.SETS: "by the clock hours alone sets or shifts make the chain late at {bay}",
        Cause.UNFORESEEN: "the weather ends before it can be said when {bay} starts",
    }
    found = {cause: turn for cause in said if (turn := chain.first_late(cause)) is not None}
    nowhere = [] if Cause.COLD in found or Cause.UNFORESEEN in found else ["the cold breaks the chain nowhere"]
    return [*nowhere, *(said[cause].format(bay=turn.bay) for cause, turn in found.items())]


def _short(chain: Chain) -> str:
    waits = sorted(chain.waits_h().items(), key=lambda one: -one[1])
    if not waits:
        return "no set is short"
    never = "not free again within what is foreseen"
    hours = [f"{name}, {never if math.isinf(h) else f'waited for {h:.1f} h'}" for name, h in waits]
    return f"short of sets: {'; '.join(hours)}"


CASE_HEAD: Final = (
    *("first_concrete", "protection", "operation", "by_the_chance", "wanted_chance", "wanted", "chance", "frost"),
    *("p10", "p50", "p90"),
)
TURN_HEAD: Final = (
    *("bay", "form_set", "planned", "start", "waits_h", "sets_and_shifts_h", "strength_at_20_c_h", "cold_h"),
    *("strip_expected", "set_free_expected", "frost"),
)


def search_table(found: Found) -> list[Sequence[object]]:
    """Return all that was tried as a table, its head first; what does not come is empty."""
    rows: list[Sequence[object]] = [CASE_HEAD]
    for one in found.tried:
        told = case_json(one)
        hours = told["expected"].get(one.operation, {})
        of = [told["start"], protection_said(one.protection), one.operation, told["by_the_chance"]]
        of += [one.wanted_chance, told["wanted"], told["chance"], told["frost"]]
        rows.append([_cell(value) for value in (*of, *(hours.get(name) for name in CASE_HEAD[-3:]))])
    return rows


def chain_table(chain: Chain) -> list[Sequence[object]]:
    """Return a sequence as a table, its head first; what does not come is empty."""
    rows: list[Sequence[object]] = [TURN_HEAD]
    for turn in chain.turns:
        late = [finite(turn.late_h[cause]) for cause in (Cause.SETS, Cause.STRENGTH, Cause.COLD)]
        of = (turn.bay, turn.form_set, _iso(turn.planned_ms), _iso(turn.start_ms), turn.waits_h, *late)
        rows.append([_cell(value) for value in (*of, _iso(turn.ready_ms), _iso(turn.free_ms), turn.frost)])
    return rows


def _cell(value: object) -> object:
    if value is None:
        return ""
    return round(value, 2) if isinstance(value, float) else value


def _iso(at_ms: Ms | None) -> str | None:
    return None if at_ms is None else datetime.fromtimestamp(at_ms / 1000.0, UTC).isoformat(timespec="seconds")


def case_json(one: Tried) -> dict[str, Any]:
    """Return one case as JSON; an hour that does not come is null."""
    return {
        "pour": one.work.pour,
        "start": _iso(one.start_ms),
        "thickness_mm": one.work.thickness_mm,
        "placing_c": one.work.placing_c,
        "protection": asdict(one.protection),
        "operation": one.operation,
        "wanted": _iso(one.wanted_ms),
        "wanted_chance": one.wanted_chance,
        "chance": one.chance,
        "by_the_chance": _iso(one.ready_ms),
        "meets": one.meets,
        "frost": one.forecast.freezing,
        "horizon": _iso(one.forecast.horizon_ms),
        "expected": {
            operation: {
                **{f"p{round(100 * chance)}": _iso(expected.at(chance)) for chance in (0.1, 0.5, 0.9)},
                "waits_for": {str(g): share for g, share in expected.governs.items()},
                "spread": {str(s): share for s, share in expected.spread.items()},
            }
            for operation, expected in one.forecast.expected.items()
        },
        "notes": list(one.forecast.notes),
    }


def search_json(found: Found) -> dict[str, Any]:
    """Return what a search came to as JSON; `best` is null where nothing meets it."""
    best = None if found.best is None else case_json(found.best)
    return {"best": best, "nearest": case_json(found.nearest), "tried": [case_json(one) for one in found.tried]}


def finite(hours: float) -> float | None:
    """Return hours that come; None: they never do."""
    return hours if math.isfinite(hours) else None


def chain_json(chain: Chain) -> dict[str, Any]:
    """Return a sequence of bays as JSON; hours that do not come are null."""
    first = {cause: chain.first_late(cause) for cause in Cause}
    bays = {cause: None if turn is None else turn.bay for cause, turn in first.items()}
    return {
        "pours": [
            {
                "bay": turn.bay,
                "form_set": turn.form_set,
                "planned": _iso(turn.planned_ms),
                "start": _iso(turn.start_ms),
                "waits_h": turn.waits_h,
                "lost_to_cold_h": turn.lost_to_cold_h,
                "late_h": {str(cause): finite(hours) for cause, hours in turn.late_h.items()},
                "strip": _iso(turn.ready_ms),
                "set_free": _iso(turn.free_ms),
                "frost": turn.frost,
            }
            for turn in chain.turns
        ],
        "cold_breaks_at": bays[Cause.COLD],
        "late_at": {str(cause): bay for cause, bay in bays.items()},
        "short": chain.short,
        "waits_h": {name: finite(hours) for name, hours in chain.waits_h().items()},
    }
