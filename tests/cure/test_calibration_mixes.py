"""Programmes of true mixes whose cylinders are not where the thresholds are: for planning only, whatever the mix."""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import Final

import numpy as np

from cure.calibration import Judged, Verdict
from deploy.bench.mixes import NEAR_MPA, Array, Laboratories, Mixes, programme

SOME: Final = 30


@cache
def laboratories() -> tuple[Mixes, Laboratories]:
    rng = np.random.default_rng(11)
    mixes = Mixes.random(rng, SOME)
    return mixes, Laboratories.random(rng, mixes)


def judged(ages_h: list[Array], seed: int = 12) -> list[Judged]:
    mixes, labs = laboratories()
    # Of its own, so that no test depends on the one before.
    rng = np.random.default_rng(seed)
    return [programme(mixes, labs, i, ages, rng) for i, ages in enumerate(ages_h)]


def at_strengths(*mpa: float) -> list[Array]:
    """Return hours at which each mix has about these strengths in the laboratory, then a week and 28 days."""
    mixes, labs = laboratories()
    columns = [mixes.age_h(np.full(SOME, m)) for m in mpa]
    ages = np.stack([labs.lasts_h(hours) for hours in columns], axis=1)
    return [np.concatenate((row, np.maximum([168.0, 672.0], row[-1] + [24.0, 300.0]))) for row in ages]


def test_without_cylinders_as_weak_as_the_threshold_a_calibration_is_for_planning_only() -> None:
    assert {found.verdict for found in judged(at_strengths(5.5, 7.0, 11.0, 16.0))} == {Verdict.PLANNING}


def test_with_none_between_very_weak_and_very_strong_cylinders_it_is_for_planning_only() -> None:
    assert {found.verdict for found in judged(at_strengths(1.0, 1.3, 15.0, 18.0))} == {Verdict.PLANNING}


def test_without_any_of_ten_megapascals_it_is_for_planning_only() -> None:
    ages = [row[:-2] for row in at_strengths(2.4, 3.3, 4.4, 5.5, 7.0, 8.5)]
    assert Counter(found.verdict for found in judged(ages))[Verdict.RELEASE] == 0


def test_with_cylinders_about_both_thresholds_most_calibrations_are_fit_for_release() -> None:
    assert Counter(found.verdict for found in judged(at_strengths(*NEAR_MPA)))[Verdict.RELEASE] > 0.7 * SOME
