"""The bound against true mixes and slabs whose form, energy, batch, setting, sensors and edge are not the product's.

Their truth: `deploy.bench.mixes` and `deploy.bench.slabs`; `python -m deploy.bench.bound` prints the shares.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from store_support import make_calibration

from deploy.bench.bound import MIXES, coverage, wilson_lower, world
from deploy.bench.mixes import ENERGIES_KJ_PER_MOL
from deploy.bench.pours import REQUIRED_MPA
from shared.models.base import Operation

LEAST: Final = 0.88


@pytest.mark.parametrize("operation", REQUIRED_MPA)
def test_of_2000_mixes_the_bound_is_held_by_at_least_88_percent(operation: Operation) -> None:
    found = coverage(world(MIXES), REQUIRED_MPA[operation])
    assert len(found.held) == 2_000
    assert found.lower >= LEAST


@pytest.mark.parametrize("operation", REQUIRED_MPA)
@pytest.mark.parametrize(("low_c", "high_c"), [(-5, 3), (3, 6), (6, 10), (10, 15), (15, 20), (20, 40)])
def test_it_is_held_at_every_temperature(operation: Operation, low_c: float, high_c: float) -> None:
    found = coverage(world(MIXES), REQUIRED_MPA[operation])
    there = (found.mean_c >= low_c) & (found.mean_c < high_c)
    assert np.sum(there) > 100
    assert np.mean(found.held[there]) >= LEAST


def test_a_bound_that_is_too_high_is_not_held() -> None:
    whole = world(MIXES)
    bold = make_calibration(parameters={"su_mpa": 60.0, "tau_h": 12.0, "beta": 0.9})
    boldly = type(whole)(
        whole.mixes, (bold,) * MIXES, whole.tried, whole.slabs, whole.credited_c, whole.sums, whole.true_mpa
    )
    assert coverage(boldly, 3.5).lower < 0.5


def test_the_lower_limit_of_a_share_is_wilsons() -> None:
    # Newcombe, Statistics in Medicine 17, 1998, table I (from memory): 81 of 263 have 0.2553 to 0.3662.
    assert wilson_lower(81, 263) == pytest.approx(0.2553, abs=5e-5)


def test_the_true_energies_are_those_of_published_mixes() -> None:
    kj = world(MIXES).mixes.energy_j_per_mol / 1000.0
    assert kj.min() >= min(ENERGIES_KJ_PER_MOL) == 30.0
    assert kj.max() <= max(ENERGIES_KJ_PER_MOL) == 64.0
