"""The second person's check of a pour, once: ticket, hour of the last concrete, loggers alive, plan."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Final

from pydantic import ValidationError
from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay import waits_for_check
from cure.dashboard.bay_pages import carried_out, found, lying_in
from cure.dashboard.rendering import page, problem
from shared.errors import ActRefusedError
from shared.models.acts import SecondCheck, instant
from shared.models.setup import BaySettings
from shared.ports import BoardRow
from shared.shifts import hour_of

TICKS: Final = ("loggers", "plan")
"""What whoever checks has seen, in words."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/check/{bay}"): lambda asked: _page(parts, asked),
        ("POST", "/check/{bay}"): lambda asked: _check(parts, asked),
    }


def _page(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    heard = {a.sensor: a.newest_ms for a in parts.board.arrivals()}
    lie = lying_in(parts, bay)
    hours = [(p, None if (at := heard.get(p.sensor)) is None else asked.reader.whole_hour(at)) for p in lie]
    return page(
        asked,
        "check.html",
        status=422 if wrong else 200,
        bay=bay,
        row=row,
        sensors=hours,
        ticks=TICKS,
        given=asked.one,
        waits=waits_for_check(asked.site, row),
        wrong=wrong,
    )


def _check(parts: Parts, asked: Asked) -> Response:
    return carried_out(parts, asked, partial(_made, asked), partial(_page, parts, asked))


def _made(asked: Asked, bay: BaySettings, row: BoardRow | None) -> SecondCheck:
    if row is None or asked.one("pour") != row.pour.id:
        raise ActRefusedError(f"this pour is not open in bay {bay.id} any more")
    day, _, time = asked.one("end").partition("T")
    try:
        return SecondCheck(
            at=instant(asked.now),
            who=str(asked.visitor.person),
            pour=row.pour.id,
            mix=asked.one("mix").lower(),
            ticket=asked.one("ticket"),
            end=instant(hour_of(date.fromisoformat(day), time, asked.site.site.zone)),
            loggers_alive=asked.one("loggers") == "yes",
            plan_seen=asked.one("plan") == "yes",
        )
    except (ValidationError, ValueError) as error:
        raise ActRefusedError(asked.reader.say("second-fields")) from error
