"""Mortar cubes made from a known activation energy."""

from __future__ import annotations

import numpy as np

from cure.breaks import Break
from cure.maturity import arrhenius_rate
from cure.strength import CURVES
from shared.models.calibration import HyperbolaParameters

K_PER_H, T0_H = 0.013, 5.0
"""Of an invented mortar at 20 degC."""
Cubes = list[tuple[float, Break]]


def cubes(
    energy_j_per_mol: float = 43_000.0,
    curing_c: tuple[float, ...] = (10.0, 23.0, 38.0),
    *,
    ages: int = 6,
    each: int = 3,
    scatter: float = 0.03,
    seed: int = 1,
    su_mpa: float = 50.0,
    k_per_h: float = K_PER_H,
) -> Cubes:
    """Return cubes on hyperbolas whose k follows Arrhenius: first age twice the setting time, each later one double."""
    rng, found = np.random.default_rng(seed), []
    for celsius in curing_c:
        rate = float(arrhenius_rate(np.array([celsius]), energy_j_per_mol)[0])
        p = HyperbolaParameters(su_mpa=su_mpa, k_per_h=k_per_h * rate, t0_h=T0_H / rate)
        age_h = [round(2.0 * T0_H / rate * 2.0**i, 1) for i in range(ages)]
        for age, mpa in zip(age_h, CURVES["hyperbola"].strength_mpa(np.array(age_h), p), strict=True):
            for i in range(each):
                strength = float(mpa) * (1.0 + scatter * rng.standard_normal())
                found.append((celsius, Break(f"{celsius:g}c-{age:g}h-{i}", age, strength)))
    return found


def as_csv(made: Cubes) -> str:
    """Return the file of cubes."""
    rows = [f"{cube.specimen},{celsius!r},{cube.equivalent_age_h!r},{cube.mpa:.2f}" for celsius, cube in made]
    return "\n".join(("specimen,curing_c,age_h,strength_mpa", *rows)) + "\n"
