"""The strength that nine in ten exceed, from a few that were found: one-sided tolerance limits. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Final

import numpy as np

from cure.maturity import Floats

SHARE: Final = 0.90
CONFIDENCE: Final = 0.75
"""ACI 228.1R: 75 % for ordinary structures (from memory)."""
FEWEST: Final = 3
"""Two tell next to nothing of a spread: their factor is 4."""
WIDEST_SDS: Final = 10.0
HALVINGS: Final = 60
_NORMAL: Final = NormalDist()


@cache
def _gauss() -> tuple[Floats, Floats]:
    """Return nodes and weights of 400 points: they take a fifth of a second, so no command makes them in vain."""
    nodes, weights = np.polynomial.legendre.leggauss(400)
    return nodes, weights


@cache
def tolerance_factor(n: int, share: float = SHARE, confidence: float = CONFIDENCE) -> float:
    """Return K such that the mean of n less K times their spread is below a share of all, with a confidence.

    The probability that it is: the mean of Phi(sqrt(n) (K u - z)) over u, the root of chi-square by its degrees of
    freedom n - 1; K by halving. The same as a quantile of the non-central t.

    Args:
        n: how many were found, of a normal distribution; at least 2.
        share: of all, above 0.5 and below 1.
        confidence: above 0 and below 1.

    Source:
        NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3 (read in a secondary sheet); Natrella, Experimental
        Statistics, NBS Handbook 91, table A-7 (from memory). Check: tests/cure/test_tolerance.py.

    Raises:
        ValueError: an argument outside its range.
    """
    if not (n >= 2 and 0.5 < share < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError("two values or more, a share between 0.5 and 1, a confidence between 0 and 1")
    free = n - 1
    # Beyond it there is nothing of the root of chi-square by its degrees of freedom.
    last = 1.0 + WIDEST_SDS / math.sqrt(2.0 * free)
    nodes, gauss = _gauss()
    u = 0.5 * last * (nodes + 1.0)
    logs = (free - 1.0) * np.log(u) - 0.5 * free * u**2
    weights = gauss * np.exp(logs - logs.max())
    weights /= weights.sum()
    z, root = _NORMAL.inv_cdf(share), math.sqrt(n)

    def held(factor: float) -> float:
        return float(weights @ np.array([_NORMAL.cdf(root * (factor * at - z)) for at in u.tolist()]))

    low, high = 0.0, 1.0
    while held(high) < confidence:
        high *= 2.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if held(middle) >= confidence else (middle, high)
    return high


@dataclass(frozen=True, slots=True)
class Tenth:
    """What nine in ten are above, by those that were found."""

    number: int
    mean: float
    sd: float
    factor: float
    lower: float
    """Mean less the factor times the spread."""


def tenth_of(values: Sequence[float]) -> Tenth | None:
    """Return what nine in ten are above, with 75 % confidence; None: fewer than three, or no numbers."""
    found = np.array(values, dtype=np.float64)
    if len(found) < FEWEST or not np.all(np.isfinite(found)):
        return None
    mean, sd, factor = float(found.mean()), float(found.std(ddof=1)), tolerance_factor(len(found))
    return Tenth(len(found), mean, sd, factor, mean - factor * sd)
