"""Form sets: where each is, since when, whether its forms are off, which bay's pour waits for it; and their moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pydantic import ValidationError
from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.pour_pages import earlier_ms
from cure.dashboard.rendering import page
from cure.dashboard.rules import may
from cure.form_sets import KIND, OFF, Place, places
from cure.gate import held
from shared.errors import ActRefusedError
from shared.models.acts import MoveSet, instant
from shared.models.base import STRIP

NEW, ASIDE, GONE = "+", "", "-"
"""Choices of the form that are no set and no bay."""


@dataclass(frozen=True, slots=True)
class SetRow:
    """One set."""

    name: str
    bay: str | None
    since: str
    who: str
    waits: str | None
    forms: str
    """Whether its forms are off what was poured there. A release stands on live pages only."""
    off: bool


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/sets"): lambda asked: _list(parts, asked),
        ("POST", "/sets"): lambda asked: _move(parts, asked),
    }


def _list(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    found = places(parts.board.acts_of(KIND))
    sets = [_row(parts, asked, place) for place in found.values()]
    taken = {place.bay for place in found.values()}
    return page(
        asked,
        "sets.html",
        status=422 if wrong else 200,
        wrong=wrong,
        sets=sets,
        bays=[bay.id for bay in asked.site.bay],
        empty=[bay.id for bay in asked.site.bay if bay.id not in taken],
        chosen={name: asked.one(name) for name in ("set", "name", "to", "waits", "earlier")},
        may_move=may("POST", "/sets", asked.visitor.comer),
    )


def _row(parts: Parts, asked: Asked, place: Place) -> SetRow:
    row = next((r for r in parts.board.board() if r.pour.bay == place.bay and STRIP in r.gates), None)
    off = row is not None and held(row.gates[STRIP]) in OFF
    key = "" if place.bay is None else "set-nothing-poured" if row is None else "set-off" if off else "set-on"
    forms = asked.reader.say(key, pour="" if row is None else row.pour.id) if key else ""
    since = asked.reader.whole_hour(place.since_ms)
    return SetRow(place.form_set, place.bay, since, place.who, place.waits, forms, off)


def _move(parts: Parts, asked: Asked) -> Response:
    named = asked.one("set")
    name, to = asked.one("name") if named == NEW else named, asked.one("to")
    try:
        at_ms = earlier_ms(asked)
        act = MoveSet(
            at=instant(asked.now),
            who=str(asked.visitor.person),
            form_set=name,
            bay=None if to in {ASIDE, GONE} else to,
            waits=asked.one("waits") or None,
            gone=to == GONE,
            happened=None if at_ms is None else instant(at_ms),
        )
        parts.apply(act)
    except ValidationError:
        return _list(parts, asked, asked.reader.say("set-no-name"))
    except ActRefusedError as error:
        return _list(parts, asked, asked.reader.known(str(error)))
    return see_other("/sets")
