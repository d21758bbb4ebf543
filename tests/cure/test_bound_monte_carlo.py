"""The tenth percentile of the bound against a Monte Carlo prediction; `python -m deploy.bench.bound` prints it all."""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from store_support import make_calibration

from cure.accumulate import COLUMNS
from cure.bound import estimate_mpa, tenth_percentile_mpa
from deploy.bench.bound import demo_calibration, off_prediction
from deploy.bench.mixes import Array
from deploy.bench.prediction import HISTORIES, NEAR_FREEZING, STEADY_C, Record, steady
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

AGREES: Final = 0.02
"""Of the estimate: a quarter of a degree, or half an hour."""
PLAIN: Final = MixSettings(id="c32-f", supplementary=False)
RETARDED: Final = MixSettings(id="c32-f", supplementary=False, retarded=True)
TESTED: Final = make_calibration(
    activation_energy_kj_per_mol=44.0,
    activation_energy_sd_kj_per_mol=5.0,
    activation_energy_from_c=5.0,
    activation_energy_to_c=35.0,
)
FEW: Final = demo_calibration().model_copy(update={"degrees_of_freedom": 7, "digest": None})


def off(record: Record, calibration: Calibration | None = None, mix: MixSettings = PLAIN) -> Array:
    return off_prediction(record, demo_calibration() if calibration is None else calibration, mix, tries=40_000)


@pytest.mark.parametrize("c", STEADY_C)
def test_at_a_steady_temperature_it_is_within_2_percent(c: float) -> None:
    assert np.max(np.abs(off(steady(c)))) <= AGREES


@pytest.mark.parametrize("name", HISTORIES)
def test_across_the_bends_of_the_law_and_down_to_freezing_it_is_within_2_percent(name: str) -> None:
    assert np.max(np.abs(off(HISTORIES[name]))) <= AGREES


@pytest.mark.parametrize("name", NEAR_FREEZING)
def test_where_nothing_is_earned_at_times_it_is_below(name: str) -> None:
    assert np.max(off(NEAR_FREEZING[name])) <= 0.01


@pytest.mark.parametrize("c", [0.2, 0.5, 0.6, 0.65, 0.7, 0.8, 0.9, 1.0, 1.05, 1.1, 1.2, 1.4])
def test_between_freezing_and_one_degree_it_is_below(c: float) -> None:
    # The prediction falls to nothing where one in ten sensors is so far off that the concrete may be frozen.
    assert np.max(off(steady(c))) <= 0.012


@pytest.mark.parametrize("c", [2.0, 6.0, 10.0, 20.0, 30.0])
@pytest.mark.parametrize(
    ("calibration", "mix"),
    [(TESTED, PLAIN), (FEW, PLAIN), (demo_calibration(), RETARDED)],
    ids=["tested", "few", "late"],
)
def test_of_a_tested_law_few_cylinders_or_late_concrete_it_is_not_more_than_1_percent_above(
    calibration: Calibration, mix: MixSettings, c: float
) -> None:
    assert np.max(off(steady(c), calibration, mix)) <= 0.01


def test_the_prediction_is_of_the_same_concrete() -> None:
    # Without any spread in the curve, at 20 degC, late in life, it is the batch that is left: 1.28 x 10 %.
    sharp = make_calibration(covariance=((1e-9, 0.0, 0.0), (0.0, 1e-9, 0.0), (0.0, 0.0, 1e-12)))
    sums = np.full((1, COLUMNS), 500.0)
    estimate = float(estimate_mpa(sums, sharp)[0])
    assert float(tenth_percentile_mpa(sums, sharp, PLAIN)[0]) == pytest.approx((1.0 - 0.12816) * estimate, rel=0.003)
