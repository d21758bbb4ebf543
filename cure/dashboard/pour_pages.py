"""Pour start and pour end: two large buttons, and "it was earlier"."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay_pages import carried_out, found
from cure.dashboard.rendering import page, problem
from cure.dashboard.rules import may
from shared.errors import ActRefusedError
from shared.models.acts import PourEnd, PourStart, TakeBack, instant
from shared.models.base import Ms
from shared.models.setup import BaySettings
from shared.ports import BoardRow
from shared.shifts import day_of, hour_of

POUR_NAME: Final = re.compile(r"^[a-z0-9-]{1,48}$")
Make = Callable[[Asked, BaySettings, BoardRow | None], PourStart | TakeBack | PourEnd]
LONGEST_WHY: Final = 150
TIME: Final = re.compile(r"^([01]\d|2[0-3]):[0-5]\d$")


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/pour/{bay}"): lambda asked: _page(parts, asked),
        ("POST", "/pour/{bay}/start"): lambda asked: _act(parts, asked, _start),
        ("POST", "/pour/{bay}/take-back"): lambda asked: _act(parts, asked, _take_back),
        ("POST", "/pour/{bay}/end"): lambda asked: _act(parts, asked, _end),
    }


def earlier_ms(asked: Asked, name: str = "earlier") -> Ms | None:
    """Return the newest such hour of the site's day that has been; None: nobody said that it was earlier.

    Raises:
        ActRefusedError: what was said is no time of day.
    """
    said = asked.one(name)
    if not said:
        return None
    if not TIME.match(said):
        raise ActRefusedError(f"{said!r} is no time of day, such as 07:40")
    zone, today = asked.site.site.zone, day_of(asked.now, asked.site.site.zone)
    at_ms = hour_of(today, said, zone)
    return at_ms if at_ms <= asked.now else hour_of(today - timedelta(days=1), said, zone)


def _page(parts: Parts, asked: Asked, wrong: str = "") -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    placing = row is not None and row.pour.end_ms is None
    name = f"{bay.id}-{day_of(asked.now, asked.site.site.zone):%y%m%d}"
    return page(
        asked,
        "pour.html",
        status=422 if wrong else 200,
        bay=bay,
        row=row,
        placing=placing,
        name=name,
        wrong=wrong,
        may_end=may("POST", "/pour/{bay}/end", asked.visitor.comer),
    )


def _act(parts: Parts, asked: Asked, make: Make) -> Response:
    return carried_out(parts, asked, partial(make, asked), partial(_page, parts, asked))


def _start(asked: Asked, bay: BaySettings, row: BoardRow | None) -> PourStart:
    # The form says which pour was open when it was made: a second press must not begin another over the first.
    if asked.one("open") != ("" if row is None else row.pour.id):
        raise ActRefusedError(f"another pour has begun in bay {bay.id} meanwhile")
    name = asked.one("name")
    if not POUR_NAME.match(name):
        raise ActRefusedError(f"{name!r} cannot be a pour's name: a-z, 0-9 and -, at most 48")
    at_ms = earlier_ms(asked)
    happened = None if at_ms is None else instant(at_ms)
    return PourStart(at=instant(asked.now), who=str(asked.visitor.person), bay=bay.id, pour=name, happened=happened)


def _take_back(asked: Asked, bay: BaySettings, row: BoardRow | None) -> TakeBack:
    if row is None or asked.one("open") != row.pour.id:
        raise ActRefusedError(f"this pour is not open in bay {bay.id} any more")
    if asked.one("sure") != "yes":
        raise ActRefusedError("nothing is taken back before the box is ticked")
    why = asked.one("why").strip()
    if not 0 < len(why) <= LONGEST_WHY or not why.isprintable():
        raise ActRefusedError(f"say why, in one line of at most {LONGEST_WHY} signs")
    return TakeBack(at=instant(asked.now), who=str(asked.visitor.person), pour=row.pour.id, why=why)


def _end(asked: Asked, bay: BaySettings, row: BoardRow | None) -> PourEnd:
    if row is None or asked.one("open") != row.pour.id:
        raise ActRefusedError(f"this pour is not open in bay {bay.id} any more")
    at_ms = earlier_ms(asked)
    happened = None if at_ms is None else instant(at_ms)
    return PourEnd(at=instant(asked.now), who=str(asked.visitor.person), pour=row.pour.id, happened=happened)
