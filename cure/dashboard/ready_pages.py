"""Before the pour: what is missing in each bay, and what a person ticks after looking."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.reader import Reader
from cure.dashboard.ready import Known, ready
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from cure.ticks import TICKS
from shared.errors import ActRefusedError
from shared.models.acts import FileDocument, instant
from shared.models.base import DAY_MS, Ms
from shared.models.setup import BaySettings, SiteFile
from shared.ports import BoardRow

TICK = "/ready/{bay}"
DOCUMENT = "document"
SEEN_MS = 3 * DAY_MS
"""Who last ticked something is told so long."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/ready"): lambda asked: _list(parts, asked),
        ("POST", TICK): lambda asked: _tick(parts, asked),
    }


def known_of(parts: Parts, site: SiteFile, now: Ms) -> Known:
    """Return what the stores hold, of documents those of the last days: an older tick says nothing."""
    book = parts.board
    seen, heard_ms = book.acts_of(DOCUMENT, max(0, now - SEEN_MS)), parts.beside.weather_heard()
    lying = book.lying()
    arrived = book.arrivals_of({p.sensor for p in lying})
    return Known(site, lying, arrived, book.calibrations(), book.newest_deliveries(), seen, heard_ms)


def waiting(site: SiteFile, rows: Sequence[BoardRow]) -> list[BaySettings]:
    """Return the bays without an open pour."""
    poured = {row.pour.bay for row in rows}
    return [bay for bay in site.bay if bay.bay_id not in poured]


def _list(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    book = parts.board
    known = known_of(parts, asked.site, asked.now)
    return page(
        asked,
        "ready.html",
        status=422 if wrong else 200,
        wrong=wrong,
        bays=[(bay, ready(bay, known, asked.now, asked.reader)) for bay in waiting(asked.site, book.board())],
        ticks=TICKS,
        may_tick=may("POST", TICK, asked.visitor.comer),
        may_pour=may("GET", "/pour/{bay}", asked.visitor.comer),
    )


def ticked(bay: str, what: str, who: str, now: Ms, reader: Reader) -> FileDocument:
    """Return what is written down when a person has looked at something of `TICKS` in a bay."""
    seen = f"seen {reader.whole_hour(now)}"
    return FileDocument(at=instant(now), who=who, name=TICKS[what], reference=seen, bay=bay)


def _tick(parts: Parts, asked: Asked) -> Response:
    name, key, who = asked.path["bay"], asked.one("what"), str(asked.visitor.person)
    if name not in {bay.id for bay in asked.site.bay}:
        return problem(asked, "no-bay", status=404)
    if key not in TICKS:
        return _list(parts, asked, asked.reader.say("ready-what"))
    try:
        parts.apply(ticked(name, key, who, asked.now, asked.reader))
    except ActRefusedError as error:
        return _list(parts, asked, asked.reader.known(str(error)))
    return see_other("/ready")
