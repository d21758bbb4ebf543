"""What other software reads of the days: what bays lack before a pour, what is expected, and the site diary."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import Query
from pydantic import BaseModel

from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.api_models import BayName
from cure.dashboard.board import in_order, is_stopped
from cure.dashboard.diary_pages import day_told
from cure.dashboard.expected import WAITS, expected_ms
from cure.dashboard.ready import ready
from cure.dashboard.ready_pages import known_of, waiting
from cure.dashboard.rules import API
from cure.plan_report import EXPECTED
from shared.shifts import day_of

OneBay = Annotated[BayName | None, Query(description="only this bay")]
Day = Annotated[date | None, Query(description="of the site; default: today")]


class ReadyItem(BaseModel):
    """One line of the list before a pour."""

    key: str
    there: bool
    said: str


class ReadyBay(BaseModel):
    """A bay without an open pour."""

    bay: str
    ready: bool
    """Whether nothing is missing. It releases nothing."""
    items: list[ReadyItem]


class ReadyAnswer(BaseModel):
    """What bays have and lack before they can be poured."""

    now: datetime
    bays: list[ReadyBay]
    caution: str


class ExpectedAnswer(BaseModel):
    """An operation that waits. EXPECTED, NOT RELEASED."""

    bay: str
    pour: str
    operation: str
    expected: datetime | None
    """Null: not within what is foreseen, or nobody judges it now."""


class ExpectedDay(BaseModel):
    """What is expected on one day of the site, by the hour."""

    day: date
    items: list[ExpectedAnswer]


class DaysAnswer(BaseModel):
    """The days ahead. EXPECTED, NOT RELEASED."""

    said: str
    now: datetime
    days: list[ExpectedDay]
    unknown: list[ExpectedAnswer]
    caution: str


class DeedAnswer(BaseModel):
    """One thing that a person did."""

    hour: str
    entered: str
    """When it was entered, if it had happened earlier; else ""."""
    who: str
    what: str
    said: str


class MeasuredAnswer(BaseModel):
    """The lowest and the highest reading of a pour on the day."""

    bay: str
    pour: str
    air: str
    concrete: str


class DecidedAnswer(BaseModel):
    """A decision that has a record: `records/{no}` says whether it still stands."""

    no: int
    code: str
    hour: str
    subject: str


class DiaryAnswer(BaseModel):
    """The daily log of the site, in the words of the page."""

    day: date
    whole: bool
    """Whether the day is over."""
    measured: list[MeasuredAnswer]
    decided: list[DecidedAnswer]
    deeds: list[DeedAnswer]
    caution: str


def ahead(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers which route."""
    board = api.parts.board

    def before(caller: CallerIn, bay: OneBay = None) -> ReadyAnswer:
        """What each bay without an open pour has and lacks; `acts/ready` ticks what a person has looked at."""
        site, known = caller.site, known_of(api.parts, caller.site, caller.now)
        wanted = [one for one in waiting(site, board.board()) if bay in {None, one.id}]
        lists = [(one.id, ready(one, known, caller.now, caller.reader)) for one in wanted]
        bays = [
            ReadyBay(
                bay=name,
                ready=all(i.there for i in items),
                items=[ReadyItem(key=i.key, there=i.there, said=i.said) for i in items],
            )
            for name, items in lists
        ]
        return ReadyAnswer(now=views.hour(caller.now, site), bays=bays, caution=api.caution)

    def days(caller: CallerIn) -> DaysAnswer:
        """At which hour each operation is expected, day by day."""
        site, known, unknown = caller.site, dict[date, list[tuple[int, ExpectedAnswer]]](), []
        # Doubts first: whatever suspends every gate may be new, an older row must not stand without it.
        doubted = bool(board.doubts())
        for row in board.board():
            stopped = is_stopped(row, site, caller.now, doubted=doubted)
            for op in in_order(row):
                at_ms = expected_ms(row, op, caller.now, stopped=stopped)
                hour = views.maybe_hour(at_ms, site)
                one = ExpectedAnswer(bay=row.pour.bay, pour=row.pour.id, operation=op, expected=hour)
                if at_ms is not None:
                    known.setdefault(day_of(at_ms, site.site.zone), []).append((at_ms, one))
                elif row.gates[op].state in WAITS:
                    unknown.append(one)
        by_hour = {day: sorted(found, key=lambda of: (of[0], of[1].bay)) for day, found in sorted(known.items())}
        found = [ExpectedDay(day=day, items=[one for _, one in of]) for day, of in by_hour.items()]
        now = views.hour(caller.now, site)
        return DaysAnswer(said=EXPECTED, now=now, days=found, unknown=unknown, caution=api.caution)

    def diary(caller: CallerIn, day: Day = None) -> DiaryAnswer:
        """What was measured, decided and done on a day, as the site diary has it."""
        today = day_of(caller.now, caller.site.site.zone)
        wanted = today if day is None else day
        if not date(1970, 1, 2) <= wanted <= today:
            raise ProblemError(422, "day: the diary is of today and of days before")
        of = day_told(api.parts, caller.site, wanted, caller.now, caller.reader)
        measured = [
            MeasuredAnswer(bay=one.bay, pour=one.pour, air=one.air, concrete=one.concrete) for one in of.measured
        ]
        decided = [DecidedAnswer(no=t.no, code=t.code, hour=t.hour, subject=t.subject) for t in of.decided]
        deeds = [DeedAnswer(hour=d.hour, entered=d.entered, who=d.who, what=d.what, said=d.said) for d in of.deeds]
        return DiaryAnswer(
            day=wanted, whole=of.whole, measured=measured, decided=decided, deeds=deeds, caution=api.caution
        )

    return {("GET", f"{API}/ready"): before, ("GET", f"{API}/days"): days, ("GET", f"{API}/diary"): diary}
