"""The shift handover on one sheet, and taking the shift over after reading it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from pydantic import ValidationError
from starlette.responses import Response

from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import page
from cure.dashboard.rules import may
from cure.dashboard.shift import Known, Sheet, sheet
from cure.dashboard.shown import shown_of
from cure.form_sets import KIND as MOVES
from cure.taken_over import KIND as TAKINGS
from cure.taken_over import Change, change
from shared.errors import ActRefusedError
from shared.models.acts import TakeOver, instant
from shared.models.base import DAY_MS, Ms
from shared.models.setup import SiteFile

TAKE: Final = "/shift/take-over"
TAKEN_MS: Final = 3 * DAY_MS
"""Longer ago nobody has taken over a shift that runs, or the next one."""
LONGEST: Final = 150
"""Of what was said besides."""


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/shift"): lambda asked: _page(parts, asked),
        ("POST", TAKE): lambda asked: _take(parts, asked),
    }


def sheet_of(parts: Parts, site: SiteFile, now: Ms, reader: Reader) -> Sheet:
    """Return the sheet as it stands. Raises `StoreError`."""
    board = parts.board
    # Doubts first: whatever suspends every gate may be new, an older row must not stand without it.
    doubts = board.doubts()
    shown = shown_of(board, site, doubts, now)
    known = Known(shown, parts.beside.loggers().rows, board.acts_of(MOVES), parts.texts)
    return sheet(known, now, reader)


def change_of(parts: Parts, site: SiteFile, now: Ms) -> Change:
    """Return the shift that runs, or else the next one, and who has taken it over."""
    return change(parts.board.acts_of(TAKINGS, max(0, now - TAKEN_MS)), site.site.shift, site.site.zone, now)


def _page(parts: Parts, asked: Asked, wrong: str = "", status: int = 422) -> Response:
    reader, of = asked.reader, change_of(parts, asked.site, asked.now)
    found = sheet_of(parts, asked.site, asked.now, reader)
    begins, ends = (reader.hour(at_ms, asked.now) for at_ms in (of.shift.begins_ms, of.shift.ends_ms))
    return page(
        asked,
        "shift.html",
        status=status if wrong else 200,
        wrong=wrong,
        groups=[(key, entries) for key, entries in found.groups.items() if entries],
        nothing=[reader.say(f"shift-{key}") for key, entries in found.groups.items() if not entries],
        code=found.code,
        shift=reader.say("shift-of", begins=begins, ends=ends),
        taken=[(act.who, reader.hour(act.at_ms, asked.now), act.note or "") for act in of.taken],
        may_take=may("POST", TAKE, asked.visitor.comer),
        longest=LONGEST,
        hour=reader.whole_hour(asked.now),
    )


def _take(parts: Parts, asked: Asked) -> Response:
    say, note = asked.reader.say, asked.one("note")
    if asked.one("seen") != sheet_of(parts, asked.site, asked.now, asked.reader).code:
        return _page(parts, asked, say("shift-moved"), 409)
    try:
        act = TakeOver(at=instant(asked.now), who=str(asked.visitor.person), seen=asked.one("seen"), note=note or None)
        parts.apply(act)
    except ValidationError:
        return _page(parts, asked, say("shift-note-wrong", longest=LONGEST))
    except ActRefusedError as error:
        return _page(parts, asked, asked.reader.known(str(error)))
    return see_other("/shift")
