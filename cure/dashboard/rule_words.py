"""A rule of a requirement in the words and units of whoever reads. Pure; what it means: `cure.requirements`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from cure.dashboard.reader import Reader
from shared.models import requirement as r
from shared.units import Unit


def said(rule: r.Rule, reader: Reader) -> str:
    """Return a rule in words."""
    return _SAID[type(rule)](rule, reader)


def _number(value: float, unit: Unit, reader: Reader) -> str:
    return reader.number(value, unit, limit=True)


def _tests(rule: r.TestsRule, reader: Reader) -> str:
    of = {None: "rule-of-tests", "cylinder": "rule-of-cylinders", "in slab": "rule-of-slab"}[rule.method]
    limit = "" if rule.tested_mpa is None else _number(rule.tested_mpa, "MPa", reader)
    if rule.tested_percent is not None:
        limit = reader.say("rule-share", percent=f"{rule.tested_percent:g}")
    return reader.say("rule-tests", count=rule.at_least, of=reader.say(of), limit=limit)


def _counted(rule: r.CountedRule, reader: Reader) -> str:
    at = _number(rule.at_c, "degC", reader)
    return reader.say("rule-counted", hours=_number(rule.counted_h, "h", reader), limit=at)


def _warm(rule: r.WarmRule, reader: Reader) -> str:
    at = _number(rule.at_c, "degC", reader)
    return reader.say("rule-warm", hours=_number(rule.warm_h, "h", reader), limit=at)


def _drop(rule: r.DropRule, reader: Reader) -> str:
    at = _number(rule.drop_c, "degC apart", reader)
    return reader.say("rule-drop", hours=_number(rule.over_h, "h", reader), limit=at)


_SAID: Final[dict[type, Callable[[Any, Reader], str]]] = {
    r.AgeRule: lambda rule, reader: reader.say("rule-age", hours=_number(rule.age_h, "h", reader)),
    r.CountedRule: _counted,
    r.WarmRule: _warm,
    r.StrengthRule: lambda rule, reader: reader.say(
        "rule-strength", limit=_number(rule.lower_bound_mpa, "MPa", reader)
    ),
    r.DoneRule: lambda rule, reader: reader.say("rule-done", what=reader.operation(rule.done)),
    r.TestsRule: _tests,
    r.DocumentRule: lambda rule, reader: reader.say("rule-document", name=rule.document),
    r.ConstructionLoadRule: lambda _, reader: reader.say("rule-load"),
    r.ConsentRule: lambda _, reader: reader.say("rule-consent"),
    r.NoStripNearRule: lambda _, reader: reader.say("rule-no-strip"),
    r.SurfaceNearAirRule: lambda rule, reader: reader.say(
        "rule-surface", limit=_number(rule.surface_within_c, "degC apart", reader)
    ),
    r.DropRule: _drop,
    r.AllRule: lambda rule, reader: "; ".join(said(part, reader) for part in rule.all),
    r.AnyRule: lambda rule, reader: reader.say("rule-or").join(f"({said(way, reader)})" for way in rule.any),
}
"""One line a rule: a rule without one cannot be shown, and a test fails."""
