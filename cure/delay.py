"""When an operation may come, by plain comparison: counted hours, strength at the present rate. (The forecast comes
later, and replaces only the expected hour.) What is foreseen here is told, and is no input to a gate.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.accumulate import Law
from cure.bay import BayEvidence
from cure.bound import lower_bound_mpa
from cure.clockstart import clock_start
from cure.plans import COMMON_C
from cure.requirements import clock_rule, findings
from shared.models.base import HOUR_MS, STRIP, Ms, Operation
from shared.models.requirement import AgeRule, AllRule, AnyRule, CountedRule, DoneRule, Rule, StrengthRule

COLD_HOURS_WORTH_TELLING: Final = 1.0
"""Below the limit since the end of the pour (our judgement)."""
UNREAD_HOURS_WORTH_TELLING: Final = 0.5
STEPS_OF_A_SEARCH: Final = 256


@dataclass(frozen=True, slots=True)
class Outlook:
    """When an operation may come as things are, beside the plan's own clock hours."""

    plan_ms: Ms | None
    """None: the requirement counts no hours."""
    expected_ms: Ms | None
    """None: not while it stays as it is."""
    earliest_ms: Ms
    """By the counted hours that are missing, were it warm from now on."""
    cold: bool
    """Below the limit now, or for an hour since the end of the pour."""
    counted_h: float
    cold_h: float
    clock_h: float
    limit_c: float
    coldest_c: float
    cause: str
    """What has kept hours from counting; "" while nothing worth telling has."""
    cold_from_ms: Ms | None = None
    """When it is foreseen to get cold; None: it is cold already, or nothing of it is foreseen."""
    cautious_ms: Ms | None = None
    """By when nine forecasts in ten have it; None: not within the horizon, or nothing is foreseen."""

    @property
    def unread_h(self) -> float:
        """Hours by the clock of which it is not known whether they count."""
        return max(0.0, self.clock_h - self.counted_h - self.cold_h)

    @property
    def below(self) -> bool:
        """Whether the concrete is below the limit now."""
        return not self.coldest_c >= self.limit_c


def _hours_to_strength(evidence: BayEvidence, required_mpa: float) -> float:
    """Return the hours until the bound is there at the present temperature; infinite: never as it is.

    The sums go on at their present rates until the bound has reached it, to one 65 536th of the way to the end of the
    tested range, from which on the bound stays as it is.
    """
    governing, calibration = evidence.governing(), evidence.case.calibration
    if governing is None or calibration is None:
        return math.inf
    if evidence.lower_bound_mpa() >= required_mpa:
        return 0.0
    sensor, sums = governing
    rates = Law.of(calibration).rates(np.array([float(sensor.raw.milli_c[-1]) / 1000.0]))
    growing = rates[rates > 0.0]
    if not growing.size:
        return math.inf
    low_h, high_h = 0.0, calibration.tested_to_h / float(np.min(growing))
    for _ in range(2):
        hours = np.linspace(low_h, high_h, STEPS_OF_A_SEARCH + 1)
        there = lower_bound_mpa(sums + hours[:, None] * rates, calibration, evidence.case.mix) >= required_mpa
        if not there.any():
            return math.inf
        first = int(np.argmax(there))
        low_h, high_h = float(hours[max(0, first - 1)]), float(hours[first])
    return high_h


def _known(hours: float) -> float:
    # The built-in max can pass over a NaN; it cannot pass over this.
    return math.inf if math.isnan(hours) else max(0.0, hours)


@dataclass(frozen=True, slots=True)
class _Wait:
    """Hours until a rule may be met."""

    evidence: BayEvidence
    plan: Mapping[Operation, Rule]
    coldest_c: float
    """inf: were it warm from now on, and the strength there."""
    strengths_h: dict[float, float]
    """Hours until a strength, as they are looked for."""

    def hours(self, rule: Rule) -> float:
        match rule:
            case AgeRule():
                return _known(rule.age_h - self.evidence.age_h())
            case CountedRule():
                missing_h = rule.counted_h - self.evidence.counted_h(rule.at_c)
                return _known(missing_h) if self.coldest_c >= rule.at_c else math.inf
            case StrengthRule():
                return 0.0 if math.isinf(self.coldest_c) else self._until_strong(rule.lower_bound_mpa)
            case DoneRule():
                return self._until_done(Operation(rule.done))
            case AllRule():
                return max(map(self.hours, rule.all))
            case AnyRule():
                return min((self.hours(way) for way in rule.any if self._by_time(way)), default=math.inf)
            case _:
                return 0.0

    def _until_strong(self, mpa: float) -> float:
        if mpa not in self.strengths_h:
            self.strengths_h[mpa] = _known(_hours_to_strength(self.evidence, mpa))
        return self.strengths_h[mpa]

    def _until_done(self, operation: Operation) -> float:
        if self.evidence.done(operation) or operation not in self.plan:
            return 0.0
        # Without itself: two operations that ask for each other would never end.
        rest = {op: c for op, c in self.plan.items() if op != operation}
        return _Wait(self.evidence, rest, self.coldest_c, self.strengths_h).hours(self.plan[operation])

    def _by_time(self, way: Rule) -> bool:
        """Return whether nothing but time keeps a way from being met: no consent, no document, no test."""
        if isinstance(way, AllRule):
            return all(map(self._by_time, way.all))
        timed = isinstance(way, AgeRule | CountedRule | StrengthRule | DoneRule | AnyRule)
        return timed or all(f.met for f in findings(way, self.evidence))


def outlooks(
    evidence: BayEvidence, operations: Iterable[Operation], plan: Mapping[Operation, Rule]
) -> dict[Operation, Outlook | None]:
    """Return the outlook of each operation; a strength that several need is looked for once."""
    strengths: dict[float, float] = {}
    return {operation: outlook(evidence, operation, plan, strengths) for operation in operations}


def outlook(
    evidence: BayEvidence,
    operation: Operation,
    plan: Mapping[Operation, Rule],
    strengths_h: dict[float, float] | None = None,
) -> Outlook | None:
    """Return when an operation may come; None: no end of pour, or a required sensor has nothing to say.

    Args:
        evidence: the pour's readings, merged.
        operation: one of the plan's.
        plan: what each operation needs.
        strengths_h: hours until strengths of this very evidence that were looked for before; what is found is added.
    """
    strengths_h = {} if strengths_h is None else strengths_h
    rule, end_ms, through_ms = plan[operation], clock_start(evidence.case), evidence.watermark_ms
    coldest_c = evidence.coldest_now_c()
    if end_ms is None or through_ms is None or coldest_c is None:
        return None
    clock, strip = clock_rule(rule), plan.get(STRIP)
    # Where no hours are counted, cold is what is cold for the strip.
    limits = clock or (clock_rule(strip) if strip is not None else None)
    limit_c = COMMON_C if limits is None else limits.at_c
    counted_h, cold_h = evidence.counted_h(limit_c), evidence.cold_h(limit_c)
    if not math.isfinite(counted_h):
        return None
    clock_h = (through_ms - end_ms) / HOUR_MS
    wait_h, least_h = (_Wait(evidence, plan, c, strengths_h).hours(rule) for c in (coldest_c, math.inf))
    return Outlook(
        plan_ms=None if clock is None else end_ms + round(clock.counted_h * HOUR_MS),
        expected_ms=through_ms + round(wait_h * HOUR_MS) if math.isfinite(wait_h) else None,
        earliest_ms=through_ms + round((least_h if math.isfinite(least_h) else 0.0) * HOUR_MS),
        cold=coldest_c < limit_c or cold_h >= COLD_HOURS_WORTH_TELLING,
        counted_h=counted_h,
        cold_h=cold_h,
        clock_h=clock_h,
        limit_c=limit_c,
        coldest_c=coldest_c,
        cause=_cause(cold_h, clock_h - counted_h - cold_h, below=coldest_c < limit_c),
    )


def _cause(cold_h: float, unread_h: float, *, below: bool) -> str:
    parts = [f"concrete below the limit: {cold_h:.1f} h so far"] if below or cold_h > 0.0 else []
    if unread_h >= UNREAD_HOURS_WORTH_TELLING:
        parts.append(f"without readings: {unread_h:.1f} h")
    return "; ".join(parts)
