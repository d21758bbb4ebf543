"""The answer to what is asked before a pour: one function for command, page and interface. Pure.

It changes and releases nothing: every hour is expected.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from cure.forecast import HORIZON_H, Weather
from cure.plan_case import Heat, Needs, Told, judged_by, rule_of, work_of
from cure.plan_limits import FARTHEST_D, MOST_STARTS, USUAL
from cure.plan_request import Case, Request, check
from cure.plan_request import Sequence as Sequel
from cure.plan_sets import Sequenced, Standing, Yard, yard_of
from cure.plan_weather import days_alike
from cure.planned import MEMBERS, Judged, foreseen
from cure.planner import (
    Foresee,
    Found,
    Offer,
    Protection,
    Question,
    Tried,
    best_start,
    least_protection,
    protected,
    tried,
)
from cure.turnaround import Chain, Next, Site, chain
from shared.errors import PlanError
from shared.models.acts import ms
from shared.models.base import DAY_MS, HOUR_MS, BayId, Ms, Operation
from shared.models.decisions import RequirementEdit
from shared.models.requirement import AllRule
from shared.models.setup import Setup
from shared.shifts import running_or_next


@dataclass(frozen=True, slots=True)
class Ground:
    """What the site says beside what is asked."""

    setup: Setup
    """With the calibrations that count now."""
    edits: Callable[[BayId], Sequence[RequirementEdit]]
    """What the engineer wrote for a bay."""
    weather: Callable[[tuple[Ms, Ms]], Weather]
    """From an hour to another, where no days are told. Raises `PlanError` where there is none."""
    sets: Callable[[], Standing]
    now_ms: Ms
    members: int = MEMBERS

    @property
    def foresee(self) -> Foresee:
        """What tells the hours of pours."""
        return partial(foreseen, members=self.members)


@dataclass(frozen=True, slots=True)
class Planned:
    """The answer."""

    what: Tried | Found | Chain
    """One case, a search, or a sequence."""
    rule: AllRule
    """The requirement of its operation."""
    weather: Weather
    alike: bool
    """Whether the days are those that were told; else the weather is the site's."""
    notes: tuple[str, ...] = ()
    """Of a sequence: what was taken to be so of its form sets, and why its weather is wider than it might be."""

    @property
    def shown(self) -> Tried | None:
        """The case that is drawn; None: it is a sequence."""
        if isinstance(self.what, Chain):
            return None
        return self.what.nearest if isinstance(self.what, Found) else self.what


@dataclass(frozen=True, slots=True)
class _Asked:
    request: Request
    ground: Ground
    weather: Weather

    @property
    def by(self) -> Protection:
        said = self.request
        on_h = USUAL["cover_on_h"] if said.cover_on_h is None else said.cover_on_h
        return Protection(said.cover_r, on_h, said.cover_for_h, said.below_c, said.below_for_h)

    @property
    def operation(self) -> Operation:
        return Operation(self.request.operation)

    def told(self, bay: BayId, start_ms: Ms) -> Told:
        said = self.request
        of = (said.pour_h, said.placing_c, said.thickness_mm, said.mix)
        return Told(bay, start_ms, *of, _heat(said), _needs(said))

    def judged(self, told: Told) -> Judged:
        return judged_by(self.ground.setup, told, self.ground.edits(told.bay))


def answer(request: Request, ground: Ground, spell: Callable[[str], str] = str) -> Planned:
    """Return the answer.

    Args:
        request: what is asked.
        ground: what the site says beside it.
        spell: how a field is called where it was asked.

    Raises:
        PlanError: nothing can be foreseen, something of the request would not be reckoned with, or there is no weather.
        StoreError: the site's stores cannot be read.
    """
    check(request, spell)
    weather = _weather(request, ground)
    asked = _Asked(request, ground, weather)
    told = asked.told(BayId(request.bay), request.start_ms)
    judged = asked.judged(told)
    rule = rule_of(judged, asked.operation)
    alike = request.low_c is not None
    if request.sequence is not None:
        found, notes = _chained(asked, request.sequence)
        return Planned(found, rule, weather, alike, (*notes, *weather.doubts))
    return Planned(_one(asked, told, judged), rule, weather, alike)


def _heat(said: Case) -> Heat | None:
    if said.cement is None or said.binder_kg is None or said.water_binder is None:
        return None
    return Heat(said.cement, said.binder_kg, said.water_binder, said.fly_ash or 0.0, said.slag or 0.0)


def _needs(said: Case) -> Needs | None:
    if said.needs_h is None or said.needs_c is None or said.needs_mpa is None:
        return None
    return Needs(Operation(said.operation), said.needs_h, said.needs_c, said.needs_mpa)


def _weather(request: Request, ground: Ground) -> Weather:
    """Return the weather of what is asked. Raises `PlanError` where there is none, or for an hour that is far away."""
    starts = [request.start_ms]
    if request.window is not None:
        starts.append(ms(request.window.until))
    free: list[Ms] = []
    if request.sequence is not None:
        starts += [ms(link.start) for link in request.sequence.then]
        free = [ms(one.free) for one in request.sequence.sets if one.free is not None]
    wanted = [] if request.wanted is None else [ms(request.wanted)]
    if any(not abs(at_ms - ground.now_ms) <= FARTHEST_D * DAY_MS for at_ms in (*starts, *free, *wanted)):
        raise PlanError("a plan is of pours within a year")
    # A chain that the cold breaks goes on for days.
    horizon_h = HORIZON_H * (1 if request.sequence is None else 2) + 25
    hours = request.start_ms, max(starts) + horizon_h * HOUR_MS
    if request.low_c is None or request.high_c is None:
        return ground.weather(hours)
    wind = USUAL["wind_m_s"] if request.wind_m_s is None else request.wind_m_s
    zone, issued_ms = ground.setup.site.site.zone, min(ground.now_ms, request.start_ms)
    return days_alike(request.low_c, request.high_c, wind, zone, hours, issued_ms)


def _one(asked: _Asked, told: Told, judged: Judged) -> Tried | Found:
    request, foresee = asked.request, asked.ground.foresee
    work = work_of(asked.ground.setup, told, asked.weather)
    wanted_ms = None if request.wanted is None else ms(request.wanted)
    question = Question(judged, asked.operation, wanted_ms, request.chance)
    if request.least is not None:
        offer = Offer(cover_on_h=asked.by.cover_on_h)
        covers, heatings = request.least.covers, request.least.heatings
        offer = offer if covers is None else replace(offer, covers_m2_k_per_w=covers)
        offer = offer if heatings is None else replace(offer, below_c=heatings)
        return least_protection(work, question, offer, foresee)
    if request.window is not None:
        starts = _starts(asked, ms(request.window.until), round(request.window.every_h * HOUR_MS))
        return best_start(work, asked.by, question, starts, foresee)
    return tried([(work, asked.by)], question, foresee)[0]


def _starts(asked: _Asked, last_ms: Ms, every_ms: Ms) -> list[Ms]:
    """Return the hours of the window in which somebody is at work. Raises `PlanError` where there is none."""
    first_ms, of = asked.request.start_ms, asked.ground.setup.site.site
    if not 0 <= (last_ms - first_ms) // every_ms < MOST_STARTS:
        raise PlanError(f"a window ends after it begins, and has at most {MOST_STARTS} starts")
    every = range(first_ms, last_ms + 1, every_ms)
    found = [t for t in every if running_or_next(t, of.shift, of.zone).begins_ms <= t]
    if not found:
        raise PlanError("nobody is at work in this window: the shift stands in the site file")
    return found


def _chained(asked: _Asked, sequel: Sequel) -> tuple[Chain, tuple[str, ...]]:
    request, ground = asked.request, asked.ground
    site = ground.setup.site
    pours = [
        (BayId(request.bay), request.start_ms),
        *((BayId(link.bay), ms(link.start)) for link in sequel.then),
    ]
    links = []
    for bay, start_ms in pours:
        told = asked.told(bay, start_ms)
        work, judged = protected(work_of(ground.setup, told, asked.weather), asked.by), asked.judged(told)
        rule_of(judged, asked.operation)
        links.append(Next(bay, work, judged, asked.operation))
    wanted = Sequenced([bay for bay, _ in pours], sequel.turnaround_h, request.chance, site, ground.now_ms)
    yard: Yard = yard_of(sequel.sets, ground.sets(), wanted)
    of = Site(tuple(yard.free_ms), sequel.turnaround_h, site.site.shift, site.site.zone, request.chance, yard.kept_for)
    return chain(links, of, free_ms=yard.free_ms, foresee=ground.foresee), yard.notes
