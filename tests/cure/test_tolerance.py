"""Tolerance limits against the non-central t of scipy, and against printed factors."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from cure.tolerance import Tenth, tenth_of, tolerance_factor


def by_scipy(n: int, share: float, confidence: float) -> float:
    z = float(stats.norm.ppf(share))
    return float(stats.nct.ppf(confidence, n - 1, z * math.sqrt(n))) / math.sqrt(n)


@pytest.mark.parametrize("confidence", [0.75, 0.90, 0.95])
@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 100])
def test_the_factor_is_that_of_the_non_central_t(n: int, confidence: float) -> None:
    assert tolerance_factor(n, 0.90, confidence) == pytest.approx(by_scipy(n, 0.90, confidence), rel=1e-6)


@pytest.mark.parametrize(
    ("n", "share", "confidence", "printed"),
    [
        (3, 0.90, 0.75, 2.501),
        (5, 0.90, 0.75, 1.962),
        (10, 0.90, 0.75, 1.671),
        (3, 0.90, 0.90, 4.258),
        (3, 0.90, 0.95, 6.158),
        (3, 0.95, 0.75, 3.152),
        (10, 0.95, 0.75, 2.104),
    ],
)
def test_the_factor_is_that_of_the_printed_tables(n: int, share: float, confidence: float, printed: float) -> None:
    # Natrella, NBS Handbook 91, table A-7 (from memory; its 6.158 is 6.155 exactly), the last two computed apart.
    assert tolerance_factor(n, share, confidence) == pytest.approx(printed, abs=0.004)


def test_the_silicon_wafers_of_the_nist_handbook_have_their_limit() -> None:
    # NIST/SEMATECH 7.2.6.3 (read in a secondary sheet): 43 wafers, mean 97.06983, s 0.02680, 90 % of all with 99 %
    # confidence: its approximate factor is 1.8752; exactly it is 1.8740, and the lower limit 97.0196.
    factor = tolerance_factor(43, 0.90, 0.99)
    assert factor == pytest.approx(1.8739536, abs=1e-6)
    assert factor == pytest.approx(1.8752, abs=2e-3)
    assert 97.069832 - factor * 0.026798 == pytest.approx(97.01961, abs=3e-5)


def test_five_sensors_worked_by_hand() -> None:
    # By hand: 4.6, 4.4, 4.7, 4.2, 4.5 have mean 4.48 and s 0.19235; 4.48 - 1.962 x 0.19235 = 4.10.
    found = tenth_of([4.6, 4.4, 4.7, 4.2, 4.5])
    assert found is not None
    assert (found.mean, found.sd, found.lower) == pytest.approx((4.48, 0.19235, 4.1026), abs=1e-4)


@pytest.mark.parametrize("values", [[], [1.0, 0.9], [1.0, math.nan, 0.9], [1.0, math.inf, 0.9]])
def test_of_too_few_or_of_no_numbers_nothing_is_said(values: list[float]) -> None:
    assert tenth_of(values) is None


def test_without_spread_it_is_the_mean() -> None:
    assert tenth_of([1.0] * 4) == Tenth(4, 1.0, 0.0, tolerance_factor(4), 1.0)


@pytest.mark.parametrize(("n", "share", "confidence"), [(1, 0.9, 0.75), (3, 0.5, 0.75), (3, 1.0, 0.75), (3, 0.9, 1.0)])
def test_what_cannot_be_is_refused(n: int, share: float, confidence: float) -> None:
    with pytest.raises(ValueError, match="two values"):
        tolerance_factor(n, share, confidence)
