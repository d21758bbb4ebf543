"""Tickets of a pour's trucks: what was entered of each, what on it is a doubt, its picture; and entering one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from pydantic import ValidationError
from starlette.responses import Response

from cure import tickets
from cure.dashboard.answers import empty, see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay_pages import found
from cure.dashboard.faults import faults_said
from cure.dashboard.mix_pages import number_of
from cure.dashboard.photos import MOST_BYTES, handed_out, kind_of
from cure.dashboard.pour_pages import earlier_ms
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from shared.errors import ActRefusedError
from shared.models.acts import Lift, Ticket, instant
from shared.models.base import Ms
from shared.models.decisions import HoldKind
from shared.ports import BoardRow, PourCase
from shared.units import System, f_to_c, gal_to_l

PAGE: Final = "/tickets/{bay}"
ANSWER: Final = "/tickets/{bay}/answer"
LONGEST: Final = 200
"""Signs of a reason."""
TYPED: Final = (
    *("number", "mix", "batched", "earlier", "place", "dose_class", "water", "withheld", "litres_or"),
    *("air", "air_wanted", "temperature", "degrees"),
)
"""Fields of the form, put back into it when something is wrong."""


@dataclass(frozen=True, slots=True)
class TicketRow:
    """One ticket as it is read."""

    number: str
    said: tuple[tuple[str, str], ...]
    """Name and value of what it says."""
    doubts: tuple[tuple[str, bool], ...]
    """What is odd on it, and whether a person has answered for that."""
    photo: str
    """SHA-256; "": none."""
    by: str


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", PAGE): lambda asked: _page(parts, asked),
        ("POST", PAGE): lambda asked: _enter(parts, asked),
        ("POST", ANSWER): lambda asked: _answer(parts, asked),
        ("GET", "/photo/{digest}"): lambda asked: _photo(parts, asked),
    }


def _page(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    rows: list[TicketRow] = []
    if row is not None:
        case = parts.board.case(row.pour.id)
        rows = [_row(asked, ticket, case) for ticket in reversed(tickets.of(row.state.memory))]
    return page(
        asked,
        "tickets.html",
        status=422 if wrong else 200,
        wrong=wrong,
        bay=bay,
        row=row,
        rows=rows,
        mixes=[mix.id for mix in asked.site.mix],
        typed={name: asked.one(name) for name in TYPED},
        us=asked.reader.first == "US",
        most=MOST_BYTES // 1024 // 1024,
        held=_held(asked, row),
        answer=asked.one("why"),
        may_answer=may("POST", ANSWER, asked.visitor.comer),
        may_enter=row is not None and may("POST", PAGE, asked.visitor.comer),
    )


def _row(asked: Asked, ticket: tickets.Kept, case: PourCase) -> TicketRow:
    reader, say = asked.reader, asked.reader.say
    values: list[tuple[str, str]] = [
        (say("ticket-mix"), ticket["mix"]),
        (say("ticket-batched"), _hour(asked, ticket["batched_ms"])),
        (say("ticket-placed"), _hour(asked, ticket["placed_ms"])),
    ]
    of: tuple[tuple[str, str, Any], ...] = (
        ("place", "ticket-place", ""),
        ("dose_class", "dose-class", ""),
        ("water_l", "ticket-water", "l"),
        ("withheld_l", "ticket-withheld", "l"),
        ("air_percent", "ticket-air", "%"),
        ("air_wanted_percent", "ticket-air-wanted", "%"),
        ("temperature_c", "ticket-temperature", "degC"),
    )
    for field, key, unit in of:
        if field in ticket:
            values.append((say(key), reader.number(ticket[field], unit) if unit else str(ticket[field])))
    settled = case.state.memory.get("tickets_settled", [])
    doubts = tuple((reader.known(said), said in settled) for said in tickets.doubts_about(ticket, case))
    by = say("ticket-by", who=ticket["who"], hour=_hour(asked, ticket["at_ms"]))
    return TicketRow(ticket["number"], tuple(values), doubts, ticket.get("photo", ""), by)


def _held(asked: Asked, row: BoardRow | None) -> str:
    """Return what the pour is held for by its tickets; "": nothing."""
    holds = () if row is None else row.holds
    return next((asked.reader.known(hold.reason) for hold in holds if hold.kind is HoldKind.TICKET), "")


def _answer(parts: Parts, asked: Asked) -> Response:
    """Lift the hold: whoever does answers for this concrete, and says why."""
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    if row is None or asked.one("pour") != row.pour.id or not asked.one("why"):
        return _page(parts, asked, asked.reader.say("ticket-why"))
    if asked.one("reason") != _held(asked, row):
        # Another doubt has come since the page was made: nobody answers for what they have not read.
        return _page(parts, asked, asked.reader.say("ticket-moved"))
    at, who = instant(asked.now), str(asked.visitor.person)
    try:
        parts.apply(Lift(at=at, who=who, pour=row.pour.id, hold=HoldKind.TICKET, why=asked.one("why")[:LONGEST]))
    except ActRefusedError as error:
        return _page(parts, asked, asked.reader.known(str(error)))
    return see_other(f"/tickets/{bay.id}")


def _hour(asked: Asked, at_ms: Ms) -> str:
    return asked.reader.hour(at_ms, asked.now)


def _photo(parts: Parts, asked: Asked) -> Response:
    body = parts.photos.read(asked.path["digest"])
    kind = None if body is None else kind_of(body)
    return empty(404) if body is None or kind is None else handed_out(body, kind, asked.path["digest"])


def _enter(parts: Parts, asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    try:
        if row is None or asked.one("pour") != row.pour.id:
            raise ActRefusedError(f"pour {asked.one('pour')!r} is not open in bay {bay.id}")
        _hand_in(parts, asked, row)
    except ActRefusedError as error:
        return _page(parts, asked, asked.reader.known(str(error)))
    return see_other(f"/tickets/{bay.id}")


def _hand_in(parts: Parts, asked: Asked, row: BoardRow) -> None:
    """Keep the picture, then have the act carried out; the picture of one that is refused is not kept."""
    body = asked.bytes_of("photo")
    if body and (len(body) > MOST_BYTES or kind_of(body) is None):
        raise ActRefusedError(asked.reader.say("ticket-no-photo", most=MOST_BYTES // 1024 // 1024))
    hand_in(parts, _ticket(asked, row), body)


def hand_in(parts: Parts, act: Ticket, body: bytes) -> Ticket:
    """Carry a ticket out with its picture, if there is one, and return it. Raises `ActRefusedError`, nothing kept."""
    if not body:
        parts.apply(act)
        return act
    digest, new = parts.photos.keep(body)
    pictured = act.model_copy(update={"photo": digest})
    try:
        parts.apply(pictured)
    except ActRefusedError:
        if new:
            parts.photos.drop(digest)
        raise
    return pictured


def _ticket(asked: Asked, row: BoardRow) -> Ticket:
    batched_ms, placed_ms = earlier_ms(asked, "batched"), earlier_ms(asked)
    if batched_ms is None:
        raise ActRefusedError(asked.reader.say("ticket-no-batched"))
    gallons: System = "US" if asked.one("litres_or") == "gal" else "SI"
    degrees = number_of(asked, "temperature")
    fields: dict[str, Any] = {
        "number": asked.one("number"),
        "mix": asked.one("mix"),
        "batched": instant(batched_ms),
        "placed": None if placed_ms is None else instant(placed_ms),
        "place": asked.one("place") or None,
        "dose_class": asked.one("dose_class") or None,
        "water_l": _litres(number_of(asked, "water"), gallons),
        "withheld_l": _litres(number_of(asked, "withheld"), gallons),
        "air_percent": number_of(asked, "air"),
        "air_wanted_percent": number_of(asked, "air_wanted"),
        "temperature_c": f_to_c(degrees) if degrees is not None and asked.one("degrees") == "degF" else degrees,
    }
    try:
        return Ticket(at=instant(asked.now), who=str(asked.visitor.person), pour=row.pour.id, **fields)
    except ValidationError as error:
        raise ActRefusedError(faults_said(error, asked.reader)) from error


def _litres(said: float | None, system: System) -> float | None:
    return gal_to_l(said) if said is not None and system == "US" else said
