"""A bay's page, and the taps of its crew: under way, done."""

from __future__ import annotations

from collections.abc import Callable

from markupsafe import Markup
from starlette.background import BackgroundTask
from starlette.responses import Response

from cure.dashboard.accounted import accounts
from cure.dashboard.answers import empty, see_other, tag_of, tagged
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay import BayView, bay_view, waits_for_check
from cure.dashboard.board import seen
from cure.dashboard.curves import SHOWN_H
from cure.dashboard.kept import Kept
from cure.dashboard.kept_curves import KeptCurves
from cure.dashboard.protection import protected
from cure.dashboard.rendering import page, problem, render
from cure.dashboard.rules import Comer, may
from shared.errors import ActRefusedError
from shared.models.acts import Act, Done, UnderWay, instant
from shared.models.decisions import Placement
from shared.models.setup import BaySettings
from shared.ports import BoardRow


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    words, drawn = Kept[tuple[BayView, str]](), KeptCurves(parts.look)
    return {
        ("GET", "/bay/{bay}"): lambda asked: _bay(parts, words, drawn, asked),
        ("GET", "/bay/{bay}/part"): lambda asked: _again(parts, words, asked),
        ("POST", "/bay/{bay}/under-way"): lambda asked: _tap(parts, asked, UnderWay),
        ("POST", "/bay/{bay}/done"): lambda asked: _tap(parts, asked, Done),
    }


def found(parts: Parts, asked: Asked) -> tuple[BaySettings | None, BoardRow | None]:
    """Return the bay of a path with its open pour."""
    name = asked.path["bay"]
    bay = next((b for b in asked.site.bay if b.id == name), None)
    row = next((r for r in parts.board.board() if r.pour.bay == name), None)
    return bay, row


def lying_in(parts: Parts, bay: BaySettings) -> list[Placement]:
    """Return where the sensors are that lie in a bay now."""
    return [p for p in parts.board.placements() if p.bay == bay.id and p.to_ms is None]


def carried_out(
    parts: Parts,
    asked: Asked,
    made: Callable[[BaySettings, BoardRow | None], Act],
    again: Callable[[str], Response],
) -> Response:
    """Carry out what a form of a bay asks for, and lead to the bay; else show the form once more, with why not.

    Args:
        parts: of the pages.
        asked: the form.
        made: the act, of the bay and its open pour; raises `ActRefusedError` for what cannot be one.
        again: shows the form with what is wrong.
    """
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    try:
        parts.apply(made(bay, row))
    except ActRefusedError as error:
        return again(asked.reader.known(str(error)))
    return see_other(f"/bay/{bay.id}")


def _bay(parts: Parts, words: Kept[tuple[BayView, str]], kept: KeptCurves, asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    comer = asked.visitor.comer
    if comer == Comer.NOBODY:
        # From the code on the bay's sign: STOP is for everybody, the evidence is not.
        return page(asked, "bay_stranger.html", bay=bay)
    view, part = _part(parts, words, asked, bay, row)
    shown_h = asked.query.get("hours", "")
    drawn, newer = (None, None) if row is None else kept.of(row, asked.reader, shown_h, asked.now)
    answer = page(
        asked,
        "bay.html",
        view=view,
        part=Markup(part),  # noqa: S704 - a part of ours, escaped already
        tag=tag_of(part),
        hour=asked.reader.clock(asked.now),
        curves=() if drawn is None else drawn.charts,
        drawn="" if drawn is None else asked.reader.clock(drawn.at_ms),
        hours=SHOWN_H,
        shown_h=shown_h if shown_h in SHOWN_H else "",
        sensors=lying_in(parts, bay),
        accounts=accounts(None if row is None else row.state.estimate, asked.reader, asked.now),
        may_loggers=may("GET", "/logger/{logger}", comer),
        protection=None if row is None else protected(row, asked.reader, asked.now),
        may_tap=may("POST", "/bay/{bay}/done", comer),
        may_tickets=may("GET", "/tickets/{bay}", comer),
        may_pour=may("GET", "/pour/{bay}", comer),
        may_sign=may("GET", "/sign", comer),
        may_lift=may("POST", "/holds/{bay}", comer),
        may_check=may("GET", "/check/{bay}", comer) and waits_for_check(asked.site, row),
    )
    answer.background = None if newer is None else BackgroundTask(newer)
    return answer


def _part(
    parts: Parts, kept: Kept[tuple[BayView, str]], asked: Asked, bay: BaySettings, row: BoardRow | None
) -> tuple[BayView, str]:
    doubted, reader = bool(parts.board.doubts()), asked.reader
    may_tap = may("POST", "/bay/{bay}/done", asked.visitor.comer)
    at = None if row is None else seen(row, asked.site, asked.now, doubted=doubted)

    def worded() -> tuple[BayView, str]:
        view = bay_view(bay, row, asked.site, asked.now, reader, doubted=doubted)
        return view, render(asked, "bay_part.html", view=view, may_tap=may_tap)

    # A form carries its visitor's secret.
    key = bay.id, reader.language, reader.first, may_tap, asked.visitor.csrf
    return kept.of(key, (row, bay, asked.site, at), worded)


def _again(parts: Parts, words: Kept[tuple[BayView, str]], asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return empty(404)
    return tagged(_part(parts, words, asked, bay, row)[1], asked.tag, asked.reader.clock(asked.now))


def _tap(parts: Parts, asked: Asked, act: type[UnderWay | Done]) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    # The page may be of an earlier pour: names of bays are used again.
    if row is None or asked.one("pour") != row.pour.id:
        raise ActRefusedError(f"pour {asked.one('pour')!r} is not open in bay {bay.id}")
    operation, who = asked.one("operation"), str(asked.visitor.person)
    if operation not in row.gates:
        raise ActRefusedError(f"{operation!r} is not an operation of this site's plan")
    parts.apply(act(at=instant(asked.now), who=who, pour=row.pour.id, operation=operation))
    return see_other(f"/bay/{bay.id}")
