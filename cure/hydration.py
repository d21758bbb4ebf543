"""Heat that the binder gives off while it hydrates, from its composition or its class. For planning and forecast. Pure.

No release rests on it: a regression over many cements, from which a mix's own may be far.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.composition import Binder, expected_energy_j_per_mol
from cure.maturity import Floats, arrhenius_rate

HYDRATES_C: Final = (-60.0, 100.0)
_YOUNGEST_H: Final = 1e-6
"""Below it nothing has hydrated, and the power stays a number."""


@dataclass(frozen=True, slots=True)
class Composition:
    """Mass fractions of the cement beside those in `binder`."""

    binder: Binder
    c3s: float
    c2s: float
    so3: float
    free_cao: float
    mgo: float


@dataclass(frozen=True, slots=True)
class Hydration:
    """How the binder of each column hydrates: alpha = alpha_u exp(-(tau/te)^beta); fields of shape (columns,) or (1,).

    Source:
        A. K. Schindler, K. J. Folliard, "Heat of hydration models for cementitious materials", ACI Materials Journal
        102(1), 2005 (from memory). Check: tests/cure/test_hydration.py.
    """

    heat_j_per_m3: Floats
    """Of all the binder in a cubic metre, were it to hydrate wholly."""
    ultimate: Floats
    """alpha_u, the degree of hydration that it comes to."""
    tau_h: Floats
    """In hours of equivalent age at 20 degC."""
    beta: Floats
    energy_j_per_mol: Floats

    def __post_init__(self) -> None:
        shaped = (self.tau_h, self.beta, self.energy_j_per_mol)
        known = bool(np.all(self.heat_j_per_m3 >= 0.0)) and bool(
            np.all((self.ultimate >= 0.0) & (self.ultimate <= 1.0))
        )
        if not (known and all(np.all(value > 0.0) for value in shaped)):
            raise ValueError("heat is not below 0, alpha_u between 0 and 1; tau, beta and the energy are above 0")

    def degree(self, age_h: Floats) -> Floats:
        """Return the degree of hydration at ages, shape (cells, columns). [-]"""
        # A power would be as right, and takes twice as long.
        power = np.exp(self.beta * (np.log(self.tau_h) - np.log(np.maximum(age_h, _YOUNGEST_H))))
        grown = self.ultimate * np.exp(-power)
        return np.asarray(np.where(age_h <= 0.0, 0.0, grown))

    def older_h(self, age_h: Floats, mean_c: Floats, hours: float) -> Floats:
        """Return the equivalent ages after hours at mean temperatures, both of shape (cells, columns). [h]

        Beyond -60 and 100 degC the rate stays as it is there: only steps far too long swing so far.
        """
        return age_h + arrhenius_rate(np.clip(mean_c, *HYDRATES_C), self.energy_j_per_mol) * hours


def total_heat_j_per_kg(of: Composition) -> float:
    """Return the heat of a binder that hydrates wholly. [J/kg of binder]

    Hcem = 500 C3S + 260 C2S + 866 C3A + 420 C4AF + 624 SO3 + 1186 CaO + 850 MgO; H = Hcem pcem + 461 slag
    + 1800 FA CaO(FA). [J/g]

    Source: Schindler and Folliard 2005 (from memory). The heats of 13 cements bear the coefficients out: a test.
    """
    b = of.binder
    cement = 500.0 * of.c3s + 260.0 * of.c2s + 866.0 * b.c3a + 420.0 * b.c4af
    cement += 624.0 * of.so3 + 1186.0 * of.free_cao + 850.0 * of.mgo
    return 1000.0 * (cement * (1.0 - b.fly_ash - b.slag) + 461.0 * b.slag + 1800.0 * b.fly_ash * b.fly_ash_cao)


def ultimate_degree(water_binder: float, binder: Binder) -> float:
    """Return alpha_u: 1.031 w / (0.194 + w) + 0.50 FA + 0.30 slag, at most 1. [-]

    Source: Mills 1966 for the first term; Schindler and Folliard 2005 (both from memory).
    """
    return min(1.0, 1.031 * water_binder / (0.194 + water_binder) + 0.50 * binder.fly_ash + 0.30 * binder.slag)


def tau_h(of: Composition) -> float:
    """Return tau: 66.78 C3A^-.154 C3S^-.401 Blaine^-.804 SO3^-.758 exp(2.187 slag + 9.50 FA CaO(FA)). [h at 20 degC]

    Source: Schindler and Folliard 2005 (from memory).
    """
    b = of.binder
    cement = b.c3a**-0.154 * of.c3s**-0.401 * b.blaine_m2_per_kg**-0.804 * of.so3**-0.758
    return float(66.78 * cement * math.exp(2.187 * b.slag + 9.50 * b.fly_ash * b.fly_ash_cao))


def beta(of: Composition) -> float:
    """Return beta: 181.4 C3A^.146 C3S^.227 Blaine^-.535 SO3^.558 exp(-.647 slag). [-]

    Source: Schindler and Folliard 2005 (from memory).
    """
    b = of.binder
    cement = b.c3a**0.146 * of.c3s**0.227 * b.blaine_m2_per_kg**-0.535 * of.so3**0.558
    return float(181.4 * cement * math.exp(-0.647 * b.slag))


def hydration_of(of: Composition, binder_kg_per_m3: float, water_binder: float) -> Hydration:
    """Return how a mix is expected to hydrate; one column.

    Args:
        of: the composition of its binder.
        binder_kg_per_m3: cement and what replaces it. [kg/m3]
        water_binder: water by binder, by mass.

    Raises:
        ValueError: a fraction is not between 0 and 1 or, of C3S, C3A, C4AF and SO3, is 0; no binder or no water.
    """
    b = of.binder
    energy = expected_energy_j_per_mol(b)
    some = (of.c3s, of.so3, b.c3a, b.c4af)
    fractions = (*some, of.c2s, of.free_cao, of.mgo)
    if not (all(0.0 <= f <= 1.0 for f in fractions) and min(some) > 0.0):
        raise ValueError("fractions lie between 0 and 1; a cement has some C3S, C3A, C4AF and SO3")
    if not (0.0 < binder_kg_per_m3 < math.inf and 0.0 < water_binder < math.inf):
        raise ValueError("a mix has some binder and some water")
    return Hydration(
        np.array([total_heat_j_per_kg(of) * binder_kg_per_m3]),
        np.array([ultimate_degree(water_binder, b)]),
        np.array([tau_h(of)]),
        np.array([beta(of)]),
        np.array([energy]),
    )


_FREE_CAO: Final = 0.01
"""Our assumption for every class."""

CLASSES: Final[dict[str, Composition]] = {
    "I": Composition(Binder(0.10, 0.08, 369.0), c3s=0.54, c2s=0.18, so3=0.030, free_cao=_FREE_CAO, mgo=0.021),
    "II": Composition(Binder(0.06, 0.11, 377.0), c3s=0.55, c2s=0.19, so3=0.027, free_cao=_FREE_CAO, mgo=0.021),
    "III": Composition(Binder(0.09, 0.08, 548.0), c3s=0.55, c2s=0.17, so3=0.035, free_cao=_FREE_CAO, mgo=0.022),
    "V": Composition(Binder(0.04, 0.13, 373.0), c3s=0.54, c2s=0.22, so3=0.023, free_cao=_FREE_CAO, mgo=0.022),
}
"""Mean compositions of the types of ASTM C150: ordinary, moderate, high early strength, sulfate resisting.

Source: PCA, Design and Control of Concrete Mixtures, chapter 2 (from memory). `dataclasses.replace` gives the binder
its fly ash or slag.
"""
