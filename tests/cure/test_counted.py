"""A pour's own cylinders: they lower at once, raise nothing but by the calibration's rule, and odd ones only lower."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cure_support import Story, make_case
from gates_support import site_with
from hypothesis import given
from hypothesis import strategies as st
from store_support import POUR, make_calibration, make_site

from cure.batch import batch_of
from cure.bound import lower_bound_mpa
from cure.counted import WHY_NOT, as_counted, counted
from cure.strength import CURVES
from cure.verification import verified
from shared.models.base import HOUR_MS, PourId
from shared.models.calibration import Calibration, OwnCylinders
from shared.models.decisions import MixTest

LOWERS = OwnCylinders()
NARROWS = OwnCylinders(narrow_to_percent=7.0, narrow_from=4)
OWN, OTHER = PourId(POUR), PourId("an earlier pour")
MIX = make_site().mix[0]


def calibration(rule: OwnCylinders | None, **changes: Any) -> Calibration:
    return make_calibration(own_cylinders=rule, **changes)


def one_set(*ratios: float, n: int = 0, pour: PourId = OWN, age_h: float = 24.0) -> list[MixTest]:
    """Return a set, the n-th of its pour a day after the one before and a day of equivalent age riper."""
    age = age_h * (n + 1)
    on_curve = float(CURVES["exponential"].strength_mpa(np.array([age]), calibration(None).parameters)[0])
    return [MixTest(pour, n * 24 * HOUR_MS + i, age, ratio * on_curve) for i, ratio in enumerate(ratios)]


STRONG = [*one_set(1.02, 1.04, 1.03), *one_set(1.0, 1.02, n=1)]
GOOD = [*one_set(0.98, 1.01, 1.0), *one_set(0.99, 1.02, n=1)]


def final_mpa(c: Calibration) -> float:
    return float(c.parameters.model_dump()["su_mpa"])


def bound(c: Calibration | None, age_h: float = 30.0) -> float:
    if c is None:
        return math.nan
    ages = age_h * np.array([[1.0, 0.93, 1.0, 0.95, 0.9, 0.9, 24.0]])
    return float(lower_bound_mpa(ages, c, MIX)[0])


def bound_after(rule: OwnCylinders | None, tests: Sequence[MixTest]) -> float:
    return bound(as_counted(calibration(rule), MIX, tests, OWN)[0])


def test_without_a_rule_they_count_by_the_sets_of_the_mix_alone() -> None:
    for tests in ([], GOOD, one_set(0.97, 0.96), one_set(0.92, 0.93)):
        plain = calibration(None)
        left, stands = as_counted(plain, MIX, tests, OWN)
        assert left is not None
        assert left.batch_sd_percent is None
        by_sets = verified(plain, tests, OWN).ratio
        assert left.parameters.model_dump()["su_mpa"] == pytest.approx(
            by_sets * plain.parameters.model_dump()["su_mpa"]
        )
        assert (stands.own.lowers_to, stands.own.narrows_to) == (1.0, None)


def test_a_shortfall_that_no_set_acts_on_lowers_at_once_and_a_single_cylinder_too() -> None:
    for tests in (one_set(0.97, 0.97), one_set(0.97)):
        assert bound_after(None, tests) == bound_after(None, [])
        found = counted(calibration(LOWERS), MIX, tests, OWN)
        assert 0.97 < found.lowers_to < 1.0
        assert bound_after(LOWERS, tests) == pytest.approx(found.lowers_to * bound_after(None, []), rel=1e-9)


def test_those_of_another_pour_say_nothing_of_this_one() -> None:
    assert counted(calibration(LOWERS), MIX, one_set(0.97, 0.97, pour=OTHER), OWN) == batch_of(
        calibration(None), MIX, []
    )


def test_the_lower_of_the_sets_ratio_and_the_batch_counts_never_their_product() -> None:
    low = one_set(0.90, 0.91)
    left, stands = as_counted(calibration(LOWERS), MIX, low, OWN)
    assert left is not None
    assert stands.ratio == pytest.approx(0.905)
    assert stands.ratio < stands.own.lowers_to < 1.0
    assert final_mpa(left) == pytest.approx(0.905 * final_mpa(calibration(None)))


@given(st.lists(st.lists(st.floats(0.5, 1.6), min_size=1, max_size=4), max_size=5))
def test_without_a_rule_to_narrow_no_cylinders_raise_the_bound_at_any_age(sets: list[list[float]]) -> None:
    tests = [one for n, ratios in enumerate(sets) for one in one_set(*ratios, n=n)]
    left, _ = as_counted(calibration(LOWERS), MIX, tests, OWN)
    for age_h in (12.0, 30.0, 100.0):
        assert not bound(left, age_h) > bound(calibration(None), age_h) * (1 + 1e-12)


@given(st.lists(st.lists(st.floats(0.5, 1.6), min_size=1, max_size=4), max_size=5))
def test_by_the_rule_the_bound_is_never_above_that_of_the_narrowest_spread_nor_k_times_the_curve(
    sets: list[list[float]],
) -> None:
    tests = [one for n, ratios in enumerate(sets) for one in one_set(*ratios, n=n)]
    left, stands = as_counted(calibration(NARROWS), MIX, tests, OWN)
    narrowest = calibration(None).model_copy(update={"batch_sd_percent": 7.0})
    assert not bound(left) > bound(narrowest) * (1 + 1e-12)
    if stands.own.narrows_to is None:
        assert not bound(left) > bound(calibration(None)) * (1 + 1e-12)


def test_good_cylinders_of_two_sets_narrow_the_spread_and_raise_the_bound() -> None:
    found = counted(calibration(NARROWS), MIX, GOOD, OWN)
    assert found.why_not == ""
    assert found.narrows_to is not None
    assert 0.07 <= found.narrows_to < 0.10
    assert found.narrows_to == found.sd_ratio
    assert bound_after(NARROWS, GOOD) > bound_after(LOWERS, GOOD)
    # Not beyond what the rule says.
    floor = OwnCylinders(narrow_to_percent=9.5)
    assert counted(calibration(floor), MIX, GOOD, OWN).narrows_to == pytest.approx(0.095)


ODD = {
    "few": [*one_set(1.0, 1.0, 1.0, 1.0)],
    "unlike": [*one_set(0.94, 1.06), *one_set(1.0, 1.0, n=1)],
    "far": [*GOOD, *one_set(1.16, n=2)],
    "lowered": [*GOOD, *one_set(0.93, 0.94, n=2, pour=OTHER)],
    "suspended": [*GOOD, *one_set(0.80, 0.80, n=2, pour=OTHER)],
    "drifts": [one for n in range(6) for one in one_set(0.953, 0.957, n=n, pour=OTHER)] + GOOD[:0],
    "low": [*one_set(0.94, 0.94), *one_set(1.0, 1.0, n=1), *one_set(1.0, 1.0, n=2), *one_set(1.0, 1.0, n=3)],
}


@pytest.mark.parametrize("why", sorted(ODD))
def test_odd_cylinders_or_an_odd_mix_narrow_nothing_and_it_says_why(why: str) -> None:
    tests = ODD[why]
    if why == "drifts":
        # Its own good ones before the others', which drift since.
        tests = [*GOOD, *(replace(t, tested_ms=t.tested_ms + 100 * HOUR_MS) for t in tests)]
    found = counted(calibration(NARROWS), MIX, tests, OWN)
    assert (found.why_not, found.narrows_to) == (why, None)
    assert why in WHY_NOT
    assert not bound_after(NARROWS, tests) > bound_after(None, [])


def test_where_they_do_not_say_enough_it_says_so() -> None:
    vague = calibration(OwnCylinders(narrow_to_percent=10.0))
    assert counted(vague, MIX, GOOD, OWN).why_not == "vague"
    assert set(WHY_NOT) == {*ODD, "vague"}


@pytest.mark.parametrize("mpa", [math.nan, -3.0, 0.0])
@pytest.mark.parametrize("rule", [LOWERS, NARROWS])
def test_a_strength_that_is_none_lets_nothing_pass(mpa: float, rule: OwnCylinders) -> None:
    tests = [*GOOD, MixTest(OWN, 48 * HOUR_MS, 60.0, mpa)]
    assert not bound_after(rule, tests) > 0.0
    assert counted(calibration(rule), MIX, tests, OWN).narrows_to is None


def test_a_round_judges_by_it_and_the_evidence_says_so() -> None:
    story = Story(make_case(site_with())).run(26)

    def told(rule: OwnCylinders | None) -> tuple[float, float]:
        story.case = replace(story.case, calibration=calibration(rule), mix_tests=tuple(STRONG))
        story.round()
        estimate = story.case.state.estimate
        assert estimate is not None
        assert estimate.lower_bound_mpa is not None
        return estimate.lower_bound_mpa, estimate.error_budget_mpa["batch"]

    (plain, whole), (narrowed, less) = told(None), told(NARROWS)
    narrows_to = counted(calibration(NARROWS), MIX, STRONG, OWN).narrows_to
    assert narrows_to is not None
    assert less == pytest.approx(whole * narrows_to / 0.10, rel=1e-9)
    assert narrowed >= plain
