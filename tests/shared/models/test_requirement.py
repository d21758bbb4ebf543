"""What a requirement may say at all: a slip of the hand is refused before anybody is judged by it."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from shared.models.requirement import AllRule, AnyRule, Requirement, StrengthRule, TestsRule


def requirement(*rules: dict[str, Any], **changes: Any) -> Requirement:
    return Requirement.model_validate({"operation": "strip", "all": list(rules), **changes})


@pytest.mark.row("O6", "E9")
@pytest.mark.parametrize(
    "rule",
    [
        {"lower_bound_mpa": 0.35},  # for 3.5
        {"lower_bound_mpa": 0.999},
        {"lower_bound_mpa": 500},  # psi for MPa
        {"lower_bound_psi": 500},
        {"lower_bound": 3.5},
        {"lower_bound_mpa": -3.5},
        {"lower_bound_mpa": float("nan")},
        {"lower_bound_mpa": float("inf")},
        {"tested_mpa": 0.35},
        {"tested_mpa": 3000},  # psi for MPa
        {"tested_percent": 0.75},  # a share for per cent
        {"tested_percent": 101},
        {"tested_mpa": 20, "at_least": 1},
        {"tested_mpa": 20, "method": "core"},
        {"counted_h": 24, "at_c": 41},  # degF for degC
        {"counted_h": 24, "at_f": 41},
        {"counted_h": 24},
        {"counted_h": 0, "at_c": 5},
        {"counted_h": 1440 * 60, "at_c": 5},  # seconds for hours
        {"counted_h": float("nan"), "at_c": 5},
        {"warm_h": -1, "at_c": 5},
        {"warm_h": 1, "at_c": -5},
        {"age_h": 0},
        {"age_h": float("nan")},
        {"surface_within_c": 0},
        {"drop_c": 28, "over_h": 0},
        {"drop_c": 0, "over_h": 24},
        {"consent": False},
        {"no_strip_near": False},
        {"construction_load": False},
        {"done": "Strip!"},
        {"document": ""},
        {"document": "two\nlines"},
        {"age_h": 24, "lower_bound_mpa": 3.5},
        {},
        {"all": []},
        {"any": [{"age_h": 24}]},
    ],
    ids=str,
)
def test_a_rule_that_cannot_be_meant_is_refused(rule: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        requirement(rule)
    with pytest.raises(ValidationError):
        requirement({"all": [rule]})
    with pytest.raises(ValidationError):
        requirement({"any": [{"age_h": 1}, rule]})


@pytest.mark.parametrize("limits", [{}, {"tested_mpa": 20, "tested_percent": 75}])
def test_tests_have_one_limit(limits: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        TestsRule(**limits)


@pytest.mark.parametrize(
    "changes", [{"all": []}, {"operation": "Strip"}, {"signed_by": []}, {"signed_by": ["boss"]}, {"each": True}]
)
def test_a_requirement_that_asks_for_nothing_or_of_nobody_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        requirement({"age_h": 24}, **changes)


def test_a_rule_is_told_by_its_keys() -> None:
    deep = requirement({"any": [{"lower_bound_mpa": 7}, {"all": [{"age_h": 48}, {"consent": True}]}]})
    (either,) = deep.all
    assert isinstance(either, AnyRule)
    strength, both = either.any
    assert isinstance(strength, StrengthRule)
    assert isinstance(both, AllRule)
    assert Requirement.model_validate(deep.model_dump(mode="json", exclude_none=True)) == deep
