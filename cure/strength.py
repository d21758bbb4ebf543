"""Strength curves: strength in place for an equivalent age, with inverse, slope and parameter gradient."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.maturity import Floats
from shared.models.calibration import CurveParameters


def exponential_mpa(equivalent_age_h: Floats, p: CurveParameters) -> Floats:
    """Return strength: Su exp(-(tau/te)^beta), 0 at te = 0.

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: Su [MPa], tau [h], beta [-].

    Source:
        Freiesleben Hansen and Pedersen 1977 (from memory); with beta = 0.5 it is EN 1992-1-1 (3.2), which is a test.
        S-shaped from zero: the best of the common forms below 5 MPa. Valid between the tested ages only.
    """
    te = np.maximum(equivalent_age_h, 1e-9)
    return np.where(equivalent_age_h > 0.0, p.su_mpa * np.exp(-((p.tau_h / te) ** p.beta)), 0.0)


def exponential_age_h(strength_mpa: float, p: CurveParameters) -> float:
    """Return the equivalent age at which the curve has a strength; infinite at Su and above. [h]"""
    if not 0.0 < strength_mpa < p.su_mpa:
        return 0.0 if strength_mpa <= 0.0 else float("inf")
    return float(p.tau_h / np.log(p.su_mpa / strength_mpa) ** (1.0 / p.beta))


def exponential_slope(equivalent_age_h: Floats, p: CurveParameters) -> Floats:
    """Return dS/dte: S beta (tau/te)^beta / te, shape (n,). [MPa/h]"""
    te = np.maximum(equivalent_age_h, 1e-9)
    return exponential_mpa(equivalent_age_h, p) * p.beta * (p.tau_h / te) ** p.beta / te


def exponential_gradient(equivalent_age_h: Floats, p: CurveParameters) -> Floats:
    """Return dS/d(Su, tau, beta), shape (n, 3). [MPa per unit of each]"""
    te = np.maximum(equivalent_age_h, 1e-9)
    x = (p.tau_h / te) ** p.beta
    s = exponential_mpa(equivalent_age_h, p)
    return np.stack((s / p.su_mpa, -s * p.beta * x / p.tau_h, -s * x * np.log(p.tau_h / te)), axis=-1)


@dataclass(frozen=True, slots=True)
class Curve:
    """One form of the strength-maturity relationship."""

    strength_mpa: Callable[[Floats, CurveParameters], Floats]
    age_h: Callable[[float, CurveParameters], float]
    slope: Callable[[Floats, CurveParameters], Floats]
    gradient: Callable[[Floats, CurveParameters], Floats]


CURVES: Final[dict[str, Curve]] = {
    "exponential": Curve(exponential_mpa, exponential_age_h, exponential_slope, exponential_gradient),
}
