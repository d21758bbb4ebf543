"""Form sets over a sequence of bays: when each pour can start, where cold breaks the chain, which set is short. Pure.

A set is free again when its bay is expected to be ready to strip, with a stated chance, and a crew has taken it off and
set it up anew in working hours. Expected, not released.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cure.forecast import Slabwork
from cure.planned import Judged, foreseen
from cure.planner import Foresee, moved, start_of
from cure.requirements import clock_rule
from shared.models.base import HOUR_MS, BayId, Ms, Operation
from shared.shifts import running_or_next

NEVER_MS: Final[Ms] = 2**62


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
    by_clock_ms: Ms | None
    """When it could start were all earlier bays ready by the clock hours alone."""

    @property
    def waits_h(self) -> float | None:
        """Hours by which it starts later than planned; None: it does not start."""
        return None if self.start_ms is None else max(0.0, (self.start_ms - self.planned_ms) / HOUR_MS)

    @property
    def lost_to_cold_h(self) -> float | None:
        """Hours by which it starts later than the clock hours of the bays before would let it; None: no start."""
        if self.start_ms is None or self.by_clock_ms is None:
            return None
        return max(0.0, (self.start_ms - self.by_clock_ms) / HOUR_MS)


@dataclass(frozen=True, slots=True)
class Chain:
    """A whole sequence."""

    turns: tuple[Turn, ...]

    @property
    def breaks_at(self) -> Turn | None:
        """The first pour that the cold makes late; None: it breaks nowhere."""
        return next((t for t in self.turns if t.start_ms is None or (t.lost_to_cold_h or 0.0) > 0.0), None)

    @property
    def short(self) -> str | None:
        """The set for which pours wait longest; None: none waits."""
        waits: dict[str, float] = {}
        for turn in self.turns:
            hours = float("inf") if turn.waits_h is None else turn.waits_h
            waits[turn.form_set] = waits.get(turn.form_set, 0.0) + hours
        longest = max(waits, key=lambda name: waits[name], default=None)
        return longest if longest is not None and waits[longest] > 0.0 else None


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


@dataclass(slots=True)
class _Yard:
    """When each set is free, and when the pour before began."""

    free_ms: dict[str, Ms | None]
    before_ms: Ms | None = 0

    def start(self, name: str, planned_ms: Ms, site: Site) -> Ms | None:
        free_ms = self.free_ms[name]
        if free_ms is None or self.before_ms is None:
            return None
        return after_work(max(planned_ms, free_ms, self.before_ms), 0.0, site.shift, site.zone)

    def first(self) -> str:
        """Return the set that is free first; of equals the first named."""
        return min(self.free_ms, key=lambda name: NEVER_MS if (at := self.free_ms[name]) is None else at)


def chain(
    pours: Sequence[Next], site: Site, *, free_ms: dict[str, Ms] | None = None, foresee: Foresee = foreseen
) -> Chain:
    """Return how a sequence of pours comes out; each starts no earlier than planned, nor than the one before.

    Args:
        pours: in their order.
        site: sets, crew and shift.
        free_ms: when each set is free at first; one that is not named, or None: from the start on.
        foresee: tells the hours of pours.
    """
    cold = _Yard({name: (free_ms or {}).get(name, 0) for name in site.sets})
    clock = _Yard(dict(cold.free_ms))
    turns = []
    for of in pours:
        name = of.form_set or cold.first()
        by_name = of.form_set or clock.first()
        planned_ms = start_of(of.work)
        start_ms, by_clock_ms = cold.start(name, planned_ms, site), clock.start(by_name, planned_ms, site)
        ready_ms = None if start_ms is None else _ready_ms(of, start_ms, site, foresee)
        cold.free_ms[name], cold.before_ms = _free_ms(ready_ms, site), start_ms
        if by_clock_ms is not None:
            clock.free_ms[by_name] = _free_ms(_clock_ready_ms(of, by_clock_ms), site)
            clock.before_ms = by_clock_ms
        turns.append(Turn(of.bay, name, planned_ms, start_ms, ready_ms, cold.free_ms[name], by_clock_ms))
    return Chain(tuple(turns))


def _ready_ms(of: Next, start_ms: Ms, site: Site, foresee: Foresee) -> Ms | None:
    told = foresee([moved(of.work, start_ms)], [of.judged])[0].expected.get(of.strip)
    return None if told is None else told.at(site.chance)
