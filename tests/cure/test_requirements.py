"""Every rule, at its limit, just over it and just under it, and with a number that is none."""

from __future__ import annotations

import math

import pytest
from requirements_support import DONE, NOTHING_ON_FILE, Found, broken, pulled

from cure.plans import PLANS
from cure.requirements import ONE_SET_MS, clock_rule, findings, sentence, strength_rule
from cure.ticks import TICKS
from shared import units
from shared.models import requirement as r
from shared.models.base import LOAD, STRIP, WALK
from shared.models.decisions import Document, TestResult

JUST = 1e-9
NAN = math.nan


def met(rule: r.Rule, **found: object) -> bool:
    return all(f.met for f in findings(rule, Found(**found)))  # type: ignore[arg-type] # fields of Found


COMMON = PLANS["common-practice"]
CLOCK = PLANS["clock-or-strength"]
STRICT = PLANS["strict"]

# Common practice, no source: 24 h, 5 degC (40 degF), 3.5 MPa (500 psi), 48 h, 7 MPa (1000 psi).
LEAST: list[tuple[str, r.Rule, str, float]] = [
    ("24 h", COMMON[STRIP], "counted", 24.0),
    ("24 h, walk", COMMON[WALK], "counted", 24.0),
    ("5 degC / 40 degF", COMMON[STRIP], "coldest", 5.0),
    ("3.5 MPa / 500 psi", COMMON[STRIP], "bound", 3.5),
    ("7 MPa / 1000 psi", COMMON[LOAD], "bound", 7.0),
    ("10 degC, strict", STRICT[STRIP], "coldest", 10.0),
    ("age", r.AgeRule(age_h=36.0), "age", 36.0),
    ("counted", r.CountedRule(counted_h=72.0, at_c=5.0), "counted", 72.0),
    ("warm", r.WarmRule(warm_h=1.0, at_c=8.0), "coldest", 8.0),
    ("strength", r.StrengthRule(lower_bound_mpa=12.0), "bound", 12.0),
]
MOST: list[tuple[str, r.Rule, str, float]] = [
    ("surface", r.SurfaceNearAirRule(surface_within_c=11.0), "apart", 11.0),
    ("drop", r.DropRule(drop_c=28.0, over_h=24.0), "dropped", 28.0),
]


@pytest.mark.parametrize(("name", "rule", "field", "limit"), LEAST, ids=[x[0] for x in LEAST])
def test_at_least_so_much_is_met_at_and_over_it_and_not_just_under(
    name: str, rule: r.Rule, field: str, limit: float
) -> None:
    assert met(rule, **{field: limit}), name
    assert met(rule, **{field: limit * (1 + JUST)}), name
    assert not met(rule, **{field: limit * (1 - JUST)}), name


@pytest.mark.parametrize(("name", "rule", "field", "limit"), MOST, ids=[x[0] for x in MOST])
def test_at_most_so_much_is_met_at_and_under_it_and_not_just_over(
    name: str, rule: r.Rule, field: str, limit: float
) -> None:
    assert met(rule, **{field: limit}), name
    assert met(rule, **{field: limit * (1 - JUST)}), name
    assert not met(rule, **{field: limit * (1 + JUST)}), name


@pytest.mark.row("E3")
@pytest.mark.parametrize(("name", "rule", "field", "limit"), LEAST + MOST, ids=[x[0] for x in LEAST + MOST])
@pytest.mark.parametrize("value", [NAN, -math.inf])
def test_what_is_no_number_is_never_met_and_reads_not_known(
    name: str, rule: r.Rule, field: str, limit: float, value: float
) -> None:
    value = -value if (name, rule, field, limit) in MOST else value
    found = findings(rule, Found(**{field: value}))  # type: ignore[arg-type] # fields of Found
    missed = [f for f in found if not f.met]
    assert [f.found for f in missed] == [None]
    assert "not known" in missed[0].explain()


def test_forty_eight_counted_hours_allow_a_light_load_below_seven_mpa() -> None:
    # Common practice, no source: 48 h.
    for counted, wanted in ((48.0, True), (48.0 * (1 + JUST), True), (48.0 * (1 - JUST), False)):
        assert met(CLOCK[LOAD], counted=counted, bound=5.0) is wanted
    assert not met(COMMON[LOAD], counted=48.0, bound=5.0)


def test_the_light_load_needs_five_mpa_and_the_written_consent() -> None:
    assert not met(CLOCK[LOAD], counted=48.0, bound=5.0 - 1e-9)
    assert not met(CLOCK[LOAD], counted=48.0, bound=5.0, written=None)
    assert met(CLOCK[LOAD], counted=0.0, bound=7.0, written=None)


@pytest.mark.row("E9")
def test_the_stricter_of_each_pair_is_stored() -> None:
    # Common practice, no source: 500 psi and 3.5 MPa, 1000 psi and 7 MPa, 40 degF and 5 degC are not the same.
    assert units.psi_to_mpa(500.0) < 3.5
    assert units.psi_to_mpa(1000.0) < 7.0
    assert units.f_to_c(40.0) < 5.0


@pytest.mark.parametrize("plan", PLANS)
def test_load_needs_the_strip_done_the_load_on_file_and_nobody_stripping(plan: str) -> None:
    load = PLANS[plan][LOAD]
    assert met(load)
    assert not met(load, finished=())
    assert not met(load, near=("2-b2",))
    for nothing in (None, 0.0, -1.0, NAN):
        assert not met(load, load=nothing)


@pytest.mark.parametrize("plan", PLANS)
def test_nobody_walks_where_a_strip_is_under_way(plan: str) -> None:
    assert met(PLANS[plan][WALK])
    assert not met(PLANS[plan][WALK], near=("2-b2",))
    assert met(PLANS[plan][STRIP], near=("2-b2",))


def test_an_operation_is_done_or_not() -> None:
    assert met(DONE)
    assert not met(DONE, finished=(WALK,))


def test_what_a_crew_ticks_before_a_pour_is_no_document_that_releases() -> None:
    for name in TICKS.values():
        ticked = Found(filed=(Document(name, "seen", "crew", 1),))
        (finding,) = findings(r.DocumentRule(document=name), ticked)
        assert (finding.met, finding.found) == (False, "none on file")


def test_a_document_is_the_one_that_is_named_word_by_word() -> None:
    rule = r.DocumentRule(document="shoring plan")
    on_file = [Document("shoring plan", f"S-{n}", "engineer", n) for n in (1, 2)]
    (found,) = findings(rule, Found(filed=tuple(on_file)))
    assert (found.met, found.found) == (True, "S-2")
    assert not met(rule, filed=(Document("Shoring plan", "S-1", "engineer", 1),))
    assert not met(rule, filed=())


def cylinders(*mpa: float) -> tuple[TestResult, ...]:
    return tuple(broken(value) for value in mpa)


TESTED = r.TestsRule(tested_mpa=20.0)


def test_the_lowest_of_enough_tests_decides() -> None:
    assert met(TESTED, tested=cylinders(20.0, 25.0))
    assert met(TESTED, tested=cylinders(20.0 * (1 + JUST), 25.0))
    assert not met(TESTED, tested=cylinders(20.0 * (1 - JUST), 25.0))
    assert not met(TESTED, tested=cylinders(30.0))
    assert not met(r.TestsRule(tested_mpa=20.0, at_least=3), tested=cylinders(30.0, 30.0))
    assert not met(TESTED, tested=cylinders(30.0, 30.0, 19.9))


@pytest.mark.row("E3")
@pytest.mark.parametrize("at", [0, 1, 2])
def test_a_test_of_no_number_is_not_passed_over(at: int) -> None:
    some = [30.0, 30.0, 30.0]
    some[at] = NAN
    assert not met(TESTED, tested=cylinders(*some))


@pytest.mark.parametrize(
    ("changes", "counts"),
    [
        ({}, True),
        ({"equivalent_age_h": 60.0}, True),
        ({"equivalent_age_h": 60.0 * (1 + JUST)}, False),
        ({"equivalent_age_h": None}, False),
        ({"equivalent_age_h": NAN}, False),
        ({"last_third": False}, False),
        ({"last_third": False, "position": "grid B4"}, False),
    ],
)
def test_a_cylinder_counts_with_its_own_record_of_the_last_third_and_no_riper_than_the_coldest_zone(
    changes: dict[str, object], counts: bool
) -> None:
    assert met(TESTED, tested=(broken(30.0), broken(30.0, **changes)), governing=60.0) is counts


@pytest.mark.row("E3")
def test_no_cylinder_counts_while_nobody_knows_how_ripe_the_coldest_zone_is() -> None:
    assert not met(TESTED, tested=cylinders(30.0, 30.0), governing=NAN)


@pytest.mark.parametrize("method", ["pullout", "penetration", "cast-in-place cylinder"])
def test_a_test_in_the_slab_counts_with_its_position_in_the_last_third(method: str) -> None:
    there, nowhere = pulled(30.0, method=method), pulled(30.0, method=method, position=None)
    assert met(TESTED, tested=(there, there), governing=NAN)
    assert not met(TESTED, tested=(there, nowhere))
    assert not met(TESTED, tested=(there, pulled(30.0, method=method, last_third=False)))


def test_a_later_set_of_tests_stands_for_an_earlier_one_and_nothing_is_left_out_of_a_set() -> None:
    young = (broken(15.0), broken(16.0))
    old = tuple(broken(mpa, tested_ms=ONE_SET_MS) for mpa in (20.0, 25.0))
    assert not met(TESTED, tested=young)
    assert met(TESTED, tested=(*young, *old))
    assert met(TESTED, tested=(*old, *young))
    weak = broken(19.0, tested_ms=1)
    assert not met(TESTED, tested=(*young, weak, *old))
    assert not met(TESTED, tested=(*old, *(broken(19.0, tested_ms=2 * ONE_SET_MS) for _ in range(2))))
    assert met(TESTED, tested=(*old, broken(30.0, tested_ms=2 * ONE_SET_MS))), "a good one takes nothing away"
    assert not met(TESTED, tested=(*old, broken(19.0, tested_ms=2 * ONE_SET_MS)))
    assert not met(TESTED, tested=(*young, broken(30.0, tested_ms=2 * ONE_SET_MS))), "a set of one is no set"


def test_a_rule_may_want_one_kind_of_test() -> None:
    in_slab, cylinder = r.TestsRule(tested_mpa=20.0, method="in slab"), r.TestsRule(tested_mpa=20.0, method="cylinder")
    both = (broken(30.0), pulled(30.0))
    assert met(TESTED, tested=both)
    for rule in (in_slab, cylinder):
        assert not met(rule, tested=both)
    assert met(in_slab, tested=(pulled(30.0), pulled(30.0), broken(1.0)))
    assert met(cylinder, tested=(broken(30.0), broken(30.0), pulled(1.0)))


def test_a_share_of_the_specified_strength_needs_the_specified_strength() -> None:
    share = r.TestsRule(tested_percent=75.0)
    assert met(share, tested=cylinders(24.0, 24.0), specified=32.0)
    assert not met(share, tested=cylinders(24.0 * (1 - JUST), 24.0), specified=32.0)
    assert not met(share, tested=cylinders(90.0, 90.0), specified=None)


def test_all_needs_every_part_and_any_one_way() -> None:
    hot, strong = r.WarmRule(warm_h=1.0, at_c=30.0), r.StrengthRule(lower_bound_mpa=15.0)
    assert not met(r.AllRule(all=(hot, strong)))
    assert met(r.AllRule(all=(strong, DONE)))
    assert met(r.AnyRule(any=(hot, strong)))
    assert not met(r.AnyRule(any=(hot, r.StrengthRule(lower_bound_mpa=25.0))))


def test_any_shows_the_way_that_is_met_and_otherwise_all_of_them() -> None:
    strong, weak = r.StrengthRule(lower_bound_mpa=15.0), r.StrengthRule(lower_bound_mpa=25.0)
    old = r.AgeRule(age_h=500.0)
    assert [f.limit for f in findings(r.AnyRule(any=(weak, strong)), Found())] == [15.0]
    assert [f.limit for f in findings(r.AnyRule(any=(weak, old)), Found())] == [25.0, 500.0]


def test_what_may_change_by_the_hour_is_momentary_and_hours_strength_and_tests_last() -> None:
    assert [f.lasting for f in findings(COMMON[STRIP], Found())] == [True, False, True]
    assert [f.lasting for f in findings(r.AllRule(all=tuple(rule for _, rule, _, _ in MOST)), Found())] == [False] * 2
    assert [f.lasting for f in findings(COMMON[LOAD], Found())] == [True, True, True, False]
    assert [f.lasting for f in findings(TESTED, Found())] == [True, True]


@pytest.mark.row("O6")
def test_a_requirement_prints_itself_as_one_sentence() -> None:
    assert sentence(COMMON[STRIP]) == (
        "24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; "
        "lower bound of strength 3.5 MPa (508 psi)"
    )
    rules: list[r.Rule] = [rule for _, rule, _, _ in LEAST + MOST]
    rules += [TESTED, r.TestsRule(tested_percent=75.0), *NOTHING_ON_FILE]
    said = [sentence(rule) for rule in rules]
    assert all(words and "\n" not in words for words in said)
    assert sentence(r.AnyRule(any=(rules[-1], rules[-2]))) == f"({said[-1]}) or ({said[-2]})"


@pytest.mark.parametrize("rule", NOTHING_ON_FILE, ids=[type(rule).__name__ for rule in NOTHING_ON_FILE])
def test_what_is_not_on_file_is_not_met(rule: r.Rule) -> None:
    assert not met(rule, load=None, written=None, filed=(), finished=(), near=("2-b2",))


def test_the_clock_and_strength_rules_are_found_only_where_they_always_hold() -> None:
    hours, strength = clock_rule(COMMON[WALK]), strength_rule(COMMON[WALK])
    assert hours is not None
    assert strength is not None
    assert (hours.counted_h, strength.lower_bound_mpa) == (24.0, 3.5)
    assert clock_rule(CLOCK[LOAD]) is None
    assert strength_rule(r.AllRule(all=(DONE,))) is None
