"""The bound against true mixes and slabs whose form, energy, batch, setting, sensors and edge are not the product's.

Their truth: `deploy.bench.mixes` and `deploy.bench.slabs`; `python -m deploy.bench.bound` prints the shares of 2000,
`FAULT_SCALE=4` tests them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np
import pytest
from bound_support import JUDGED
from store_support import make_calibration

from cure.counted import as_counted
from cure.strength import CURVES
from deploy.bench.bound import PLAIN, Held, coverage, wilson_lower, world
from deploy.bench.mixes import ENERGIES_KJ_PER_MOL
from deploy.bench.pours import REQUIRED_MPA
from shared.models.base import DAY_MS, LOAD, Operation, PourId
from shared.models.calibration import OwnCylinders
from shared.models.decisions import MixTest

LEAST: Final = 0.88
POUR: Final = PourId("p-1")

pytestmark = pytest.mark.long


@cache
def of_all(operation: Operation) -> Held:
    return coverage(world(JUDGED), REQUIRED_MPA[operation])


@pytest.mark.parametrize("operation", REQUIRED_MPA)
def test_of_all_mixes_the_bound_is_held_by_at_least_88_percent(operation: Operation) -> None:
    found = of_all(operation)
    assert len(found.held) == JUDGED
    assert found.lower >= LEAST


@pytest.mark.parametrize("operation", REQUIRED_MPA)
@pytest.mark.parametrize(("low_c", "high_c"), [(-5, 3), (3, 6), (6, 10), (10, 15), (15, 20), (20, 40)])
def test_it_is_held_at_every_temperature(operation: Operation, low_c: float, high_c: float) -> None:
    found = of_all(operation)
    there = (found.mean_c >= low_c) & (found.mean_c < high_c)
    # Some dozens: enough to see a bound that is held by three of four.
    assert np.sum(there) > JUDGED / 20
    assert np.mean(found.held[there]) >= LEAST


def own_cylinders(i: int, rng: np.random.Generator) -> list[MixTest]:
    """Return two pairs of cylinders of a slab's pour, of another truck, which set at its own hour, badly recorded."""
    whole = world(JUDGED)
    off = float(whole.slabs.batch[i]) - 1.0
    # What of it is this slab's truck alone, as the spreads of both have it.
    pour = off - (0.36 * off + 0.048 * rng.standard_normal())
    truck, late_h, record = rng.standard_normal(3)
    curve, mix = CURVES["exponential"], whole.mixes.only(np.array([i]))
    tests = []
    for n, mpa in enumerate((4.5, 8.0)):
        age_h = curve.age_h(mpa, whole.calibrations[i].parameters)
        at_h = age_h * (1.0 + 0.03 * record) - late_h
        true_mpa = (1.0 + pour + 0.06 * truck) * float(mix.strength_mpa(np.array([[at_h]]))[0, 0])
        found = np.maximum(0.1, true_mpa * (1.0 + 0.04 * rng.standard_normal(2)))
        tests += [MixTest(POUR, n * DAY_MS + k, age_h, float(one)) for k, one in enumerate(found)]
    return tests


def test_it_is_held_where_a_pour_s_own_cylinders_narrow_its_spread() -> None:
    whole, rng, rule = world(JUDGED), np.random.default_rng(4), OwnCylinders(narrow_to_percent=6.0)
    judged, narrowed = [], np.zeros(JUDGED, dtype=bool)
    for i, calibration in enumerate(whole.calibrations):
        ruled = calibration.model_copy(update={"own_cylinders": rule})
        left, stands = as_counted(ruled, PLAIN, own_cylinders(i, rng), POUR)
        narrowed[i] = left is not None and stands.own.narrows_to is not None
        judged.append(calibration if left is None else left)
    held = coverage(replace(whole, calibrations=tuple(judged)), REQUIRED_MPA[LOAD]).held[narrowed]
    assert len(held) > JUDGED / 5
    assert wilson_lower(int(np.sum(held)), len(held)) >= LEAST


def test_a_bound_that_is_too_high_is_not_held() -> None:
    whole = world(JUDGED)
    bold = make_calibration(parameters={"su_mpa": 60.0, "tau_h": 12.0, "beta": 0.9})
    boldly = type(whole)(
        whole.mixes, (bold,) * JUDGED, whole.tried, whole.slabs, whole.credited_c, whole.sums, whole.true_mpa
    )
    assert coverage(boldly, 3.5).lower < 0.5


def test_the_lower_limit_of_a_share_is_wilsons() -> None:
    # Newcombe, Statistics in Medicine 17, 1998, table I (from memory): 81 of 263 have 0.2553 to 0.3662.
    assert wilson_lower(81, 263) == pytest.approx(0.2553, abs=5e-5)


def test_the_true_energies_are_those_of_published_mixes() -> None:
    kj = world(JUDGED).mixes.energy_j_per_mol / 1000.0
    assert kj.min() >= min(ENERGIES_KJ_PER_MOL) == 30.0
    assert kj.max() <= max(ENERGIES_KJ_PER_MOL) == 64.0
