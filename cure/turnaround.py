"""Form sets over a sequence of bays: when each pour can start, where cold breaks the chain, which set is short. Pure.

A set is free again when its bay is expected to be ready to strip, with a stated chance, and a crew has taken it off and
set it up anew in working hours. Expected, not released.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from cure.forecast import HORIZON_H, Forecast, Slabwork
from cure.foresee import SHORTEST_H
from cure.plan_weather import in_warm_air
from cure.planned import Judged, foreseen
from cure.planner import Foresee, moved, start_of
from cure.requirements import clock_rule
from shared.models.base import HOUR_MS, BayId, Ms, Operation
from shared.shifts import running_or_next

NEVER_MS: Final[Ms] = 2**62
WARM_C: Final = 20.0
"""Air in which nothing is lost to cold: what is late in it too is late by itself."""
HARDLY_H: Final = 0.1
"""Fewer hours than this break nothing: an ensemble says no less (our judgement)."""


class Cause(StrEnum):
    """Why a pour starts later than planned."""

    SETS = "sets and shifts"
    """Also were every bay before it ready by its clock hours."""
    STRENGTH = "strength at 20 degC"
    """Also in air of 20 degC: the strength takes longer than the clock."""
    COLD = "cold"
    """Not in air of 20 degC."""
    UNFORESEEN = "weather not known"
    """The weather ends before the bay that has its set, or the pour before it, is ready."""


@dataclass(frozen=True, slots=True)
class Site:
    """What the chain hangs on beside the concrete."""

    sets: tuple[str, ...]
    """The form sets, each of which carries one bay."""
    turnaround_h: float
    """Working hours to strip a set, move it and set it up."""
    shift: str
    zone: str
    chance: float = 0.8
    """With which a bay is taken to be ready."""
    kept_for: Mapping[BayId, str] = field(default_factory=dict)
    """Bays that have their set already, or that one waits for: no pour before has it while there is another set."""

    def __post_init__(self) -> None:
        if not (self.sets and 0.0 <= self.turnaround_h <= 240.0 and 0.0 < self.chance < 1.0):
            raise ValueError("one set or more, 0 to 240 working hours, a chance between 0 and 1")


@dataclass(frozen=True, slots=True)
class Next:
    """One pour of the sequence as it is planned."""

    bay: BayId
    work: Slabwork
    """At its planned start."""
    judged: Judged
    strip: Operation
    """What frees its forms."""
    form_set: str | None = None
    """None: the one that is free first."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One pour of the sequence as it comes out."""

    bay: BayId
    form_set: str
    planned_ms: Ms
    start_ms: Ms | None
    """None: its set is not free within what is foreseen."""
    ready_ms: Ms | None
    """Expected hour to strip."""
    free_ms: Ms | None
    """When its set can carry the next bay."""
    late_h: Mapping[Cause, float]
    """Hours by which it starts later than planned, for each cause; infinite: it does not start within what is
    foreseen, and this is why."""
    for_its_set: bool
    """Whether it is its set that it waits for, and not the pour before it, nor the shift."""
    frost: float | None = None
    """Chance of frost in its young concrete; None: it does not start, or the weather ends."""

    @property
    def waits_h(self) -> float | None:
        """Hours by which it starts later than planned; None: it does not start."""
        return None if self.start_ms is None else max(0.0, (self.start_ms - self.planned_ms) / HOUR_MS)

    @property
    def lost_to_cold_h(self) -> float | None:
        """Hours of them that the cold takes, as against air of 20 degC; None: no start."""
        return None if self.start_ms is None else self.late_h[Cause.COLD]


@dataclass(frozen=True, slots=True)
class Chain:
    """A whole sequence."""

    turns: tuple[Turn, ...]

    def first_late(self, cause: Cause) -> Turn | None:
        """Return the first pour that a cause makes late; None: there is none."""
        return next((turn for turn in self.turns if turn.late_h[cause] >= HARDLY_H), None)

    @property
    def breaks_at(self) -> Turn | None:
        """The first pour that the cold makes late; None: it breaks nowhere."""
        return self.first_late(Cause.COLD)

    def waits_h(self) -> Mapping[str, float]:
        """Return the hours for which pours wait for each set; infinite: for one that is not free again."""
        waits: dict[str, float] = {}
        for turn in self.turns:
            if turn.for_its_set:
                hours = math.inf if turn.waits_h is None else turn.waits_h
                waits[turn.form_set] = waits.get(turn.form_set, 0.0) + hours
        return waits

    @property
    def short(self) -> str | None:
        """The set for which pours wait longest; None: none waits."""
        waits = self.waits_h()
        return max(waits, key=lambda name: waits[name], default=None)


def after_work(at_ms: Ms, hours: float, shift: str, zone: str) -> Ms:
    """Return the hour at which so many working hours from an hour on are done; for 0 the next working hour."""
    left_ms = round(hours * HOUR_MS)
    while True:
        now = running_or_next(at_ms, shift, zone)
        at_ms = max(at_ms, now.begins_ms)
        if left_ms < now.ends_ms - at_ms or left_ms == 0:
            return at_ms + left_ms
        left_ms -= now.ends_ms - at_ms
        at_ms = now.ends_ms


def _free_ms(ready_ms: Ms | None, site: Site) -> Ms | None:
    return None if ready_ms is None else after_work(ready_ms, site.turnaround_h, site.shift, site.zone)


def _clock_ready_ms(of: Next, start_ms: Ms) -> Ms:
    work = moved(of.work, start_ms)
    rule = clock_rule(of.judged.requirements[of.strip])
    return work.end_ms + round((0.0 if rule is None else rule.counted_h) * HOUR_MS)


@dataclass(frozen=True, slots=True)
class _Ready:
    """When a bay is ready to strip."""

    at_ms: Ms | None = None
    weather_ends: bool = False
    """Whether it is not known because the weather ends."""
    frost: float | None = None


@dataclass(slots=True)
class _Yard:
    """When each set is free, and when the pour before began."""

    free_ms: dict[str, Ms | None]
    before_ms: Ms | None = 0
    unforeseen: set[str] = field(default_factory=set)
    """Sets whose bay is not ready before the weather ends."""

    def start(self, name: str, planned_ms: Ms, site: Site) -> Ms | None:
        free_ms = self.free_ms[name]
        if free_ms is None or self.before_ms is None:
            return None
        return after_work(max(planned_ms, free_ms, self.before_ms), 0.0, site.shift, site.zone)

    def waits_for(self, name: str, planned_ms: Ms) -> bool:
        """Return whether a set comes later than all else that a pour waits for."""
        free_ms = self.free_ms[name]
        return self.before_ms is not None and (free_ms is None or free_ms > max(planned_ms, self.before_ms))

    def took(self, name: str, start_ms: Ms | None, ready: _Ready, site: Site) -> None:
        """Let a pour have a set."""
        self.free_ms[name], self.before_ms = _free_ms(ready.at_ms, site), start_ms
        if ready.weather_ends:
            self.unforeseen.add(name)

    def first(self, kept: AbstractSet[str]) -> str:
        """Return the set that is free first of those that are kept for nobody; of equals the first named."""
        return min(
            [n for n in self.free_ms if n not in kept] or self.free_ms,
            key=lambda name: NEVER_MS if (at := self.free_ms[name]) is None else at,
        )


def chain(
    pours: Sequence[Next],
    site: Site,
    *,
    free_ms: Mapping[str, Ms | None] = MappingProxyType({}),
    foresee: Foresee = foreseen,
) -> Chain:
    """Return how a sequence of pours comes out; each starts no earlier than planned, nor than the one before.

    It is reckoned three times: as it is foreseen, in air of 20 degC, and by the clock hours alone. What is late in all
    three is the sets' and the shifts', what is late in two the strength's, and only the rest the cold's.

    Args:
        pours: in their order.
        site: sets, crew and shift.
        free_ms: when each set is free at first; None: not within what is foreseen. One that is not named: from the
            start on.
        foresee: tells the hours of pours.
    """
    real = _Yard({name: free_ms.get(name, 0) for name in site.sets})
    mild, clock = _Yard(dict(real.free_ms)), _Yard(dict(real.free_ms))
    turns: list[Turn] = []
    kept = dict(site.kept_for)
    for of in pours:
        given = of.form_set or kept.pop(of.bay, None)
        names = [given or yard.first({*kept.values()}) for yard in (real, mild, clock)]
        planned_ms = start_of(of.work)
        starts = [yard.start(name, planned_ms, site) for yard, name in zip((real, mild, clock), names, strict=True)]
        turn = _turn(of, names[0], starts, real, turns[-1:])
        ready, at_20, by_clock = _ready(of, starts, site, foresee)
        real.took(names[0], starts[0], ready, site)
        mild.took(names[1], starts[1], at_20, site)
        clock.took(names[2], starts[2], by_clock, site)
        turns.append(replace(turn, ready_ms=ready.at_ms, free_ms=real.free_ms[names[0]], frost=ready.frost))
    return Chain(tuple(turns))


def _turn(of: Next, name: str, starts: Sequence[Ms | None], real: _Yard, before: Sequence[Turn]) -> Turn:
    """Return a pour with its start; not yet when it is ready."""
    planned_ms = start_of(of.work)
    unforeseen = name in real.unforeseen or any(math.isinf(turn.late_h[Cause.UNFORESEEN]) for turn in before)
    late_h = _late_h(planned_ms, starts, unforeseen=unforeseen)
    return Turn(of.bay, name, planned_ms, starts[0], None, None, late_h, real.waits_for(name, planned_ms))


def _late_h(planned_ms: Ms, starts: Sequence[Ms | None], *, unforeseen: bool) -> dict[Cause, float]:
    """Return the delay for each cause: starts as foreseen, at 20 degC, by the clock."""
    start, at_20, by_clock = (math.inf if at is None else float(at) for at in starts)
    sets = max(0.0, min(by_clock, start) - planned_ms)
    # What never comes is never because of the first cause that keeps it away.
    strength = 0.0 if math.isinf(sets) else max(0.0, min(at_20, start) - planned_ms - sets)
    cold = 0.0 if math.isinf(sets + strength) else start - planned_ms - sets - strength
    unknown = math.isinf(cold) and unforeseen
    late = {Cause.SETS: sets, Cause.STRENGTH: strength, Cause.COLD: 0.0 if unknown else max(0.0, cold)}
    return {**{cause: ms / HOUR_MS for cause, ms in late.items()}, Cause.UNFORESEEN: math.inf if unknown else 0.0}


def _ready(of: Next, starts: Sequence[Ms | None], site: Site, foresee: Foresee) -> tuple[_Ready, _Ready, _Ready]:
    """Return when a pour is ready with each of its starts: as foreseen, at 20 degC, by the clock."""
    start_ms, at_20_ms, by_clock_ms = starts
    real = None if start_ms is None else moved(of.work, start_ms)
    mild = None if at_20_ms is None else in_warm_air(moved(of.work, at_20_ms), WARM_C)
    # Of a pour on the last hours of the weather, or after it, nothing is foreseen.
    dark = real is not None and int(real.weather.hours_ms[-1]) < real.end_ms + SHORTEST_H * HOUR_MS
    asked = {name: work for name, work in (("real", None if dark else real), ("mild", mild)) if work is not None}
    told = dict(zip(asked, foresee(list(asked.values()), [of.judged] * len(asked)), strict=True))
    found = {name: _read(told[name], work, of.strip, site.chance) for name, work in asked.items()}
    by_clock = _Ready(None if by_clock_ms is None else _clock_ready_ms(of, by_clock_ms))
    return found.get("real", _Ready(None, weather_ends=dark)), found.get("mild", _Ready()), by_clock


def _read(told: Forecast, work: Slabwork, strip: Operation, chance: float) -> _Ready:
    expected = told.expected.get(strip)
    at_ms = None if expected is None else expected.at(chance)
    ends = at_ms is None and told.horizon_ms < work.end_ms + (HORIZON_H - 1) * HOUR_MS
    return _Ready(at_ms, ends, told.freezing)
