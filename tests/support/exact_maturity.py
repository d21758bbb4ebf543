"""The exact integral of a law over a record that is straight between its readings: the reference for the interval mean.

Gauss-Legendre within each stretch, cut where the law has a corner; polynomials of degree 47 would be exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from cure.maturity import DEFAULT_ACTIVATION_ENERGY, Floats, Rate

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)
CORNERS_C = (0.0, 20.0 - (DEFAULT_ACTIVATION_ENERGY - 33_500.0) / 1_470.0, 20.0, 50.0)
"""Of the default law: no credit, the two branches cross, the second branch begins, no more credit."""


def exact_maturity(elapsed_h: Floats, temperature_c: Floats, rate: Rate, corners_c: Sequence[float] = ()) -> float:
    """Return the integral of the rate over the whole record. [h of equivalent age, or degC h]"""
    total = 0.0
    for (t0, c0), (t1, c1) in pairwise(zip(elapsed_h, temperature_c, strict=True)):
        crossed = sorted((corner - c0) / (c1 - c0) for corner in corners_c if min(c0, c1) < corner < max(c0, c1))
        for a, b in pairwise([0.0, *crossed, 1.0]):
            at = a + (b - a) * 0.5 * (_POINTS + 1.0)
            total += float(_WEIGHTS @ rate(c0 + (c1 - c0) * at)) * 0.5 * (b - a) * (t1 - t0)
    return total
