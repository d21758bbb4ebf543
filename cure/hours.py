"""When the rules of a requirement are met in each member of an ensemble, and what they wait for last. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from cure.forecast import Governs
from cure.going_on import Onward, crossing_h
from cure.maturity import Floats
from shared.models.base import HOUR_MS, Operation
from shared.models.requirement import AgeRule, AllRule, AnyRule, CountedRule, DoneRule, Rule, StrengthRule, WarmRule

TIMED: Final = (AgeRule, CountedRule, WarmRule, StrengthRule, DoneRule, AnyRule)
"""Rules that time may meet; of the others it is known now whether they are."""
COLD_H: Final = 0.5
"""Hours that the cold has cost before it governs."""
AGREED: Final = 6
"""Rules are asked again until none puts the hour off; so often at most: one that still does is never met."""


@dataclass(frozen=True, slots=True)
class Waits:
    """The hours from the evidence's on until rules are met, shape (members,); infinite: not within the horizon."""

    on: Onward
    plan: Mapping[Operation, Rule]
    known: dict[Rule, Floats] = field(default_factory=dict)
    """What was found of rules that stay met, as they are asked for."""

    def operation(self, operation: Operation) -> Floats:
        """Return the hours until an operation's requirement is met."""
        return self.until(self.plan[operation], np.zeros(self.on.coldest_c.shape[1]))

    def until(self, rule: Rule, from_h: Floats) -> Floats:
        """Return the first hours, not before others, at which a rule is met."""
        match rule:
            case AllRule():
                return self._all(rule, from_h)
            case AnyRule():
                ways = [self.until(way, from_h) for way in rule.any if self._is_way(way)]
                return np.asarray(np.min([np.full_like(from_h, np.inf), *ways], axis=0))
            case WarmRule():
                return self._warm(rule, from_h)
            case _:
                # The built-in max can pass over a NaN.
                return np.maximum(from_h, self._known(rule))

    def _known(self, rule: Rule) -> Floats:
        if isinstance(rule, DoneRule):
            return self._done(Operation(rule.done))
        if rule not in self.known:
            self.known[rule] = self._lasting(rule)
        return self.known[rule]

    def _lasting(self, rule: Rule) -> Floats:
        """Return when a rule is met that stays met."""
        n = self.on.coldest_c.shape[1]
        match rule:
            case AgeRule():
                end_h = (self.on.work.end_ms - self.on.earned.through_ms) / HOUR_MS
                return np.full(n, max(0.0, rule.age_h + end_h))
            case CountedRule():
                return self._counted(rule)
            case StrengthRule():
                if self.on.bound_mpa is None:
                    return np.full(n, np.inf)
                return crossing_h(self.on.bound_hours, self.on.bound_mpa, rule.lower_bound_mpa)
            case _:
                return np.zeros(n)

    def _all(self, rule: AllRule, from_h: Floats) -> Floats:
        hour = from_h
        for _ in range(AGREED):
            later = np.max([self.until(part, hour) for part in rule.all], axis=0)
            if np.array_equal(later, hour):
                return hour
            hour = later
        settled = np.max([self.until(part, hour) for part in rule.all], axis=0) == hour
        return np.asarray(np.where(settled, hour, np.inf))

    def _counted(self, rule: CountedRule) -> Floats:
        # Both ends of a step, of every required sensor.
        warm = self.on.governing_c >= rule.at_c
        counts = (warm[1:] & warm[:-1]) * np.diff(self.on.hours)[:, None]
        whole = np.concatenate((np.zeros((1, counts.shape[1])), np.cumsum(counts, axis=0)))
        so_far = self.on.earned.counted_h.get(rule.at_c, 0.0)
        return crossing_h(self.on.hours, so_far + whole, rule.counted_h)

    def _warm(self, rule: WarmRule, from_h: Floats) -> Floats:
        warm, hours = self.on.governing_c >= rule.at_c, self.on.hours
        back = max(1, round(rule.warm_h / (hours[1] - hours[0]))) if len(hours) > 1 else 1
        through = warm.copy()
        for i in range(1, back + 1):
            through[i:] &= warm[:-i]
        met = through & (hours[:, None] >= from_h[None] - 1e-9)
        first = np.argmax(met, axis=0)
        # An hour within a step at whose both ends it is met needs not wait for the next end.
        low = np.minimum(np.searchsorted(hours, from_h, side="right") - 1, len(hours) - 1)
        inside = through[low, np.arange(len(from_h))] & (hours[first] - from_h <= hours[1] - hours[0])
        at = np.where(inside, from_h, hours[first])
        return np.asarray(np.where(met.any(axis=0), at, np.inf))

    def _done(self, operation: Operation) -> Floats:
        n = self.on.coldest_c.shape[1]
        if operation in self.on.earned.done or operation not in self.plan:
            return np.zeros(n)
        # Without itself: two operations that ask for each other would never end.
        rest = {op: rule for op, rule in self.plan.items() if op != operation}
        return Waits(self.on, rest, self.known).until(self.plan[operation], np.zeros(n))

    def _is_way(self, way: Rule) -> bool:
        """Return whether nothing but time keeps a way from being met: no consent, no document, no test."""
        if isinstance(way, AllRule):
            return all(map(self._is_way, way.all))
        return isinstance(way, TIMED) or way not in self.on.earned.unmet

    def governs(self, operation: Operation) -> dict[Governs, float]:
        """Return for which share of members each is the last that an operation waits for."""
        hour = np.minimum(self.operation(operation), self.on.hours[-1])
        best, last = np.full(len(hour), np.inf), np.full(len(hour), 0)
        kinds = tuple(Governs)
        for rule in _leaves(self.plan[operation], self.plan, frozenset({operation})):
            at = np.minimum(self.until(rule, np.zeros_like(hour)), self.on.hours[-1])
            kind = np.array([kinds.index(k) for k in self._kinds(rule, at)])
            nearer = np.abs(hour - at) < best - 1e-9
            best, last = np.where(nearer, np.abs(hour - at), best), np.where(nearer, kind, last)
        # Put off beyond every rule by itself: warmth that was there and went.
        last = np.where(best > COLD_H, kinds.index(Governs.COLD), last)
        return {k: float(np.mean(last == i)) for i, k in enumerate(kinds)}

    def _kinds(self, rule: Rule, at: Floats) -> list[Governs]:
        if isinstance(rule, StrengthRule):
            return [Governs.STRENGTH] * len(at)
        if isinstance(rule, WarmRule):
            return [Governs.COLD] * len(at)
        if isinstance(rule, CountedRule):
            missing = rule.counted_h - (self.on.earned.through_ms - self.on.work.end_ms) / HOUR_MS
            return [Governs.COLD if h > missing + COLD_H else Governs.CLOCK for h in at]
        return [Governs.CLOCK] * len(at)


def _leaves(rule: Rule, plan: Mapping[Operation, Rule], seen: frozenset[Operation]) -> Iterator[Rule]:
    match rule:
        case AllRule():
            for part in rule.all:
                yield from _leaves(part, plan, seen)
        case AnyRule():
            for part in rule.any:
                yield from _leaves(part, plan, seen)
        case DoneRule():
            operation = Operation(rule.done)
            if operation in plan and operation not in seen:
                yield from _leaves(plan[operation], plan, seen | {operation})
        case AgeRule() | CountedRule() | WarmRule() | StrengthRule():
            yield rule
        case _:
            return
