"""How far a forecast's spread was from what happened: the continuous ranked probability score. Pure.

Source: T. Gneiting, A. E. Raftery, "Strictly proper scoring rules, prediction, and estimation", Journal of the American
Statistical Association 102, 2007 (from memory). In the unit of the forecast; 0 is perfect, and of a forecast without
spread it is the plain error.
"""

from __future__ import annotations

import math

import numpy as np

from cure.maturity import Floats


def crps_normal(mean: float, sd: float, found: float) -> float:
    """Return the score of a normal distribution: sd (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)), z = (y - mean)/sd.

    Raises:
        ValueError: the standard deviation is not a number of 0 or more.

    Source: Gneiting and Raftery 2007, section 4.2 (from memory).
    """
    if not 0.0 <= sd < math.inf:
        raise ValueError("a standard deviation is not below 0")
    if sd == 0.0:
        return abs(found - mean)
    z = (found - mean) / sd
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return sd * (z * math.erf(z / math.sqrt(2.0)) + 2.0 * density - 1.0 / math.sqrt(math.pi))


def crps_ensemble(members: Floats, found: float) -> float:
    """Return the score of an ensemble: mean |x - y| - mean |x - x'| / 2, over pairs of different members.

    So that the expected score does not depend on how many members there are ("fair"); it may fall a little below 0.

    Args:
        members: two or more, shape (members,); one alone has no spread and scores its error.
        found: what happened.

    Raises:
        ValueError: there is no member.

    Source: C. A. T. Ferro, "Fair scores for ensemble forecasts", Quarterly Journal 140, 2014 (from memory).
    """
    n = len(members)
    if n == 0:
        raise ValueError("an ensemble has members")
    error = float(np.mean(np.abs(members - found)))
    if n == 1:
        return error
    # Each gap between neighbours in order lies between i members below and n - i above.
    below = np.arange(1, n)
    apart = float(np.sum(below * (n - below) * np.diff(np.sort(members))))
    return error - apart / (n * (n - 1))


def crps_until(members: Floats, found: float, horizon: float) -> float:
    """Return the score of an ensemble of hours up to a horizon: later ones, and what never came, count as the horizon.

    What is not met yet is scored, not left out, which would flatter the forecast.

    Args:
        members: shape (members,), infinite: not within what was computed.
        found: infinite: not met by the horizon.
        horizon: in the unit of both.

    Source: the threshold-weighted score of Gneiting and Ranjan 2011, weight 1 up to the horizon (from memory).
    """
    return crps_ensemble(np.minimum(members, horizon), float(np.minimum(found, horizon)))


def crps_levels(levels: Floats, found: float) -> float:
    """Return the score of a distribution told by its quantiles at the chances (i + 0.5) / n, i = 0 .. n - 1.

    2/n sum (1[y < q_i] - p_i)(q_i - y): twice the mean quantile loss, of which the score is the integral.

    Args:
        levels: ascending, shape (n,).
        found: what happened.

    Raises:
        ValueError: there is no quantile.

    Source: Gneiting and Ranjan, "Comparing density forecasts", Journal of Business & Economic Statistics 29, 2011
    (from memory).
    """
    n = len(levels)
    if n == 0:
        raise ValueError("a distribution has quantiles")
    chances = (np.arange(n) + 0.5) / n
    return float(2.0 * np.mean(((found < levels) - chances) * (levels - found)))
