"""The planner for other software: the hours of pours that have not happened yet, as command and page tell them."""

from collections.abc import Callable
from datetime import datetime
from threading import Lock
from typing import Annotated, Any, cast

from fastapi import Query
from pydantic import BaseModel

from cure.dashboard import api_views as views
from cure.dashboard.api_door import ApiParts, CallerIn, ProblemError
from cure.dashboard.planning import answered
from cure.dashboard.rules import API
from cure.plan_answer import Planned
from cure.plan_report import EXPECTED, finite
from cure.plan_request import Case, Request
from cure.planner import Found, Tried
from cure.turnaround import Cause, Chain
from shared.errors import PlanError
from shared.models.setup import SiteFile

# Without `from __future__ import annotations`: FastAPI reads the types that are made here, per route.


class HoursAnswer(BaseModel):
    """Of one operation. EXPECTED, NOT RELEASED; null: not within what is foreseen."""

    p10: datetime | None
    p50: datetime | None
    p90: datetime | None
    waits_for: dict[str, float]
    """Share of cases in which each comes last: clock hours, cold hours, strength."""
    spread: dict[str, float]
    """Share of the spread that each explains: weather, heat model, mix."""


class ProtectionAnswer(BaseModel):
    """What keeps a slab warm; hours count from the end of its pour."""

    cover_m2_k_per_w: float
    cover_on_h: float
    cover_for_h: float | None
    """Null: until further notice."""
    below_c: float | None
    """To which the space below is heated; null: it is not."""
    below_for_h: float | None
    """Null: until further notice."""


class CaseAnswer(BaseModel):
    """A pour that has not happened yet. EXPECTED, NOT RELEASED."""

    bay: str
    start: datetime
    thickness_mm: float
    placing_c: float
    protection: ProtectionAnswer
    operation: str
    wanted: datetime | None
    chance: float | None
    """That it is met by the wanted hour."""
    wanted_chance: float
    by_the_chance: datetime | None
    """When it is expected to be met with the wanted chance; null: not within what is foreseen."""
    meets: bool
    """Whether it meets the wanted hour with that chance, or has an hour at all where none is wanted, without frost."""
    frost: float
    """Chance that a point freezes before 3.5 MPa."""
    horizon: datetime
    """Nothing is said of later hours."""
    expected: dict[str, HoursAnswer]
    notes: list[str]


class Said(BaseModel):
    """What stands beside every plan."""

    said: str
    weather: str
    caution: str


class PlanAnswer(CaseAnswer, Said):
    """A pour that has not happened yet."""


class SearchAnswer(BaseModel):
    """What a search came to."""

    best: CaseAnswer | None
    """Null: nothing that was tried meets it."""
    nearest: CaseAnswer
    tried: list[CaseAnswer]
    """In the order in which they were tried."""


class TurnAnswer(BaseModel):
    """One pour of a sequence. EXPECTED, NOT RELEASED; null: not within what is foreseen."""

    bay: str
    form_set: str
    planned: datetime
    start: datetime | None
    waits_h: float | None
    """Hours by which it starts later than planned."""
    late_h: dict[str, float | None]
    """Of them, by sets and shifts, by strength that is as slow at 20 degC, by the cold; null: it keeps it from
    starting at all."""
    strip: datetime | None
    set_free: datetime | None
    frost: float | None
    """Chance that a point freezes before 3.5 MPa."""


class SequenceAnswer(BaseModel):
    """Form sets over a sequence of pours."""

    pours: list[TurnAnswer]
    cold_breaks_at: str | None
    """The first bay that the cold makes late; null: it breaks nowhere."""
    late_at: dict[str, str | None]
    """The first bay that each cause makes late."""
    short: str | None
    """The set for which pours wait longest; null: none waits."""
    waits_h: dict[str, float | None]
    """Hours for which pours wait for each set; null: it is not free again."""
    notes: list[str]
    """What was taken to be so of the sets, and why the hours are wider than they might be."""


class PlannedAnswer(Said):
    """One of the three, as it was asked."""

    case: CaseAnswer | None = None
    search: SearchAnswer | None = None
    sequence: SequenceAnswer | None = None


def plans(api: ApiParts) -> dict[tuple[str, str], Callable[..., Any]]:
    """Return what answers the planner's routes."""
    searching = Lock()

    def found(caller: CallerIn, request: Request) -> Planned:
        try:
            return answered(api.parts, caller.site, request, caller.now)
        except PlanError as error:
            raise ProblemError(422, caller.reader.known(str(error))) from error

    def plan(caller: CallerIn, case: Annotated[Case, Query()]) -> PlanAnswer:
        """Expected hours of a pour in the site's weather, or in days all alike. It changes and releases nothing."""
        told = found(caller, Request.model_validate(case.model_dump(exclude_unset=True)))
        # In an address one case alone can be asked of.
        return PlanAnswer(**_said(told, api.caution), **dict(_case(cast("Tried", told.what), caller.site)))

    def planned(caller: CallerIn, asked: Request) -> PlannedAnswer:
        """One case, or one of least protection, best start in a window, and form sets over a sequence of pours.

        It changes and releases nothing.
        """
        # A search takes seconds of a processor that pages and intake need too.
        if not searching.acquire(blocking=False):
            raise ProblemError(503, "another plan is being worked out: ask again", {"Retry-After": "10"})
        try:
            told = found(caller, asked)
        finally:
            searching.release()
        return PlannedAnswer(**_said(told, api.caution), **_what(told, caller.site))

    return {("GET", f"{API}/plan"): plan, ("POST", f"{API}/plan"): planned}


def _said(told: Planned, caution: str) -> dict[str, str]:
    return {"said": EXPECTED, "weather": told.weather.source, "caution": caution}


def _what(told: Planned, site: SiteFile) -> dict[str, Any]:
    match told.what:
        case Chain():
            return {"sequence": _sequence(told.what, told.notes, site)}
        case Found():
            best = None if told.what.best is None else _case(told.what.best, site)
            tried = [_case(one, site) for one in told.what.tried]
            return {"search": SearchAnswer(best=best, nearest=_case(told.what.nearest, site), tried=tried)}
    return {"case": _case(told.what, site)}


def _sequence(chain: Chain, notes: tuple[str, ...], site: SiteFile) -> SequenceAnswer:
    pours = [
        TurnAnswer(
            bay=turn.bay,
            form_set=turn.form_set,
            planned=views.hour(turn.planned_ms, site),
            start=views.maybe_hour(turn.start_ms, site),
            waits_h=turn.waits_h,
            late_h={str(cause): finite(hours) for cause, hours in turn.late_h.items()},
            strip=views.maybe_hour(turn.ready_ms, site),
            set_free=views.maybe_hour(turn.free_ms, site),
            frost=turn.frost,
        )
        for turn in chain.turns
    ]
    late = {str(cause): None if (turn := chain.first_late(cause)) is None else str(turn.bay) for cause in Cause}
    return SequenceAnswer(
        pours=pours,
        cold_breaks_at=late[str(Cause.COLD)],
        late_at=late,
        short=chain.short,
        waits_h={name: finite(hours) for name, hours in chain.waits_h().items()},
        notes=list(notes),
    )


def _case(one: Tried, site: SiteFile) -> CaseAnswer:
    expected = {
        operation: HoursAnswer(
            p10=views.maybe_hour(of.at(0.1), site),
            p50=views.maybe_hour(of.at(0.5), site),
            p90=views.maybe_hour(of.at(0.9), site),
            waits_for={str(g): share for g, share in of.governs.items()},
            spread={str(s): share for s, share in of.spread.items()},
        )
        for operation, of in one.forecast.expected.items()
    }
    by = one.protection
    return CaseAnswer(
        bay=one.work.pour,
        start=views.hour(one.start_ms, site),
        thickness_mm=one.work.thickness_mm,
        placing_c=one.work.placing_c,
        protection=ProtectionAnswer(**{name: getattr(by, name) for name in ProtectionAnswer.model_fields}),
        operation=one.operation,
        wanted=views.maybe_hour(one.wanted_ms, site),
        chance=one.chance,
        wanted_chance=one.wanted_chance,
        by_the_chance=views.maybe_hour(one.ready_ms, site),
        meets=one.meets,
        frost=one.forecast.freezing,
        horizon=views.hour(one.forecast.horizon_ms, site),
        expected=expected,
        notes=list(one.forecast.notes),
    )
