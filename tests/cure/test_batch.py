"""The closed-form update against a textbook, against quadrature, and against the whole joint distribution."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats
from store_support import POUR, make_calibration, make_site

from cure.batch import CYLINDER_SD_RATIO, TRUCK_SD_RATIO, Batch, Known, batch_of, updated
from cure.bound import BATCH_SD_RATIO
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.base import PourId
from shared.models.decisions import MixTest

CALIBRATION = make_calibration()
MIX = make_site().mix[0]


def cylinder(ratio: float, age_h: float = 24.0, n: int = 0) -> MixTest:
    on_curve = float(CURVES["exponential"].strength_mpa(np.array([age_h]), CALIBRATION.parameters)[0])
    return MixTest(PourId(POUR), n, age_h, ratio * on_curve)


@pytest.mark.parametrize(
    ("before", "found", "after"),
    [
        (Known(900.0, 20.0), Known(850.0, 40.0), Known(890.0, 17.9)),
        (Known(800.0, 80.0), Known(850.0, 40.0), Known(840.0, 35.8)),
        (Known(900.0, 20.0), Known(870.0, 4.0), Known(871.2, 3.9)),
        (Known(800.0, 80.0), Known(870.0, 4.0), Known(869.8, 4.0)),
    ],
)
def test_two_physicists_learn_a_constant_as_box_and_tiao_have_it(before: Known, found: Known, after: Known) -> None:
    # Box and Tiao, Bayesian Inference in Statistical Analysis, 1973, 1.2.3 (from memory): one observation of sd 40,
    # then the mean of a hundred, 870 with sd 4.
    now = updated(before, found)
    assert (now.mean, now.sd) == pytest.approx((after.mean, after.sd), abs=0.06)


@pytest.mark.parametrize(("sd", "off"), [(0.08, 0.12), (0.08, 0.02), (0.02, 0.3), (0.2, 0.2)])
@pytest.mark.parametrize("found", [-0.3, -0.04, 0.2])
def test_the_closed_form_is_bayes_rule_by_quadrature(sd: float, off: float, found: float) -> None:
    now = updated(Known(0.01, sd), Known(found, off))

    def moment(k: int) -> float:
        def weighed(x: Floats) -> Floats:
            return np.asarray(stats.norm.pdf(x, 0.01, sd) * stats.norm.pdf(found, x, off) * (x - now.mean) ** k)

        return float(integrate.fixed_quad(weighed, now.mean - 9.0 * now.sd, now.mean + 9.0 * now.sd, n=64)[0])

    assert moment(1) / moment(0) == pytest.approx(0.0, abs=1e-9)
    assert math.sqrt(moment(2) / moment(0)) == pytest.approx(now.sd, rel=1e-6)


@pytest.mark.parametrize("sd", [0.0, -1.0, math.nan])
def test_a_spread_that_cannot_be_is_refused(sd: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        updated(Known(0.0, sd), Known(0.0, 1.0))
    with pytest.raises(ValueError, match="above 0"):
        updated(Known(0.0, 1.0), Known(0.0, sd))


def test_the_update_is_the_conditional_of_the_whole_joint_normal() -> None:
    # By linear algebra and with differences for slopes: the next truck's strength over the curve, given cylinders of
    # two ages that are all of one other truck.
    ages, ratios = np.array([20.0, 20.0, 36.0, 36.0, 36.0]), np.array([0.95, 0.97, 0.93, 0.96, 0.99])
    p, curve = CALIBRATION.parameters, CURVES["exponential"]
    s = curve.strength_mpa(ages, p)
    shared = np.sqrt(
        np.array([g @ np.array(CALIBRATION.covariance) @ g for g in curve.gradient(ages, p)])
        + (s - curve.strength_mpa(ages - 1.0, p)) ** 2
        + (s - curve.strength_mpa(0.97 * ages, p)) ** 2
    ) / s  # fmt: skip
    pour = BATCH_SD_RATIO**2 - TRUCK_SD_RATIO**2
    # All of one pour's cylinders are off together by the mean of what each may be off.
    together = float(np.mean(shared)) ** 2 + TRUCK_SD_RATIO**2
    among = np.full((5, 5), pour + together) + CYLINDER_SD_RATIO**2 * np.eye(5)
    weights = np.linalg.solve(among, np.full(5, pour))
    found = batch_of(CALIBRATION, MIX, [cylinder(r, a) for r, a in zip(ratios.tolist(), ages.tolist(), strict=True)])
    assert found.cylinders == 5
    assert math.log(found.ratio) == pytest.approx(float(weights @ np.log(ratios)), rel=1e-9)
    assert found.sd_ratio**2 == pytest.approx(float(BATCH_SD_RATIO**2 - weights @ np.full(5, pour)), rel=1e-9)


def test_without_cylinders_of_a_tested_age_nothing_is_learned() -> None:
    young, old = CALIBRATION.tested_from_h - 0.1, CALIBRATION.tested_to_h + 0.1
    for tests in ([], [cylinder(0.5, young), cylinder(0.5, old)]):
        assert batch_of(CALIBRATION, MIX, tests) == Batch(sd_ratio=BATCH_SD_RATIO)


def test_of_a_mix_whose_batches_are_wider_more_is_learned_and_less_is_known() -> None:
    wide = CALIBRATION.model_copy(update={"batch_sd_percent": 15.0})
    tests = [cylinder(0.9)] * 4
    usual, wider = batch_of(CALIBRATION, MIX, tests), batch_of(wide, MIX, tests)
    assert 0.9 < wider.ratio < usual.ratio < 1.0
    assert wider.sd_ratio > usual.sd_ratio


@given(st.lists(st.floats(0.6, 1.4), min_size=1, max_size=12), st.floats(0.0, 0.3))
def test_weaker_cylinders_never_tell_of_a_stronger_batch_nor_of_less_than_the_truck(
    ratios: list[float], less: float
) -> None:
    told, weaker = (batch_of(CALIBRATION, MIX, [cylinder(r - by) for r in ratios]) for by in (0.0, less))
    assert weaker.ratio <= told.ratio + 1e-12
    assert TRUCK_SD_RATIO < told.sd_ratio < BATCH_SD_RATIO
    # It never goes beyond what was seen.
    assert min(1.0, *ratios) - 1e-12 <= told.ratio <= max(1.0, *ratios) + 1e-12


@pytest.mark.parametrize("mpa", [math.nan, -1.0, 0.0])
def test_a_strength_that_is_none_makes_a_batch_that_is_no_number(mpa: float) -> None:
    odd = MixTest(PourId(POUR), 0, 24.0, mpa)
    assert math.isnan(batch_of(CALIBRATION, MIX, [cylinder(1.0), odd]).ratio)


def test_of_20000_true_pours_nine_in_ten_next_trucks_are_above_the_tenth_percentile() -> None:
    # Drawn as the model has it, the cylinders of one truck and the slab of another: a share of 0.9 to 0.006.
    rng, n, age = np.random.default_rng(5), 20_000, 24.0
    blank = batch_of(CALIBRATION, MIX, [cylinder(1.0, age)] * 4)
    shared = _shared(age)
    pour = math.sqrt(BATCH_SD_RATIO**2 - TRUCK_SD_RATIO**2) * rng.standard_normal(n)
    seen = pour + math.hypot(TRUCK_SD_RATIO, shared, CYLINDER_SD_RATIO / 2.0) * rng.standard_normal(n)
    # Linear in what is seen, as every conjugate normal: one case gives the share of all.
    share = math.log(batch_of(CALIBRATION, MIX, [cylinder(math.e**-0.1, age)] * 4).ratio) / -0.1
    next_truck = pour + TRUCK_SD_RATIO * rng.standard_normal(n)
    held = next_truck >= share * seen - 1.2815515655446004 * blank.sd_ratio
    assert float(np.mean(held)) == pytest.approx(0.9, abs=0.006)


def _shared(age_h: float) -> float:
    at, p, curve = np.array([age_h]), CALIBRATION.parameters, CURVES["exponential"]
    s, (g,) = curve.strength_mpa(at, p), curve.gradient(at, p)
    later = [s - curve.strength_mpa(age, p) for age in (at - 1.0, 0.97 * at)]
    return float(np.sqrt(g @ np.array(CALIBRATION.covariance) @ g + sum(x**2 for x in later))[0] / s[0])
