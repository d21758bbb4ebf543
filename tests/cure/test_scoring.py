from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from cure.maturity import Floats
from cure.scoring import crps_ensemble, crps_levels, crps_normal, crps_until

HOUR = st.floats(-200.0, 200.0)
SPREAD = st.floats(0.01, 50.0)
MEMBERS = st.lists(HOUR, min_size=2, max_size=30).map(np.array)


def test_the_score_of_the_standard_normal_at_its_middle_is_the_published_one() -> None:
    # Gneiting and Raftery 2007 (from memory): (sqrt(2) - 1) / sqrt(pi) = 0.2336950, computed by an open library too.
    assert crps_normal(0.0, 1.0, 0.0) == pytest.approx((math.sqrt(2.0) - 1.0) / math.sqrt(math.pi), rel=1e-12)
    assert crps_normal(0.0, 1.0, 0.0) == pytest.approx(0.2336950, abs=5e-8)


@pytest.mark.parametrize("found", [-3.0, 0.0, 0.7, 4.0])
def test_the_closed_form_is_the_integral_that_defines_the_score(found: float) -> None:
    below = integrate.quad(lambda x: stats.norm.cdf(x, 1.0, 2.0) ** 2, -30.0, found)[0]
    above = integrate.quad(lambda x: stats.norm.sf(x, 1.0, 2.0) ** 2, found, 30.0)[0]
    assert crps_normal(1.0, 2.0, found) == pytest.approx(below + above, rel=1e-6)


@given(HOUR, SPREAD, HOUR, HOUR, st.floats(0.1, 10.0))
def test_the_score_moves_with_the_hours_and_grows_with_their_unit(
    mean: float, sd: float, found: float, shift: float, by: float
) -> None:
    score = crps_normal(mean, sd, found)
    assert score >= 0.0
    assert crps_normal(mean + shift, sd, found + shift) == pytest.approx(score, rel=1e-6, abs=1e-9)
    assert crps_normal(mean * by, sd * by, found * by) == pytest.approx(score * by, rel=1e-6, abs=1e-9)


@given(HOUR, HOUR)
def test_without_spread_the_score_is_the_error(mean: float, found: float) -> None:
    assert crps_normal(mean, 0.0, found) == abs(found - mean)
    assert crps_normal(mean, 1e-9, found) == pytest.approx(abs(found - mean), abs=1e-8)
    assert crps_ensemble(np.array([mean]), found) == abs(found - mean)
    assert crps_ensemble(np.full(5, mean), found) == pytest.approx(abs(found - mean))


@given(MEMBERS, HOUR)
def test_the_score_of_an_ensemble_is_that_over_all_its_pairs(members: Floats, found: float) -> None:
    n = len(members)
    pairs = float(np.abs(members[:, None] - members[None, :]).sum()) / (n * (n - 1))
    assert crps_ensemble(members, found) == pytest.approx(
        float(np.abs(members - found).mean()) - pairs / 2.0, abs=1e-9, rel=1e-9
    )


@given(MEMBERS, HOUR, st.integers(0, 99))
def test_the_order_of_members_does_not_matter(members: Floats, found: float, seed: int) -> None:
    assert crps_ensemble(np.random.default_rng(seed).permutation(members), found) == pytest.approx(
        crps_ensemble(members, found), abs=1e-9
    )


@pytest.mark.parametrize("found", [-1.5, 0.0, 2.5])
def test_many_members_score_as_the_distribution_they_are_drawn_from(found: float) -> None:
    members = stats.norm.ppf((np.arange(4000) + 0.5) / 4000)
    assert crps_ensemble(members, found) == pytest.approx(crps_normal(0.0, 1.0, found), abs=1e-3)


def test_how_many_members_there_are_does_not_tilt_the_score() -> None:
    # "Fair": expected over draws it is that of the distribution, which for truth from it is sd / sqrt(pi).
    rng = np.random.default_rng(7)
    for size in (2, 5, 40):
        scores = [crps_ensemble(rng.normal(size=size), float(rng.normal())) for _ in range(6000)]
        assert float(np.mean(scores)) == pytest.approx(1.0 / math.sqrt(math.pi), abs=0.03)


def test_the_honest_spread_scores_best() -> None:
    truth = np.random.default_rng(11).normal(size=4000)
    scores = {sd: np.mean([crps_normal(0.0, sd, float(y)) for y in truth]) for sd in (0.5, 1.0, 2.0)}
    assert min(scores, key=scores.__getitem__) == 1.0


def test_what_never_came_counts_as_the_horizon() -> None:
    members = np.array([30.0, 50.0, math.inf, 200.0])
    assert crps_until(members, math.inf, 120.0) == crps_ensemble(np.array([30.0, 50.0, 120.0, 120.0]), 120.0)
    assert crps_until(members, 40.0, 120.0) == crps_ensemble(np.array([30.0, 50.0, 120.0, 120.0]), 40.0)
    assert crps_until(np.full(3, math.inf), math.inf, 120.0) == 0.0


def test_what_is_not_known_scores_nothing_that_is_known() -> None:
    assert math.isnan(crps_normal(math.nan, 1.0, 0.0))
    assert math.isnan(crps_ensemble(np.array([1.0, math.nan]), 0.0))
    assert math.isnan(crps_until(np.array([1.0, 2.0]), math.nan, 120.0))


@pytest.mark.parametrize("sd", [-1.0, math.nan, math.inf])
def test_a_spread_that_cannot_be_is_refused(sd: float) -> None:
    with pytest.raises(ValueError, match="not below 0"):
        crps_normal(0.0, sd, 0.0)


def test_an_ensemble_without_members_is_refused() -> None:
    with pytest.raises(ValueError, match="has members"):
        crps_ensemble(np.array([]), 0.0)


def test_the_score_of_quantiles_is_that_of_the_distribution() -> None:
    normal = NormalDist()
    levels = np.array([normal.inv_cdf((i + 0.5) / 4000) for i in range(4000)])
    for found in (-1.5, 0.0, 0.4, 3.0):
        # Against the closed form; finitely many levels lack a little of the tails.
        assert crps_levels(levels, found) == pytest.approx(crps_normal(0.0, 1.0, found), abs=2e-4)
    assert crps_levels(np.array([2.0]), 5.0) == 3.0
    with pytest.raises(ValueError, match="quantiles"):
        crps_levels(np.array([]), 1.0)
