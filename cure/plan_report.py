"""A plan in words and as JSON. Pure.

Every hour here is expected; none is a release, and none bears the word of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any, Final

from cure.planner import Found, Protection, Tried
from cure.turnaround import Chain, Turn
from shared.models.base import Ms
from shared.shifts import site_hour

EXPECTED: Final = "EXPECTED, NOT RELEASED"
LATER: Final = "not within what is foreseen"


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
    waits = "" if not turn.waits_h else f", {turn.waits_h:.1f} h later than planned"
    cold = "" if not turn.lost_to_cold_h else f", {turn.lost_to_cold_h:.1f} h of them the cold's"
    start = "no start: its set is not free" if turn.start_ms is None else site_hour(turn.start_ms, zone)
    return (
        f"{turn.bay:12} set {turn.form_set:8} {start}{waits}{cold}; strip {_hour(turn.ready_ms, zone)}, "
        f"set free {_hour(turn.free_ms, zone)}"
    )


def chain_lines(chain: Chain, zone: str, chance: float) -> list[str]:
    """Return a sequence of bays: each start, where the cold breaks it, which set is short."""
    broken, short = chain.breaks_at, chain.short
    return [
        f"{EXPECTED}, each with {100.0 * chance:.0f} %",
        *(_turn_line(turn, zone) for turn in chain.turns),
        "the cold breaks the chain nowhere" if broken is None else f"the cold breaks the chain at {broken.bay}",
        "no set is short" if short is None else f"set {short} is short",
    ]


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


def chain_json(chain: Chain) -> dict[str, Any]:
    """Return a sequence of bays as JSON."""
    broken = chain.breaks_at
    return {
        "pours": [
            {
                "bay": turn.bay,
                "form_set": turn.form_set,
                "planned": _iso(turn.planned_ms),
                "start": _iso(turn.start_ms),
                "waits_h": turn.waits_h,
                "lost_to_cold_h": turn.lost_to_cold_h,
                "strip": _iso(turn.ready_ms),
                "set_free": _iso(turn.free_ms),
            }
            for turn in chain.turns
        ],
        "cold_breaks_at": None if broken is None else broken.bay,
        "short": chain.short,
    }
