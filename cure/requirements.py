"""Requirements are data: a small tree of conditions per operation, and the plans shipped.

A condition prints itself and is held against the evidence; every comparison is written so that a value that is not
known, or not a number, is not met.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias

from shared import units
from shared.models.base import LOAD, STRIP, WALK, Operation
from shared.models.decisions import Finding


class Evidence(Protocol):
    """What a condition may ask about a pour."""

    def counted_h(self, at_c: float) -> float:
        """Return the hours since the clock start in which the coldest zone was at or above; NaN: not known."""
        ...

    def coldest_through_c(self, hours: float) -> float:
        """Return the coldest temperature of the last hours, now included; NaN: not known."""
        ...

    def lower_bound_mpa(self) -> float:
        """Return the governing lower bound; NaN: not known."""
        ...

    def done(self, operation: Operation) -> bool:
        """Return whether the operation is done on a release."""
        ...

    def construction_load_kpa(self) -> float | None:
        """Return the load that the engineer allows on the bay, if one is on file."""
        ...

    def consent(self) -> str | None:
        """Return the engineer's written consent, if one is on file."""
        ...

    def stripping_near(self) -> tuple[str, ...]:
        """Return the bays below or beside with a strip under way, this one included."""
        ...


def _known(value: float) -> float | None:
    """Return a found value; None, "not known", for one that is not a number."""
    return value if math.isfinite(value) else None


@dataclass(frozen=True, slots=True)
class CountedHours:
    """Cumulative hours in which the coldest zone, both ends of each interval, is at or above a temperature."""

    hours: float
    at_c: float

    def __str__(self) -> str:
        return f"{self.hours:g} counted hours at or above {units.shown(self.at_c, 'degC', limit=True)}"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        found = evidence.counted_h(self.at_c)
        rule = f"counted hours at or above {units.shown(self.at_c, 'degC', limit=True)}"
        return (Finding(rule, _known(found), self.hours, "h", met=found >= self.hours),)


@dataclass(frozen=True, slots=True)
class WarmThrough:
    """The coldest zone at or above a temperature now and through the last hours. Momentary."""

    hours: float
    at_c: float

    def __str__(self) -> str:
        return f"at or above {units.shown(self.at_c, 'degC', limit=True)} through the last {self.hours:g} h"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        found = evidence.coldest_through_c(self.hours)
        rule = f"coldest through the last {self.hours:g} h"
        return (Finding(rule, _known(found), self.at_c, "degC", met=found >= self.at_c, lasting=False),)


@dataclass(frozen=True, slots=True)
class LowerBound:
    """Lower bound of strength in place at the governing zone."""

    mpa: float

    def __str__(self) -> str:
        return f"lower bound of strength {units.shown(self.mpa, 'MPa', limit=True)}"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        found = evidence.lower_bound_mpa()
        return (Finding("lower bound of strength", _known(found), self.mpa, "MPa", met=found >= self.mpa),)


@dataclass(frozen=True, slots=True)
class OperationDone:
    """Another operation is done, on a release."""

    operation: Operation

    def __str__(self) -> str:
        return f"{self.operation} done"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        done = evidence.done(self.operation)
        return (Finding(self.operation, "done" if done else "not done", "done", "", met=done),)


@dataclass(frozen=True, slots=True)
class ConstructionLoad:
    """The engineer's construction load for the bay is on file."""

    def __str__(self) -> str:
        return "the engineer's construction load on file"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        load = evidence.construction_load_kpa()
        there = load is not None and load > 0.0
        return (Finding("construction load", load if there else "none on file", None, "kPa", met=there),)


@dataclass(frozen=True, slots=True)
class Consent:
    """The engineer's written consent is on file."""

    def __str__(self) -> str:
        return "the engineer's written consent on file"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        consent = evidence.consent()
        found = "none on file" if consent is None else consent
        return (Finding("engineer's written consent", found, None, "", met=consent is not None),)


@dataclass(frozen=True, slots=True)
class NobodyStripping:
    """No strip under way below or beside. Momentary."""

    def __str__(self) -> str:
        return "no strip under way below or beside"

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        near = evidence.stripping_near()
        found = ", ".join(near) if near else "none"
        return (Finding("strip under way below or beside", found, "none", "", met=not near, lasting=False),)


@dataclass(frozen=True, slots=True)
class All:
    """Every part is met."""

    parts: tuple[Condition, ...]

    def __str__(self) -> str:
        return "; ".join(str(p) for p in self.parts)

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        return tuple(f for p in self.parts for f in p.findings(evidence))


@dataclass(frozen=True, slots=True)
class Either:
    """One way is enough: the findings are those of the first way that is met, else of all ways."""

    ways: tuple[Condition, ...]

    def __str__(self) -> str:
        return " or ".join(f"({w})" for w in self.ways)

    def findings(self, evidence: Evidence) -> tuple[Finding, ...]:
        tried = [w.findings(evidence) for w in self.ways]
        return next((t for t in tried if all(f.met for f in t)), tuple(f for t in tried for f in t))


Condition: TypeAlias = (
    CountedHours
    | WarmThrough
    | LowerBound
    | OperationDone
    | ConstructionLoad
    | Consent
    | NobodyStripping
    | All
    | Either
)

COMMON_HOURS: Final = 24.0
COMMON_C: Final = 5.0
STRIP_MPA: Final = 3.5
LOAD_HOURS: Final = 48.0
LOAD_MPA: Final = 7.0
"""Common practice for a thin slab on removable forms between joists, no source: 24 h, 5 degC (40 degF), 3.5 MPa
(500 psi), 48 h, 7 MPa (1000 psi). 3.5 MPa is more than 500 psi and 5 degC more than 40 degF: the stricter is stored."""
LIGHT_LOAD_KPA: Final = 1.0
"""Until the load strength is there, under `clock-or-strength`."""


def _strip(at_c: float) -> All:
    return All((CountedHours(COMMON_HOURS, at_c), WarmThrough(1.0, at_c), LowerBound(STRIP_MPA)))


def _walk(at_c: float) -> All:
    return All((_strip(at_c), NobodyStripping()))


_LOAD: Final = All((OperationDone(STRIP), LowerBound(LOAD_MPA), ConstructionLoad(), NobodyStripping()))
_LOAD_BY_CLOCK: Final = All(
    (
        OperationDone(STRIP),
        Either((LowerBound(LOAD_MPA), All((CountedHours(LOAD_HOURS, 10.0), LowerBound(5.0), Consent())))),
        ConstructionLoad(),
        NobodyStripping(),
    )
)

PLANS: Final[dict[str, Mapping[Operation, Condition]]] = {
    "common-practice": {STRIP: _strip(COMMON_C), WALK: _walk(COMMON_C), LOAD: _LOAD},
    "clock-or-strength": {STRIP: _strip(COMMON_C), WALK: _walk(COMMON_C), LOAD: _LOAD_BY_CLOCK},
    "strict": {STRIP: _strip(10.0), WALK: _walk(10.0), LOAD: _LOAD},
}


def allowed_load_kpa(evidence: Evidence) -> float | None:
    """Return the construction load that a load release allows now: the engineer's, light until 7 MPa."""
    load = evidence.construction_load_kpa()
    if load is None or evidence.lower_bound_mpa() >= LOAD_MPA:
        return load
    return min(load, LIGHT_LOAD_KPA)


def clock_rule(condition: Condition) -> CountedHours | None:
    """Return the counted hours that a requirement always asks for, if it does."""
    if isinstance(condition, CountedHours):
        return condition
    parts = condition.parts if isinstance(condition, All) else ()
    return next((c for c in map(clock_rule, parts) if c is not None), None)


def strength_rule(condition: Condition) -> LowerBound | None:
    """Return the strength that a requirement always asks for, if it does."""
    if isinstance(condition, LowerBound):
        return condition
    parts = condition.parts if isinstance(condition, All) else ()
    return next((c for c in map(strength_rule, parts) if c is not None), None)
