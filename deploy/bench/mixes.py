"""True mixes and their laboratories, by the thousand: what `slabhour calibrate` is given, and what is really so.

The true strength is a hyperbola or two of them after one another, never the exponential that is fitted, with an
activation energy that nobody has tested. All of it is invented; ranges without a source are our judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.breaks import Programme, Row, matured
from cure.calibration import SPREAD, Judged, judge

Array = NDArray[np.float64]

GAS_J_PER_MOL_K: Final = 8.314
KELVIN: Final = 273.15
REFERENCE_C: Final = 20.0
ENERGIES_KJ_PER_MOL: Final = (64.0, 48.0, 51.0, 43.0, 44.0, 44.0, 30.0, 31.0, 45.0, 56.0, 46.0, 49.0, 39.0, 39.0)
"""Of fourteen concrete mixes: Tank and Carino, ACI Materials Journal 88(1), 1991 (from memory)."""
ENERGY_SD_KJ_PER_MOL: Final = 2.0
"""About those, within their range of 30 to 64."""
SCATTER: Final = (0.03, 0.04)
"""Within a laboratory: ACI 214R (from memory)."""
LABORATORY_SENSOR_SD_C: Final = 0.25
NEAR_MPA: Final = (2.6, 4.4, 7.0, 11.0, 16.0)
"""Where a laboratory that has tried the mix breaks its first cylinders."""
LATER_H: Final = (72.0, 168.0, 672.0)
_RECORD_H: Final = np.concatenate(
    (np.arange(0.0, 48.0, 0.5), np.arange(48.0, 168.0, 1.0), np.arange(168.0, 675.0, 2.0))
)


def arrhenius(temperature_c: Array, energy_j_per_mol: Array) -> Array:
    """Return true hours at 20 degC for an hour; none at or below 0 degC."""
    per_kelvin = 1.0 / (temperature_c + KELVIN) - 1.0 / (REFERENCE_C + KELVIN)
    return np.where(temperature_c > 0.0, np.exp(-energy_j_per_mol / GAS_J_PER_MOL_K * per_kelvin), 0.0)


@dataclass(frozen=True, slots=True)
class Mixes:
    """Mixes side by side; every field of shape (n,)."""

    end_mpa: Array
    first_share: Array
    """1: a plain hyperbola."""
    first_per_h: Array
    second_per_h: Array
    sets_h: Array
    second_from_h: Array
    energy_j_per_mol: Array

    @classmethod
    def random(cls, rng: np.random.Generator, n: int) -> Mixes:
        """Return so many; every second one is of two stages."""
        two = np.arange(n) % 2 == 1
        first = np.exp(rng.uniform(np.log(0.010), np.log(0.030), n))
        sets = rng.uniform(3.0, 8.0, n)
        energy = rng.choice(ENERGIES_KJ_PER_MOL, n) + ENERGY_SD_KJ_PER_MOL * rng.standard_normal(n)
        return cls(
            rng.uniform(30.0, 55.0, n),
            np.where(two, rng.uniform(0.35, 0.65, n), 1.0),
            np.where(two, 1.6 * first, first),
            first * rng.uniform(0.3, 0.7, n),
            sets,
            sets + rng.uniform(4.0, 12.0, n),
            1000.0 * np.clip(energy, min(ENERGIES_KJ_PER_MOL), max(ENERGIES_KJ_PER_MOL)),
        )

    def only(self, these: NDArray[np.int64]) -> Mixes:
        """Return some of them."""
        return Mixes(*(getattr(self, name)[these] for name in self.__dataclass_fields__))

    def strength_mpa(self, age_h: Array) -> Array:
        """Return the true strength at hours at 20 degC, shape (n, m). [MPa]"""
        first = self.first_per_h[:, None] * np.maximum(0.0, age_h - self.sets_h[:, None])
        second = self.second_per_h[:, None] * np.maximum(0.0, age_h - self.second_from_h[:, None])
        share = self.first_share[:, None]
        grown: Array = share * first / (1.0 + first) + (1.0 - share) * second / (1.0 + second)
        return self.end_mpa[:, None] * grown

    def age_h(self, mpa: Array) -> Array:
        """Return the hours at 20 degC at which each has its strength of `mpa`, shape (n,); infinite: never. [h]"""
        low, high = np.zeros_like(mpa), np.full_like(mpa, 5000.0)
        for _ in range(40):
            middle = 0.5 * (low + high)
            there = self.strength_mpa(middle[:, None])[:, 0] >= mpa
            low, high = np.where(there, low, middle), np.where(there, middle, high)
        return np.where(high < 4999.0, high, np.inf)


@dataclass(frozen=True, slots=True)
class Laboratories:
    """A laboratory a mix: how warm it is, and how exact."""

    record_c: Array
    """Of the instrumented cylinders as they really were, shape (n, hours)."""
    true_h: Array
    """Hours at 20 degC by then, same shape."""
    off_c: Array
    scatter: Array
    cylinders: NDArray[np.int64]
    """Of an age."""

    @classmethod
    def random(cls, rng: np.random.Generator, mixes: Mixes) -> Laboratories:
        """Return one for each mix."""
        n = len(mixes.end_mpa)
        room, warmth = rng.uniform(18.0, 22.0, (n, 1)), rng.uniform(0.0, 3.0, (n, 1))
        record = room + warmth * (_RECORD_H / 10.0) * np.exp(1.0 - _RECORD_H / 10.0)
        middle = 0.5 * (record[:, 1:] + record[:, :-1])
        earned = arrhenius(middle, mixes.energy_j_per_mol[:, None]) * np.diff(_RECORD_H)
        true_h = np.concatenate((np.zeros((n, 1)), np.cumsum(earned, axis=1)), axis=1)
        off = LABORATORY_SENSOR_SD_C * rng.standard_normal(n)
        return cls(record, true_h, off, rng.uniform(*SCATTER, n), rng.integers(2, 4, n))

    def lasts_h(self, true_h: Array) -> Array:
        """Return the hours in which each laboratory has made its cylinders `true_h` old, shape (n,). [h]"""
        return np.array([np.interp(h, row, _RECORD_H) for h, row in zip(true_h, self.true_h, strict=True)])

    def ages_h(self, mixes: Mixes, rng: np.random.Generator) -> Array:
        """Return the hours at which cylinders are broken: about both thresholds, then as usual; shape (n, 8)."""
        n = len(mixes.end_mpa)
        near = []
        for mpa in NEAR_MPA:
            at = self.lasts_h(mixes.age_h(np.full(n, mpa)))
            near.append(np.round(2.0 * at * rng.uniform(0.93, 1.07, n)) / 2.0)
        ages = np.stack(near, axis=1)
        for i in range(1, len(NEAR_MPA)):
            ages[:, i] = np.maximum(ages[:, i], ages[:, i - 1] + 1.0)
        later = np.maximum(np.array(LATER_H), ages[:, -1:] + np.array([12.0, 24.0, 48.0]))
        return np.concatenate((ages, later), axis=1)


def programme(mixes: Mixes, labs: Laboratories, i: int, ages_h: Array, rng: np.random.Generator) -> Judged:
    """Return what the product makes of one laboratory's cylinders.

    Args:
        mixes: the mixes.
        labs: their laboratories.
        i: which mix.
        ages_h: when its cylinders are broken, ascending.
        rng: for their scatter.
    """
    true_h = np.interp(ages_h, _RECORD_H, labs.true_h[i])
    mean = mixes.only(np.array([i])).strength_mpa(true_h[None, :])[0]
    rows: list[Row] = []
    for age, mpa in zip(ages_h, mean, strict=True):
        found = mpa * (1.0 + labs.scatter[i] * rng.standard_normal(3))
        pair = found[:2]
        # A pair that lies apart wants a third, as ASTM C1074 has it (from memory).
        wanted = 3 if np.ptp(pair) > SPREAD * np.mean(pair) else int(labs.cylinders[i])
        rows += [Row(f"{age:g}-{k}", float(age), float(one_mpa), 2) for k, one_mpa in enumerate(found[:wanted])]
    read = (_RECORD_H, labs.record_c[i] + labs.off_c[i])
    return judge(matured(Programme(tuple(rows), by_maturity=False), "cylinders", read, None))
