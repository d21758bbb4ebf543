"""The daily log for the site diary, to be read and printed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.diary import deeds, ends_of, measured
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rendering import page
from cure.dashboard.standings import standings
from cure.dashboard.told import told
from shared.models.base import Ms, PourId
from shared.shifts import day_of


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {("GET", "/diary"): lambda asked: _diary(parts, asked)}


def _day_of(asked: Asked) -> date:
    """Return the day of the query; today, when it names none."""
    today = day_of(asked.now, asked.site.site.zone)
    try:
        return min(date.fromisoformat(asked.query.get("day", "")), today)
    except ValueError:
        return today


def _pours(parts: Parts, ends: tuple[Ms, Ms]) -> list[PourId]:
    """Return the pours that are open, or of which something was said on the day."""
    said = [m.pour for m in parts.board.messages() if m.pour and ends[0] <= m.at_ms < ends[1]]
    return list(dict.fromkeys([*(row.pour.id for row in parts.board.board() if row.pour.start_ms < ends[1]), *said]))


def _diary(parts: Parts, asked: Asked) -> Response:
    zone, day = asked.site.site.zone, _day_of(asked)
    ends, stands = ends_of(day, zone), standings(parts.board, parts.board.board(), asked.site, asked.now)
    decided = [m for m in parts.board.messages() if m.kind in RECORDED and ends[0] <= m.at_ms < ends[1]]
    earlier, later = day - timedelta(days=1), day + timedelta(days=1)
    return page(
        asked,
        "diary.html",
        day=day,
        earlier=earlier,
        later=later if later <= day_of(asked.now, zone) else None,
        whole=ends[1] <= asked.now,
        hour=asked.reader.whole_hour(asked.now),
        measured=list(measured([parts.look(pour) for pour in _pours(parts, ends)], ends, asked.reader)),
        decided=[told(m, (), stands(m), asked.site, m.at_ms, asked.reader, parts.texts) for m in decided],
        deeds=deeds(parts.board.acts(), ends, asked.reader),
    )
