"""The daily log for the site diary, to be read and printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.diary import Deed, Measured, deeds, ends_of, measured
from cure.dashboard.reader import Reader
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rendering import page
from cure.dashboard.standings import standings
from cure.dashboard.told import Told, told
from shared.models.base import Ms
from shared.models.setup import SiteFile
from shared.ports import Which
from shared.shifts import day_of

MOST: Final = 10_000
"""Messages of one day: more than a person could have been sent."""


@dataclass(frozen=True, slots=True)
class Day:
    """What is told of one day."""

    measured: Sequence[Measured]
    decided: Sequence[Told]
    deeds: Sequence[Deed]
    whole: bool
    """Whether the day is over."""


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


def day_told(parts: Parts, site: SiteFile, day: date, now: Ms, reader: Reader) -> Day:
    """Return what is told of a day. Raises `StoreError`."""
    board, ends = parts.board, ends_of(day, site.site.zone)
    rows, said = board.board(), board.next_messages(Which(from_ms=ends[0], to_ms=ends[1]), 0, MOST)
    # Of pours that are open, or of which something was said on the day.
    pours = dict.fromkeys([*(r.pour.id for r in rows if r.pour.start_ms < ends[1]), *(m.pour for m in said if m.pour)])
    decided = [m for m in said if m.kind in RECORDED]
    stands = standings(board, rows, site, now, decided)
    return Day(
        list(measured([parts.look(pour) for pour in pours], ends, reader)),
        [told(m, (), stands(m), site, m.at_ms, reader, parts.texts) for m in decided],
        deeds(board.acts_between(*ends), ends, reader),
        whole=ends[1] <= now,
    )


def _diary(parts: Parts, asked: Asked) -> Response:
    zone, day = asked.site.site.zone, _day_of(asked)
    earlier, later = day - timedelta(days=1), day + timedelta(days=1)
    of = day_told(parts, asked.site, day, asked.now, asked.reader)
    return page(
        asked,
        "diary.html",
        day=day,
        earlier=earlier,
        later=later if later <= day_of(asked.now, zone) else None,
        whole=of.whole,
        hour=asked.reader.whole_hour(asked.now),
        measured=of.measured,
        decided=of.decided,
        deeds=of.deeds,
    )
