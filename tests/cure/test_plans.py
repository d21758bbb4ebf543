"""The shipped plans, and which requirement is in force for a pour."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from requirements_support import Found, broken
from store_support import make_site, site_dict

from cure.plans import FURTHER, PLANS, allowed_load_kpa, in_force
from cure.requirements import findings
from shared.models.base import FULL_LOAD, LOAD, STRIP, UNCOVER, WALK, Operation
from shared.models.decisions import RequirementEdit
from shared.models.people import Role
from shared.models.requirement import (
    ANSWERS,
    DESK,
    SIGNERS,
    AgeRule,
    CountedRule,
    DoneRule,
    Requirement,
    Rule,
    StrengthRule,
)
from shared.requirement_checks import SHIPPED_AFTER

STRONG = StrengthRule(lower_bound_mpa=30.0)
CRANE = Operation("crane pad")


def requirement(operation: str = STRIP, rule: Rule = STRONG, **changes: object) -> Requirement:
    return Requirement.model_validate({"operation": operation, "all": (rule,), **changes})


def edit(version: int, new: Requirement) -> RequirementEdit:
    return RequirementEdit(version, 0, "engineer", "super", "why", new)


def forced(
    edits: Sequence[RequirementEdit] = (), written: Sequence[Requirement] = (), **plan: object
) -> dict[Operation, tuple[tuple[Rule, ...], str, bool]]:
    site = make_site(plan={**site_dict()["plan"], **plan}, requirement=written)
    return {op: (f.requirement.all, f.version, f.by_engineer) for op, f in in_force(site, edits).items()}


def test_until_seven_mpa_the_load_is_light() -> None:
    assert allowed_load_kpa(Found(bound=6.9, load=2.4)) == 1.0
    assert allowed_load_kpa(Found(bound=6.9, load=0.8)) == 0.8
    assert allowed_load_kpa(Found(bound=7.0, load=2.4)) == 2.4
    assert allowed_load_kpa(Found(bound=math.nan, load=2.4)) == 1.0
    assert allowed_load_kpa(Found(load=None)) is None


@pytest.mark.parametrize("use", PLANS)
def test_without_anything_written_the_plan_is_in_force(use: str) -> None:
    found = forced(use=use)
    assert list(found) == [STRIP, WALK, LOAD]
    assert found == {op: (rule.all, f"plan {use}", False) for op, rule in PLANS[use].items()}


def test_further_operations_come_only_when_they_are_asked_for() -> None:
    assert list(forced(also=["full load", "uncover"])) == [STRIP, WALK, LOAD, FULL_LOAD, UNCOVER]
    assert list(forced(also=["uncover"])) == [STRIP, WALK, LOAD, UNCOVER]


def test_the_site_file_takes_the_place_of_the_plan() -> None:
    found = forced(written=[requirement()])
    assert found[STRIP] == ((STRONG,), "site file", False)
    assert found[WALK] == (PLANS["common-practice"][WALK].all, "plan common-practice", False)


def test_an_operation_of_the_sites_own_comes_after_the_others() -> None:
    found = forced(written=[requirement(CRANE)])
    assert list(found) == [STRIP, WALK, LOAD, CRANE]
    assert found[CRANE] == ((STRONG,), "site file", False)


def test_what_the_engineer_wrote_on_the_site_book_is_before_site_file_and_plan() -> None:
    other = AgeRule(age_h=100.0)
    found = forced([edit(4, requirement(rule=other)), edit(7, requirement(CRANE, other))], [requirement()])
    assert found[STRIP] == ((other,), "edit 4", True)
    assert found[CRANE] == ((other,), "edit 7", True)


def test_full_load_needs_tests_at_three_quarters_of_the_specified_strength_after_the_load() -> None:
    # Common practice, no source: 75 %.
    def met(mpa: float, **found: object) -> bool:
        tests = (broken(mpa), broken(mpa))
        evidence = Found(tested=tests, finished=(STRIP, LOAD), **found)  # type: ignore[arg-type] # fields of Found
        return all(f.met for f in findings(FURTHER[FULL_LOAD], evidence))

    assert met(24.0, specified=32.0)
    assert not met(23.999, specified=32.0)
    assert not met(24.0, near=("2-b2",))
    assert not all(f.met for f in findings(FURTHER[FULL_LOAD], Found(tested=(broken(24.0), broken(24.0)))))


@pytest.mark.parametrize(
    ("found", "met"),
    [
        ({}, True),
        ({"counted": 71.999}, False),
        ({"apart": 11.001}, False),
        ({"dropped": 28.001}, False),
    ],
)
def test_uncover_needs_the_protection_time_and_no_steep_drop(found: dict[str, float], met: bool) -> None:
    # ACI 306.1-90, thin members (read in a summary): 3 d at 13 degC, 11 degC to the air, 28 degC in 24 h.
    assert all(f.met for f in findings(FURTHER[UNCOVER], Found(**found))) is met  # type: ignore[arg-type] # fields
    assert FURTHER[UNCOVER].all[0] == CountedRule(counted_h=72.0, at_c=13.0)


def test_who_signs_is_as_shipped_unless_it_is_written() -> None:
    assert SIGNERS[FULL_LOAD] == (Role.ENGINEER,)
    site = make_site(
        plan={**site_dict()["plan"], "also": ["full load"]},
        requirement=[requirement(CRANE), requirement(WALK, signed_by=[Role.ENGINEER])],
    )
    signers = {op: force.signed_by for op, force in in_force(site, ()).items()}
    assert signers == {
        STRIP: DESK,
        WALK: (Role.ENGINEER,),
        LOAD: ANSWERS,
        FULL_LOAD: (Role.ENGINEER,),
        CRANE: ANSWERS,
    }


def test_what_waits_for_what_as_shipped_is_as_the_site_file_is_checked_by() -> None:
    for plan in PLANS.values():
        for operation, rule in {**plan, **FURTHER}.items():
            waits = tuple(part.done for part in rule.all if isinstance(part, DoneRule))
            assert waits == SHIPPED_AFTER.get(operation, ())
