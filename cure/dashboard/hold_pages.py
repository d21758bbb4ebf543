"""What a bay is held for, and lifting a hold by the act that it names: bound to what was read, with a code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay import hold_lines
from cure.dashboard.bay_pages import carried_out, found
from cure.dashboard.mix_pages import number_of
from cure.dashboard.people_pages import prove
from cure.dashboard.rendering import page, problem
from cure.press import ENGINEER_LIFTS
from shared.errors import ActRefusedError
from shared.models.acts import Lift, instant
from shared.models.decisions import Hold, HoldKind
from shared.models.people import Role
from shared.models.setup import BaySettings
from shared.ports import BoardRow
from shared.units import US_ENTERED

LIFT: Final = "/holds/{bay}"
LONGEST: Final = 150
CELSIUS: Final = "°C"


@dataclass(frozen=True, slots=True)
class Held:
    """A hold as the page shows it."""

    kind: HoldKind
    name: str
    said: str
    how: str
    reason: str
    """As it is stored: what whoever lifts it has read."""
    mine: bool
    """Whether whoever asks may lift it."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", LIFT): lambda asked: _page(parts, asked), ("POST", LIFT): lambda asked: _lift(parts, asked)}


def _shown(hold: Hold, asked: Asked) -> Held:
    mine = hold.kind not in ENGINEER_LIFTS or asked.visitor.role is Role.ENGINEER
    said, how = hold_lines(hold, asked.reader)
    return Held(hold.kind, asked.reader.known(hold.kind.value), said, how, hold.reason, mine)


def _page(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    return page(
        asked,
        "holds.html",
        status=422 if wrong else 200,
        bay=bay,
        row=row,
        holds=() if row is None else [_shown(hold, asked) for hold in row.holds],
        unit=US_ENTERED[CELSIUS].name if asked.reader.first == "US" else CELSIUS,
        given=asked.one,
        longest=LONGEST,
        wrong=wrong,
    )


def _lift(parts: Parts, asked: Asked) -> Response:
    def made(_bay: BaySettings, row: BoardRow | None) -> Lift:
        act = _made(asked, row)
        prove(parts, asked)
        return act

    return carried_out(parts, asked, made, partial(_page, parts, asked))


def _made(asked: Asked, row: BoardRow | None) -> Lift:
    """Return the act of a form. Raises `ActRefusedError` for one that is of something else than was read."""
    seen = (asked.one("pour"), asked.one("hold"), asked.one("reason"))
    if row is None or seen not in {(row.pour.id, hold.kind.value, hold.reason.strip()) for hold in row.holds}:
        raise ActRefusedError(asked.reader.say("hold-moved"))
    if not asked.one("why"):
        raise ActRefusedError(asked.reader.say("hold-no-why"))
    surface = number_of(asked, "surface")
    if surface is not None and asked.reader.first == "US":
        surface = US_ENTERED[CELSIUS].to_si(surface)
    try:
        return Lift(
            at=instant(asked.now),
            who=str(asked.visitor.person),
            pour=row.pour.id,
            hold=HoldKind(asked.one("hold")),
            surface_c=surface,
            document=asked.one("document")[:LONGEST] or None,
            why=asked.one("why")[:LONGEST],
        )
    except ValueError as error:
        raise ActRefusedError(asked.reader.say("hold-fields")) from error
