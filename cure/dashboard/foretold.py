"""What is foreseen of a pour, by the last round: hours, chances, what they wait for, what makes them wide. Pure.

Expected, not released.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from cure import forecast_lines
from cure.dashboard.board import in_order
from cure.dashboard.expected import WAITS
from cure.dashboard.reader import Reader
from shared.models.base import Json, Ms, Operation
from shared.ports import BoardRow


@dataclass(frozen=True, slots=True)
class ForetoldView:
    """What a page says of a pour's forecast; empty: nobody foresees anything of it."""

    hours: tuple[tuple[str, str], ...] = ()
    """An operation, and what is foreseen of it."""
    notes: tuple[str, ...] = ()
    """Why there is none, or why it is wider than it might be."""


def kept_hours(row: BoardRow, *, stopped: bool) -> Mapping[Operation, Mapping[str, Any]]:
    """Return what is kept of each operation that waits, in their order; nothing once nobody judges."""
    kept = {} if stopped else row.state.memory.get("forecast", {}).get("hours", {})
    return {op: kept[op] for op in in_order(row) if op in kept and row.gates[op].state in WAITS}


def kept_notes(row: BoardRow, *, stopped: bool) -> tuple[str, list[str]]:
    """Return why there is no forecast, or "", and why there is a wider one."""
    said = {} if stopped else row.state.memory.get("forecast", {})
    return str(said.get("none", "")), [str(note) for note in said.get("notes", [])]


def foretold(row: BoardRow, now_ms: Ms, reader: Reader, *, stopped: bool) -> ForetoldView:
    """Return what a page says of a pour's forecast."""
    found = kept_hours(row, stopped=stopped)
    hours = tuple((reader.operation(op), "; ".join(_said(kept, now_ms, reader))) for op, kept in found.items())
    none, notes = kept_notes(row, stopped=stopped)
    why = (reader.say("foretold-none", why=reader.known(none)),) if none else ()
    return ForetoldView(hours, (*why, *map(reader.known, notes)))


def _said(kept: Mapping[str, Json], now_ms: Ms, reader: Reader) -> Iterator[str]:
    def hour(name: str) -> str:
        at_ms = kept[name]
        return reader.say("plan-later") if at_ms is None else reader.hour(int(at_ms), now_ms)

    hours = {name: hour(f"{name}_ms") for name in ("early", "even", "cautious")}
    yield reader.say("foretold-hours", **hours)
    if kept["wanted_ms"] is not None:
        chance = f"{100.0 * kept['wanted_chance']:.0f}"
        yield reader.say("foretold-wanted", hour=reader.hour(int(kept["wanted_ms"]), now_ms), chance=chance)
    for name, key, what in (("waits_for", "waits", "foretold-waits"), ("spread", "spread", "foretold-spread")):
        # All members alike have no width, and nothing makes it.
        if told := shares(kept[name], key, reader):
            yield reader.say(what, shares=told)


def shares(of: Mapping[str, float], key: str, reader: Reader) -> str:
    """Return shares in words of the reader's language."""
    return forecast_lines.shares(of, lambda name: reader.say(f"{key}-" + name.replace(" ", "-")))
