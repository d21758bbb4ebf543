"""Whether one requirement asks for at least as much as another. Whatever is not plainly so counts as lowered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from shared.models import requirement as r


def _tests_at_least(new: r.TestsRule, old: r.TestsRule) -> bool:
    # Of one method alone is not stricter: a low result of the other would not be seen.
    if new.method != old.method or new.at_least < old.at_least:
        return False
    if new.tested_mpa is not None and old.tested_mpa is not None:
        return new.tested_mpa >= old.tested_mpa
    if new.tested_percent is not None and old.tested_percent is not None:
        return new.tested_percent >= old.tested_percent
    return False


_AT_LEAST: Final[dict[type, Callable[[Any, Any], bool]]] = {
    r.AgeRule: lambda new, old: new.age_h >= old.age_h,
    r.CountedRule: lambda new, old: new.counted_h >= old.counted_h and new.at_c >= old.at_c,
    r.WarmRule: lambda new, old: new.warm_h >= old.warm_h and new.at_c >= old.at_c,
    r.StrengthRule: lambda new, old: new.lower_bound_mpa >= old.lower_bound_mpa,
    r.DoneRule: lambda new, old: new.done == old.done,
    r.TestsRule: _tests_at_least,
    r.DocumentRule: lambda new, old: new.document == old.document,
    r.ConstructionLoadRule: lambda new, old: new == old,
    r.ConsentRule: lambda new, old: new == old,
    r.NoStripNearRule: lambda new, old: new == old,
    r.SurfaceNearAirRule: lambda new, old: new.surface_within_c <= old.surface_within_c,
    r.DropRule: lambda new, old: new.drop_c <= old.drop_c and new.over_h >= old.over_h,
}
"""Two single rules of one type: is the first at least as strict?"""


def at_least_as_strict(new: r.Rule, old: r.Rule) -> bool:
    """Return whether whatever meets the new rule plainly meets the old one too."""
    if isinstance(old, r.AllRule):
        return all(at_least_as_strict(new, part) for part in old.all)
    if isinstance(old, r.AnyRule) and any(at_least_as_strict(new, way) for way in old.any):
        return True
    if isinstance(new, r.AllRule):
        return any(at_least_as_strict(part, old) for part in new.all)
    if isinstance(new, r.AnyRule):
        return all(at_least_as_strict(way, old) for way in new.any)
    return type(new) is type(old) and _AT_LEAST[type(new)](new, old)


def asks_at_least(new: r.Requirement, old: r.Requirement) -> bool:
    """Return whether a requirement, with who signs it, asks for at least as much as another."""
    return _signed_at_least(new, old) and at_least_as_strict(r.AllRule(all=new.all), r.AllRule(all=old.all))


def _signed_at_least(new: r.Requirement, old: r.Requirement) -> bool:
    now, before = (set(r.signing_roles(asked.operation, asked.signed_by)) for asked in (new, old))
    if old.each_signs:
        return new.each_signs and now >= before
    return now <= before or (new.each_signs and bool(now & before))
