"""How a pour is protected, as people entered it: covers and heating. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from cure.dashboard.reader import Reader
from shared.models.base import Json, Ms
from shared.ports import BoardRow


@dataclass(frozen=True, slots=True)
class Protected:
    """How a pour is protected, as people entered it."""

    covered: bool
    cover: str
    heated: bool
    heat: str


def protected(row: BoardRow, reader: Reader, now_ms: Ms) -> Protected:
    """Return how a pour is protected."""
    memory = row.state.memory
    cover = _newest(memory.get("covers_said", memory.get("covers", [])))
    heat = _newest(memory.get("heated", []))
    covered, heated = cover is not None and cover[1] is None, heat is not None and heat[1] is None
    below = None if heat is None else heat[2]
    said = "" if below is None else reader.number(float(below), "degC")
    return Protected(
        covered,
        _said(reader, "cover", cover, now_ms),
        heated,
        _said(reader, "heat", heat, now_ms) + (f", {reader.say('heat-to', to=said)}" if heated and said else ""),
    )


def _newest(spans: Json) -> list[Json] | None:
    return None if not spans else list(spans[-1])


def _said(reader: Reader, what: str, span: list[Json] | None, now_ms: Ms) -> str:
    if span is None:
        return reader.say(f"{what}-never")
    on, at_ms = span[1] is None, int(span[0] if span[1] is None else span[1])
    return reader.say(f"{what}-since" if on else f"{what}-until", hour=reader.hour(at_ms, now_ms))
