"""Whether one requirement asks for at least as much as another."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.plans import FURTHER, PLANS
from cure.strictness import asks_at_least, at_least_as_strict
from shared.models import requirement as r
from shared.models.base import LOAD, STRIP, WALK
from shared.models.people import Role

HARDER: dict[type, dict[str, int]] = {
    r.AgeRule: {"age_h": 1},
    r.CountedRule: {"counted_h": 1, "at_c": 1},
    r.WarmRule: {"warm_h": 1, "at_c": 1},
    r.StrengthRule: {"lower_bound_mpa": 1},
    r.TestsRule: {"tested_mpa": 1, "at_least": 1},
    r.SurfaceNearAirRule: {"surface_within_c": -1},
    r.DropRule: {"drop_c": -1, "over_h": 1},
}
"""The numbers of each rule, and which way they ask for more."""
LEAVES: dict[type, st.SearchStrategy[Any]] = {
    r.AgeRule: st.builds(r.AgeRule, age_h=st.floats(2, 99)),
    r.CountedRule: st.builds(r.CountedRule, counted_h=st.floats(2, 99), at_c=st.floats(2, 20)),
    r.WarmRule: st.builds(r.WarmRule, warm_h=st.floats(2, 99), at_c=st.floats(2, 20)),
    r.StrengthRule: st.builds(r.StrengthRule, lower_bound_mpa=st.floats(2, 50)),
    r.TestsRule: st.builds(
        r.TestsRule,
        tested_mpa=st.floats(2, 50),
        at_least=st.integers(3, 9),
        method=st.sampled_from([None, "cylinder", "in slab"]),
    ),
    r.SurfaceNearAirRule: st.builds(r.SurfaceNearAirRule, surface_within_c=st.floats(2, 30)),
    r.DropRule: st.builds(r.DropRule, drop_c=st.floats(2, 30), over_h=st.floats(2, 99)),
    r.DoneRule: st.just(r.DoneRule(done="strip")),
    r.DocumentRule: st.just(r.DocumentRule(document="letter")),
    r.ConsentRule: st.just(r.ConsentRule(consent=True)),
    r.ConstructionLoadRule: st.just(r.ConstructionLoadRule(construction_load=True)),
    r.NoStripNearRule: st.just(r.NoStripNearRule(no_strip_near=True)),
}


@st.composite
def trees(draw: st.DrawFn) -> r.AllRule:
    """Return a tree in which each type of rule stands once, so that no part makes another one idle."""
    kinds = draw(st.lists(st.sampled_from(list(LEAVES)), min_size=1, max_size=6, unique=True))
    parts: list[r.Rule] = [draw(LEAVES[kind]) for kind in kinds]
    while len(parts) > 1 and draw(st.booleans()):
        taken = draw(st.integers(2, len(parts)))
        some, rest = tuple(parts[:taken]), parts[taken:]
        joined: r.Rule = r.AnyRule(any=some) if draw(st.booleans()) else r.AllRule(all=some)
        parts = [*rest, joined]
    return r.AllRule(all=tuple(parts))


def numbers(rule: r.Rule) -> int:
    inner = rule.all if isinstance(rule, r.AllRule) else rule.any if isinstance(rule, r.AnyRule) else ()
    return sum(map(numbers, inner)) if inner else len(HARDER.get(type(rule), {}))


def changed(rule: r.Rule, number: int, by: float) -> r.Rule:
    """Return the tree with its number so and so made harder by that much, or easier."""
    for kind, name in ((r.AllRule, "all"), (r.AnyRule, "any")):
        if isinstance(rule, kind):
            parts = []
            for part in getattr(rule, name):
                here = numbers(part)
                parts.append(changed(part, number, by) if 0 <= number < here else part)
                number -= here
            return kind(**{name: tuple(parts)})
    name, way = list(HARDER[type(rule)].items())[number]
    value = getattr(rule, name) + way * by
    return rule.model_copy(update={name: round(value) if name == "at_least" else value})


@pytest.mark.row("O14")
@given(trees())
def test_a_requirement_is_as_strict_as_itself(tree: r.AllRule) -> None:
    assert at_least_as_strict(tree, tree)


@pytest.mark.row("O14")
@given(trees(), st.integers(0, 20))
def test_a_number_made_harder_is_never_lowered(tree: r.AllRule, which: int) -> None:
    if numbers(tree):
        assert at_least_as_strict(changed(tree, which % numbers(tree), 1.0), tree)


@pytest.mark.row("O14")
@given(trees(), st.integers(0, 20), st.sampled_from([1.0, 1.9]))
def test_a_single_number_made_easier_is_always_found(tree: r.AllRule, which: int, by: float) -> None:
    if numbers(tree):
        assert not at_least_as_strict(changed(tree, which % numbers(tree), -by), tree)


@pytest.mark.row("O14")
@given(trees(), trees())
def test_a_further_part_is_stricter_and_a_part_less_is_found(tree: r.AllRule, more: r.AllRule) -> None:
    assert at_least_as_strict(r.AllRule(all=(*tree.all, *more.all)), tree)
    if len(tree.all) > 1:
        assert not at_least_as_strict(r.AllRule(all=tree.all[1:]), tree)


@pytest.mark.row("O14")
@given(trees())
def test_a_way_more_is_found_and_a_way_less_is_stricter(tree: r.AllRule) -> None:
    other = r.DoneRule(done="by another way")
    assert not at_least_as_strict(r.AnyRule(any=(tree, other)), tree)
    assert at_least_as_strict(tree, r.AnyRule(any=(other, tree)))


@pytest.mark.parametrize("plan", PLANS)
def test_each_shipped_requirement_is_as_strict_as_itself(plan: str) -> None:
    for rule in (*PLANS[plan].values(), *FURTHER.values()):
        assert at_least_as_strict(rule, rule)


def test_the_strict_plan_is_stricter_and_not_the_other_way_round() -> None:
    for operation in (STRIP, WALK):
        common, strict = (PLANS[name][operation] for name in ("common-practice", "strict"))
        assert at_least_as_strict(strict, common)
        assert not at_least_as_strict(common, strict)
    by_clock, common = (PLANS[name][LOAD] for name in ("clock-or-strength", "common-practice"))
    assert at_least_as_strict(common, by_clock)
    assert not at_least_as_strict(by_clock, common)


def test_tests_of_one_kind_alone_pass_over_low_ones_of_the_other() -> None:
    either, cylinders = r.TestsRule(tested_mpa=7), r.TestsRule(tested_mpa=7, method="cylinder")
    assert not at_least_as_strict(cylinders, either)
    assert not at_least_as_strict(either, cylinders)


SIGNED = [
    (None, False, None, False, True),
    ((Role.ENGINEER,), False, (Role.ENGINEER, Role.QC), False, True),
    ((Role.ENGINEER, Role.QC), False, (Role.ENGINEER,), False, False),
    ((Role.ENGINEER, Role.QC), True, (Role.ENGINEER, Role.QC), False, True),
    ((Role.ENGINEER, Role.QC), False, (Role.ENGINEER, Role.QC), True, False),
    ((Role.ENGINEER,), True, (Role.ENGINEER, Role.QC), True, False),
]


@pytest.mark.parametrize(("new", "new_each", "old", "old_each", "as_strict"), SIGNED)
def test_who_signs_belongs_to_a_requirement(
    new: Any, new_each: bool, old: Any, old_each: bool, as_strict: bool
) -> None:
    rules = PLANS["strict"][STRIP].all

    def asked(signed_by: Any, each_signs: bool) -> r.Requirement:
        return r.Requirement(operation="strip", all=rules, signed_by=signed_by, each_signs=each_signs)

    assert asks_at_least(asked(new, new_each), asked(old, old_each)) is as_strict
