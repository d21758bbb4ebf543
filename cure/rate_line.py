"""Rate constants against temperature: activation energy and datum temperature, with their errors. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.special import fdtrc

from cure.maturity import GAS_CONSTANT, KELVIN, Floats

OF_A_LINE: Final = 2
"""Parameters."""


@dataclass(frozen=True, slots=True)
class RateLine:
    """Rate constants against temperature: ln k over 1/T gives the activation energy, k over T the datum."""

    energy_j_per_mol: float
    regression_sd: float
    """Of the energy, from how far the points lie off the line. [J/mol]"""
    own_sd: float
    """Of the energy, from the errors of each k. [J/mol]"""
    at_zero: float
    """ln k of the line at 1/T = 0, k in the unit handed in."""
    datum_c: float
    """Where the straight line of k over T is zero: T0 of the temperature-time factor."""
    bent: float
    """Probability of so bent a line by the errors of k; 1: of two temperatures, which always lie on a line."""

    @property
    def sd_j_per_mol(self) -> float:
        """The larger of the two."""
        return max(self.regression_sd, self.own_sd)

    def ln_k(self, celsius: Floats) -> Floats:
        """Return ln k of the line at temperatures, shape (n,)."""
        return self.at_zero - self.energy_j_per_mol / GAS_CONSTANT / (celsius + KELVIN)


def rate_line(celsius: Floats, k: Floats, ln_k_sd: Floats, freedom: int) -> RateLine:
    """Draw the lines through rate constants by least squares.

    Args:
        celsius: curing temperatures, two or more, shape (n,). [degC]
        k: rate constants in any one unit, shape (n,).
        ln_k_sd: standard deviation of each ln k, shape (n,).
        freedom: degrees of freedom of the poorest of those.

    Source:
        ASTM C1074, annex A1 (from memory): the slope of ln k over 1/T [1/K] is -E/R; the datum is where k is zero. The
        probability of a bend is that of the weighted residuals by F. Check: tests/cure/test_cubes.py.
    """
    x, y = 1.0 / (celsius + KELVIN), np.log(k)
    from_mean = x - x.mean()
    squares = float(np.sum(from_mean**2))
    slope = float(np.sum(from_mean * y)) / squares
    at_zero = float(y.mean() - slope * x.mean())
    left, n = y - at_zero - slope * x, len(x)
    regression = math.sqrt(float(np.sum(left**2)) / (n - OF_A_LINE) / squares) if n > OF_A_LINE else 0.0
    own = math.sqrt(float(np.sum((from_mean * ln_k_sd) ** 2))) / squares
    rise = float(np.sum((celsius - celsius.mean()) * k) / np.sum((celsius - celsius.mean()) ** 2))
    return RateLine(
        -slope * GAS_CONSTANT,
        regression * GAS_CONSTANT,
        own * GAS_CONSTANT,
        at_zero,
        float(celsius.mean()) - float(k.mean()) / rise if rise > 0.0 else math.nan,
        _bend(x, y, ln_k_sd, freedom),
    )


def _bend(x: Floats, y: Floats, sd: Floats, freedom: int) -> float:
    more = len(x) - OF_A_LINE
    if more < 1:
        return 1.0
    weighted = np.polyfit(x - x.mean(), y, 1, w=1.0 / sd)
    off = (y - np.polyval(weighted, x - x.mean())) / sd
    return float(fdtrc(more, freedom, float(np.sum(off**2)) / more))


def energies_between(celsius: Floats, k: Floats) -> list[float]:
    """Return the activation energy between each temperature and the next, of n ascending ones: n - 1. [J/mol]"""
    y, x = np.log(k), 1.0 / (celsius + KELVIN)
    return [float(GAS_CONSTANT * (y[j] - y[i]) / (x[i] - x[j])) for i, j in pairwise(range(len(k)))]
