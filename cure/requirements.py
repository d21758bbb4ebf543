"""What the rules of a requirement mean: each says itself in words and is held against the evidence.

The rules themselves are data (`shared.models.requirement`). Every comparison is written so that a value that is not
known, or not a number, is not met.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, Final, Protocol

from cure.ticks import TICKS
from shared import units
from shared.models import requirement as r
from shared.models.base import HOUR_MS, Operation
from shared.models.decisions import Document, Finding, TestResult

CYLINDER: Final = "cylinder"
CONSENT: Final = "engineer's written consent"
"""The name under which it is put on file, by the engineer only."""
ONE_SET_MS: Final = 12 * HOUR_MS
"""Tests closer together are one set, of which the lowest counts (our judgement)."""


class Evidence(Protocol):
    """What a rule may ask about a pour. NaN: not known."""

    def age_h(self) -> float:
        """Return the hours since the end of the pour."""
        ...

    def counted_h(self, at_c: float) -> float:
        """Return the hours since the clock start in which the coldest zone was at or above."""
        ...

    def coldest_through_c(self, hours: float) -> float:
        """Return the coldest temperature of the last hours, now included."""
        ...

    def lower_bound_mpa(self) -> float:
        """Return the governing lower bound."""
        ...

    def governing_age_h(self) -> float:
        """Return the equivalent age of the governing (coldest) zone."""
        ...

    def done(self, operation: Operation) -> bool:
        """Return whether the operation is done on a release."""
        ...

    def tests(self) -> Sequence[TestResult]:
        """Return the tests of the concrete itself."""
        ...

    def specified_mpa(self) -> float | None:
        """Return the mix's specified strength, if it is on file."""
        ...

    def documents(self) -> Sequence[Document]:
        """Return what is on file for the pour, its bay or the site."""
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

    def surface_from_air_c(self) -> float:
        """Return how far the surface is from the air."""
        ...

    def drop_c(self, hours: float) -> float:
        """Return the largest drop of temperature within the last hours."""
        ...


def _known(value: float) -> float | None:
    """Return a found value; None, "not known", for one that is not a number."""
    return value if math.isfinite(value) else None


def _warm(at_c: float) -> str:
    return units.shown(at_c, "degC", limit=True)


def _age(rule: r.AgeRule, evidence: Evidence) -> tuple[Finding, ...]:
    found = evidence.age_h()
    return (Finding("age since the end of the pour", _known(found), rule.age_h, "h", met=found >= rule.age_h),)


def _counted(rule: r.CountedRule, evidence: Evidence) -> tuple[Finding, ...]:
    found = evidence.counted_h(rule.at_c)
    said = f"counted hours at or above {_warm(rule.at_c)}"
    return (Finding(said, _known(found), rule.counted_h, "h", met=found >= rule.counted_h),)


def _warm_through(rule: r.WarmRule, evidence: Evidence) -> tuple[Finding, ...]:
    found = evidence.coldest_through_c(rule.warm_h)
    said = f"coldest through the last {rule.warm_h:g} h"
    return (Finding(said, _known(found), rule.at_c, "degC", met=found >= rule.at_c, lasting=False),)


def _strength(rule: r.StrengthRule, evidence: Evidence) -> tuple[Finding, ...]:
    found, limit = evidence.lower_bound_mpa(), rule.lower_bound_mpa
    return (Finding("lower bound of strength", _known(found), limit, "MPa", met=found >= limit),)


def _done(rule: r.DoneRule, evidence: Evidence) -> tuple[Finding, ...]:
    done = evidence.done(Operation(rule.done))
    return (Finding(rule.done, "done" if done else "not done", "done", "", met=done),)


def stands(test: TestResult, evidence: Evidence) -> bool:
    """Return whether a test speaks for the pour.

    Of the last third of the pour; a test in the slab with its position, a cylinder with its own temperature record and
    no riper than the coldest zone.
    """
    if not test.last_third:
        return False
    if test.method != CYLINDER:
        return test.position is not None
    return test.equivalent_age_h is not None and test.equivalent_age_h <= evidence.governing_age_h()


def _newest(tests: Sequence[TestResult], enough: int) -> list[TestResult]:
    """Return the newest tests that are enough, with all of their set: concrete gains, so later stand for earlier."""
    hours = sorted(t.tested_ms for t in tests)[-enough:]
    return [t for t in tests if t.tested_ms > hours[0] - ONE_SET_MS]


def _limit_mpa(rule: r.TestsRule, evidence: Evidence) -> float | None:
    if rule.tested_mpa is not None:
        return rule.tested_mpa
    specified = evidence.specified_mpa()
    return None if specified is None or rule.tested_percent is None else specified * rule.tested_percent / 100.0


def _tests(rule: r.TestsRule, evidence: Evidence) -> tuple[Finding, ...]:
    of = {None: "tests", CYLINDER: "cylinders", "in slab": "tests in the slab"}[rule.method]
    wanted = [t for t in evidence.tests() if rule.method in {None, CYLINDER if t.method == CYLINDER else "in slab"}]
    valid = [t.mpa for t in _newest([t for t in wanted if stands(t, evidence)], rule.at_least)]
    limit, enough = _limit_mpa(rule, evidence), len(valid) >= rule.at_least
    # While the age of the slab is not known, neither is how many count.
    unknown = not enough and bool(wanted) and math.isnan(evidence.governing_age_h())
    counted = Finding(f"{of} that count", None if unknown else str(len(valid)), str(rule.at_least), "", met=enough)
    if limit is None:
        return (counted, Finding(f"lowest of the {of}", "no specified strength on file", None, "MPa", met=False))
    # Each by itself: the built-in min can pass over a NaN.
    met = enough and all(mpa >= limit for mpa in valid)
    lowest = min(valid) if enough and all(map(math.isfinite, valid)) else None
    return (counted, Finding(f"lowest of the {of}", lowest, limit, "MPa", met=met))


def _document(rule: r.DocumentRule, evidence: Evidence) -> tuple[Finding, ...]:
    # What a crew ticks before a pour is no document that anything is released by.
    found = [d for d in evidence.documents() if d.name == rule.document and d.name not in TICKS.values()]
    said = found[-1].reference if found else "none on file"
    return (Finding(rule.document, said, None, "", met=bool(found)),)


def _construction_load(_: r.ConstructionLoadRule, evidence: Evidence) -> tuple[Finding, ...]:
    load = evidence.construction_load_kpa()
    there = load is not None and load > 0.0
    return (Finding("construction load", load if there else "none on file", None, "kPa", met=there),)


def _consent(_: r.ConsentRule, evidence: Evidence) -> tuple[Finding, ...]:
    consent = evidence.consent()
    found = "none on file" if consent is None else consent
    return (Finding(CONSENT, found, None, "", met=consent is not None),)


def _no_strip_near(_: r.NoStripNearRule, evidence: Evidence) -> tuple[Finding, ...]:
    near = evidence.stripping_near()
    found = ", ".join(near) if near else "none"
    return (Finding("strip under way below or beside", found, "none", "", met=not near, lasting=False),)


def _surface(rule: r.SurfaceNearAirRule, evidence: Evidence) -> tuple[Finding, ...]:
    found, limit = evidence.surface_from_air_c(), rule.surface_within_c
    said = "surface apart from the air"
    return (Finding(said, _known(found), limit, "degC apart", met=found <= limit, lasting=False),)


def _drop(rule: r.DropRule, evidence: Evidence) -> tuple[Finding, ...]:
    found = evidence.drop_c(rule.over_h)
    said = f"drop within {rule.over_h:g} h at most"
    return (Finding(said, _known(found), rule.drop_c, "degC apart", met=found <= rule.drop_c, lasting=False),)


def _all(rule: r.AllRule, evidence: Evidence) -> tuple[Finding, ...]:
    return tuple(f for part in rule.all for f in findings(part, evidence))


def _any(rule: r.AnyRule, evidence: Evidence) -> tuple[Finding, ...]:
    """The findings of the first way that is met, else of all ways."""
    tried = [findings(way, evidence) for way in rule.any]
    return next((t for t in tried if all(f.met for f in t)), tuple(f for t in tried for f in t))


_HELD: Final[dict[type, Callable[[Any, Evidence], tuple[Finding, ...]]]] = {
    r.AgeRule: _age,
    r.CountedRule: _counted,
    r.WarmRule: _warm_through,
    r.StrengthRule: _strength,
    r.DoneRule: _done,
    r.TestsRule: _tests,
    r.DocumentRule: _document,
    r.ConstructionLoadRule: _construction_load,
    r.ConsentRule: _consent,
    r.NoStripNearRule: _no_strip_near,
    r.SurfaceNearAirRule: _surface,
    r.DropRule: _drop,
    r.AllRule: _all,
    r.AnyRule: _any,
}


def findings(rule: r.Rule, evidence: Evidence) -> tuple[Finding, ...]:
    """Return a rule held against the evidence."""
    return _HELD[type(rule)](rule, evidence)


def _tests_said(rule: r.TestsRule) -> str:
    of = {None: "tests", CYLINDER: "cylinders", "in slab": "tests in the slab"}[rule.method]
    limit = units.shown(rule.tested_mpa, "MPa", limit=True)
    if rule.tested_percent is not None:
        limit = f"{rule.tested_percent:g} % of the specified strength"
    return f"the lowest of at least {rule.at_least} {of} {limit}"


def _apart(difference_c: float) -> str:
    return units.shown(difference_c, "degC apart", limit=False)


_SAID: Final[dict[type, Callable[[Any], str]]] = {
    r.AgeRule: lambda rule: f"{rule.age_h:g} h since the end of the pour",
    r.CountedRule: lambda rule: f"{rule.counted_h:g} counted hours at or above {_warm(rule.at_c)}",
    r.WarmRule: lambda rule: f"at or above {_warm(rule.at_c)} through the last {rule.warm_h:g} h",
    r.StrengthRule: lambda rule: f"lower bound of strength {units.shown(rule.lower_bound_mpa, 'MPa', limit=True)}",
    r.DoneRule: lambda rule: f"{rule.done} done",
    r.TestsRule: _tests_said,
    r.DocumentRule: lambda rule: f"{rule.document} on file",
    r.ConstructionLoadRule: lambda _: "the engineer's construction load on file",
    r.ConsentRule: lambda _: "the engineer's written consent on file",
    r.NoStripNearRule: lambda _: "no strip under way below or beside",
    r.SurfaceNearAirRule: lambda rule: f"surface within {_apart(rule.surface_within_c)} of the air",
    r.DropRule: lambda rule: f"dropped by at most {_apart(rule.drop_c)} within {rule.over_h:g} h",
    r.AllRule: lambda rule: "; ".join(map(sentence, rule.all)),
    r.AnyRule: lambda rule: " or ".join(f"({sentence(way)})" for way in rule.any),
}


def sentence(rule: r.Rule) -> str:
    """Return a rule in words."""
    return _SAID[type(rule)](rule)


def _always(rule: r.Rule) -> Sequence[r.Rule]:
    """Return the rules that must be met whatever way is taken."""
    return [inner for part in rule.all for inner in _always(part)] if isinstance(rule, r.AllRule) else [rule]


def clock_rule(rule: r.Rule) -> r.CountedRule | None:
    """Return the counted hours that a requirement always asks for, if it does."""
    return next((part for part in _always(rule) if isinstance(part, r.CountedRule)), None)


def strength_rule(rule: r.Rule) -> r.StrengthRule | None:
    """Return the strength that a requirement always asks for, if it does."""
    return next((part for part in _always(rule) if isinstance(part, r.StrengthRule)), None)
