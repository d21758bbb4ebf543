"""How the bound of strength holds against true mixes and slabs: `python -m deploy.bench.bound [MIXES]`.

Prints how often the bound was held, by temperature; how far it is from a Monte Carlo prediction; and what share of the
releases came before the strength. The truth shares no form and no parameter with what is fitted: `deploy.bench.mixes`
and `deploy.bench.slabs`. The limits are held by tests/cure: test_bound_mixes.py, test_bound_monte_carlo.py and
test_assess_simulated.py.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import Law
from cure.bound import estimate_mpa, lower_bound_mpa, tenth_percentile_mpa
from cure.calibration import Verdict, calibration_of
from cure.credit import NO_EDGE_ALLOWANCE_C
from deploy.bench.mixes import Array, Laboratories, Mixes, programme
from deploy.bench.pours import REQUIRED_MPA, case_of, judged, may_be_met
from deploy.bench.prediction import HISTORIES, NEAR_FREEZING, STEADY_C, Record, steady, tenth_mpa
from deploy.bench.slabs import STEP_H, Slabs, random_slabs
from deploy.cli_site import say
from deploy.demo.scenario import SITE_FILE
from shared.models.base import Operation
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings
from shared.sitefile import load

MIXES: Final = 2_000
"""Fit for release; more are tried."""
POURS: Final = 400
SEED: Final = 1
TRIED_FOR_ONE: Final = 1.3
PLAIN: Final = MixSettings(id="c32-f", supplementary=False)
BANDS_C: Final = (-5.0, 3.0, 6.0, 10.0, 15.0, 20.0, 40.0)
AGES_H: Final = (10.2, 14.0, 18.0, 24.0)
TRIES: Final = 40_000


@dataclass(frozen=True)
class World:
    """Mixes that are fit for release, a slab of each, and what its coldest sensor sums up to."""

    mixes: Mixes
    calibrations: tuple[Calibration, ...]
    tried: int
    slabs: Slabs
    credited_c: Array
    """What its coldest sensor says, less the allowance where none is at the edge: shape (n, steps)."""
    sums: Array
    """Shape (n, steps, 7)."""
    true_mpa: Array
    """At the coldest point, shape (n, steps)."""

    def bound_mpa(self, i: int) -> Array:
        """Return the bound of one at every step."""
        return lower_bound_mpa(self.sums[i], self.calibrations[i], PLAIN)


@cache
def world(n: int = MIXES) -> World:
    """Return `n` mixes with all that belongs to them; worked out once."""
    rng = np.random.default_rng(SEED)
    mixes = Mixes.random(rng, math.ceil(TRIED_FOR_ONE * n))
    labs = Laboratories.random(rng, mixes)
    ages_h = labs.ages_h(mixes, rng)
    kept: list[int] = []
    calibrations: list[Calibration] = []
    tried = 0
    while len(kept) < n:
        found = programme(mixes, labs, tried, ages_h[tried], rng)
        if found.verdict is Verdict.RELEASE:
            kept.append(tried)
            calibrations.append(calibration_of(found, PLAIN.id, 1, "invented"))
        tried += 1
    mixes = mixes.only(np.array(kept))
    slabs = random_slabs(mixes, rng)
    credited_c = slabs.read_c(rng) - np.where(slabs.at_edge, 0.0, NO_EDGE_ALLOWANCE_C)[:, None]
    rates = Law.of(None).rates(0.5 * (credited_c[:, 1:] + credited_c[:, :-1]))
    sums = np.concatenate((np.zeros((n, 1, rates.shape[-1])), np.cumsum(rates * STEP_H, axis=1)), axis=1)
    return World(mixes, tuple(calibrations), tried, slabs, credited_c, sums, slabs.strength_mpa(mixes))


@dataclass(frozen=True, slots=True)
class Held:
    """Whether each bound was held."""

    held: NDArray[np.bool_]
    mean_c: Array
    """Of what the coldest sensor had said by then."""

    @property
    def lower(self) -> float:
        """The lower 95 % limit of the share (Wilson 1927, the score interval of two sides)."""
        return wilson_lower(int(np.sum(self.held)), len(self.held))


def wilson_lower(there: int, n: int, z: float = 1.959964) -> float:
    """Return the lower 95 % limit of a share.

    Source: E. B. Wilson, Journal of the American Statistical Association 22, 1927 (from memory).
    """
    p = there / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n)


def coverage(found: World, required_mpa: float) -> Held:
    """Return whether, when the true strength reached what is required, the bound had not passed it.

    That is the same as: the true strength was there when the bound reached it. A slab that never reaches it in the days
    of the record is judged at the record's end.
    """
    held, mean_c = [], []
    for i in range(len(found.calibrations)):
        there = np.flatnonzero(found.true_mpa[i] >= required_mpa)
        k = int(there[0]) if len(there) else found.true_mpa.shape[1] - 1
        bound = float(lower_bound_mpa(found.sums[i, k : k + 1], found.calibrations[i], PLAIN)[0])
        held.append(bound < required_mpa or (bound == required_mpa and len(there) > 0))
        mean_c.append(float(np.mean(found.credited_c[i, : k + 1])))
    return Held(np.array(held), np.array(mean_c))


@dataclass(frozen=True, slots=True)
class Release:
    """A release, and what the concrete was at its coldest point."""

    operation: Operation
    hours: float
    ratio: float
    """True strength by what is required."""


def releases(found: World, pours: int = POURS) -> list[Release]:
    """Return what was released of the first so many pours, end to end."""
    out = []
    for i in range(pours):
        bound, credited = found.bound_mpa(i), found.credited_c[i]
        may_be = {operation: may_be_met(operation, bound, credited) for operation in REQUIRED_MPA}
        case = case_of(found.calibrations[i], at_edge=bool(found.slabs.at_edge[i]))
        pour = judged(found.slabs, i, case, may_be, SEED)
        for operation, hours in pour.released_h.items():
            true = float(np.interp(hours, found.slabs.hours, found.true_mpa[i]))
            out.append(Release(operation, hours, true / REQUIRED_MPA[operation]))
    return out


@cache
def demo_calibration() -> Calibration:
    """Return the demo's calibration."""
    return load(SITE_FILE).calibrations["c32-f"]


def off_prediction(record: Record, calibration: Calibration, mix: MixSettings = PLAIN, tries: int = TRIES) -> Array:
    """Return by how much of the estimate the tenth percentile of the product is above the Monte Carlo one.

    Returns:
        Shape (ages,), at `AGES_H` of equivalent age.
    """
    law = Law.of(calibration)
    sums = np.cumsum(law.rates(record.temperature_c) * record.hours[:, None], axis=0)
    at = np.searchsorted(sums[:, 0], AGES_H)
    reference = tenth_mpa(record, at, calibration, mix, np.random.default_rng(SEED), tries)
    found = tenth_percentile_mpa(sums[at], calibration, mix)
    return (found - reference) / estimate_mpa(sums[at], calibration)


def _tell_coverage(found: World) -> bool:
    say(f"{found.tried} mixes tried, {len(found.calibrations)} calibrations fit for release\n")
    bands = [f"{low:.0f} to {high:.0f}" for low, high in pairwise(BANDS_C)]
    say(f"{'bound held, by mean degC':<26}{'all':>8}{'at least':>10}" + "".join(f"{b:>10}" for b in bands))
    good = True
    for operation, mpa in REQUIRED_MPA.items():
        of = coverage(found, mpa)
        band = np.digitize(of.mean_c, BANDS_C[1:-1])
        shares = [float(np.mean(of.held[band == b])) for b in range(len(bands))]
        name = f"{operation}, {mpa} MPa"
        say(f"{name:<26}{np.mean(of.held):>8.3f}{of.lower:>10.3f}" + "".join(f"{s:>10.3f}" for s in shares))
        good = good and of.lower >= 0.88
    return good


def _tell_prediction() -> bool:
    say(f"\n{'above Monte Carlo, of S':<26}" + "".join(f"{f'{age:g} h':>10}" for age in AGES_H))
    calibration, good = demo_calibration(), True
    records = {f"steady {c:g} degC": steady(c) for c in STEADY_C} | HISTORIES | NEAR_FREEZING
    for name, record in records.items():
        off = off_prediction(record, calibration)
        say(f"{name:<26}" + "".join(f"{100 * o:>9.1f}%" for o in off))
        good = good and bool(np.all(off <= 0.02) and (name in NEAR_FREEZING or np.all(off >= -0.02)))
    return good


def _tell_releases(found: World, pours: int) -> bool:
    of = releases(found, pours)
    say(f"\n{'releases of ' + str(pours) + ' pours':<26}{'signed':>8}{'too early':>10}{'lowest':>10}{'mean h':>10}")
    for operation in REQUIRED_MPA:
        ratios = [r.ratio for r in of if r.operation == operation]
        early = sum(not r >= 1.0 for r in ratios) / len(ratios)
        mean_h = float(np.mean([r.hours for r in of if r.operation == operation]))
        say(f"{operation:<26}{len(ratios):>8}{early:>9.1%} {min(ratios):>9.2f}{mean_h:>10.1f}")
    return sum(not r.ratio >= 1.0 for r in of) <= 0.02 * len(of) and min(r.ratio for r in of) >= 0.85


def main(arguments: Sequence[str]) -> int:
    """Print the tables."""
    n = int(arguments[0]) if arguments else MIXES
    found = world(n)
    return 0 if all([_tell_coverage(found), _tell_prediction(), _tell_releases(found, min(n, POURS))]) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
