"""Rules as lines: what is written reads back, what is no rule is said with its line."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cure.dashboard.rule_lines import EXAMPLES, LONGEST, LineError, line_of, requirement_from
from cure.plans import FURTHER, PLANS
from shared.models.people import Role
from shared.models.requirement import DocumentRule, Requirement


def written(needs: str, **changes: object) -> Requirement:
    return requirement_from("strip", needs, (), each_signs=False)


def test_every_shipped_requirement_and_example_reads_back_as_it_was() -> None:
    plans = [rule.all for plan in (*PLANS.values(), FURTHER) for rule in plan.values()]
    for rules in (*plans, tuple(rule for _, rule in EXAMPLES)):
        assert written("\n\n".join(map(line_of, rules))).all == rules
    assert EXAMPLES[2][0] == "lower_bound_mpa = 3.5"


@settings(max_examples=25, deadline=None)
@given(st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=60))
def test_any_name_of_a_document_reads_back(name: str) -> None:
    rule = DocumentRule(document=name)
    assert written(line_of(rule)).all == (rule,)


@pytest.mark.parametrize(
    ("needs", "key", "line"),
    [
        ("", "rules-count", None),
        ("\n".join(["age_h = 1"] * (LONGEST + 1)), "rules-count", None),
        ("age_h = 24\nlower_bound_mpa 3.5", "rules-line", "2"),
        ("age_h = 24\n\nlower_bound_mpa = 0.35", "rules-line", "3"),
        ("speed = 3", "rules-line", "1"),
        ("any = [{ age_h = nan }, { age_h = 3 }]", "rules-line", "1"),
        ("age_h = 1 } \n other = { age_h = 2", "rules-line", "1"),
    ],
)
def test_what_is_no_rule_is_said_with_its_line(needs: str, key: str, line: str | None) -> None:
    with pytest.raises(LineError) as found:
        written(needs)
    assert (found.value.key, found.value.said.get("line")) == (key, line)


def test_who_signs_goes_with_it() -> None:
    made = requirement_from("crane pad", "age_h = 24", (Role.ENGINEER, Role.QC), each_signs=True)
    assert (made.signed_by, made.each_signs) == ((Role.ENGINEER, Role.QC), True)
    with pytest.raises(LineError) as found:
        requirement_from("Crane Pad!", "age_h = 24", (), each_signs=False)
    assert found.value.said["line"] == "-"
