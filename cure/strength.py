"""Strength curves: strength in place for an equivalent age, with inverse, slope and parameter gradient.

All are 0 at no age, and of an age that is no number. None is reliable below the lowest tested age: there equally good
fits of one mix differ by several hours.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

import numpy as np

from cure.maturity import Floats
from shared.models.calibration import (
    Aci209Parameters,
    CurveParameters,
    En1992Parameters,
    ExponentialParameters,
    HyperbolaParameters,
    LogarithmicParameters,
)

P = TypeVar("P", bound=CurveParameters)

_YOUNGEST_H: Final = 1e-9
_DAYS_28_H: Final = 28 * 24.0
_HIGHEST_POWER: Final = 300.0
"""Of ten, that a float still holds."""
_NEARLY: Final = 1.0 - 1e-12
"""Of a ceiling: beyond it the inverse is all rounding."""


def _from_zero(equivalent_age_h: Floats, value: Floats) -> Floats:
    return np.where(equivalent_age_h > 0.0, value, 0.0)


def _end_h(strength_mpa: float, ceiling_mpa: float) -> float | None:
    """Return 0 for no strength, infinite at a curve's ceiling or for no number, None for what has an age between."""
    if strength_mpa <= 0.0:
        return 0.0
    return None if strength_mpa < ceiling_mpa * _NEARLY else math.inf


def exponential_mpa(equivalent_age_h: Floats, p: ExponentialParameters) -> Floats:
    """Return strength: Su exp(-(tau/te)^beta).

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: Su [MPa], tau [h], beta [-].

    Source:
        Freiesleben Hansen and Pedersen 1977 (from memory); with beta = 0.5 it is EN 1992-1-1 (3.2), which is a test.
        S-shaped from zero: the best of the common forms below 5 MPa.
    """
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    return _from_zero(equivalent_age_h, p.su_mpa * np.exp(-((p.tau_h / te) ** p.beta)))


def exponential_age_h(strength_mpa: float, p: ExponentialParameters) -> float:
    """Return the equivalent age at which the curve has a strength; infinite at Su and above. [h]"""
    if (end_h := _end_h(strength_mpa, p.su_mpa)) is not None:
        return end_h
    return float(p.tau_h / np.log(p.su_mpa / strength_mpa) ** (1.0 / p.beta))


def exponential_slope(equivalent_age_h: Floats, p: ExponentialParameters) -> Floats:
    """Return dS/dte: S beta (tau/te)^beta / te, shape (n,). [MPa/h]"""
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    return exponential_mpa(equivalent_age_h, p) * p.beta * (p.tau_h / te) ** p.beta / te


def exponential_gradient(equivalent_age_h: Floats, p: ExponentialParameters) -> Floats:
    """Return dS/d(Su, tau, beta), shape (n, 3). [MPa per unit of each]"""
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    x = (p.tau_h / te) ** p.beta
    s = exponential_mpa(equivalent_age_h, p)
    return np.stack((s / p.su_mpa, -s * p.beta * x / p.tau_h, -s * x * np.log(p.tau_h / te)), axis=-1)


def hyperbola_mpa(equivalent_age_h: Floats, p: HyperbolaParameters) -> Floats:
    """Return strength: Su k (te - t0) / (1 + k (te - t0)), 0 up to t0.

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: Su [MPa], k [1/h], t0 [h].

    Source:
        Knudsen 1980, Carino 1984, ASTM C1074 annex A1 (from memory). Good from about a fifth of Su on; t0 needs tests
        younger than 12 h.
    """
    x = p.k_per_h * np.maximum(equivalent_age_h - p.t0_h, 0.0)
    return _from_zero(equivalent_age_h, p.su_mpa * x / (1.0 + x))


def hyperbola_age_h(strength_mpa: float, p: HyperbolaParameters) -> float:
    """Return the equivalent age at which the curve has a strength; infinite at Su and above. [h]"""
    if (end_h := _end_h(strength_mpa, p.su_mpa)) is not None:
        return end_h
    return p.t0_h + strength_mpa / (p.k_per_h * (p.su_mpa - strength_mpa))


def hyperbola_slope(equivalent_age_h: Floats, p: HyperbolaParameters) -> Floats:
    """Return dS/dte: Su k / (1 + k (te - t0))^2 after t0, shape (n,). [MPa/h]"""
    x = p.k_per_h * np.maximum(equivalent_age_h - p.t0_h, 0.0)
    return np.where(x > 0.0, p.su_mpa * p.k_per_h / (1.0 + x) ** 2, 0.0)


def hyperbola_gradient(equivalent_age_h: Floats, p: HyperbolaParameters) -> Floats:
    """Return dS/d(Su, k, t0), shape (n, 3). [MPa per unit of each]"""
    x = p.k_per_h * np.maximum(equivalent_age_h - p.t0_h, 0.0)
    of_k = p.su_mpa * x / p.k_per_h / (1.0 + x) ** 2
    return np.stack((x / (1.0 + x), of_k, -hyperbola_slope(equivalent_age_h, p)), axis=-1)


def logarithmic_mpa(equivalent_age_h: Floats, p: LogarithmicParameters) -> Floats:
    """Return strength: a + b log10(te), never below 0.

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: a and b. [MPa]

    Source:
        Plowman 1956 (from memory). It has no ceiling and falls to zero early: only between tests of 1.5 to 7 days.
    """
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    return _from_zero(equivalent_age_h, np.maximum(p.a_mpa + p.b_mpa * np.log10(te), 0.0))


def logarithmic_age_h(strength_mpa: float, p: LogarithmicParameters) -> float:
    """Return the equivalent age at which the line has a strength; infinite beyond what a number holds. [h]"""
    if strength_mpa <= 0.0:
        return 0.0
    power = (strength_mpa - p.a_mpa) / p.b_mpa
    return float(10.0**power) if power < _HIGHEST_POWER else math.inf


def logarithmic_slope(equivalent_age_h: Floats, p: LogarithmicParameters) -> Floats:
    """Return dS/dte: b / (te ln 10) where there is strength, shape (n,). [MPa/h]"""
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    return np.where(logarithmic_mpa(equivalent_age_h, p) > 0.0, p.b_mpa / (te * math.log(10.0)), 0.0)


def logarithmic_gradient(equivalent_age_h: Floats, p: LogarithmicParameters) -> Floats:
    """Return dS/d(a, b), shape (n, 2). [-]"""
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    there = np.where(logarithmic_mpa(equivalent_age_h, p) > 0.0, 1.0, 0.0)
    return np.stack((there, there * np.log10(te)), axis=-1)


def en1992_mpa(equivalent_age_h: Floats, p: En1992Parameters) -> Floats:
    """Return strength: f28 exp(s (1 - sqrt(28 d / te))).

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: mean strength at 28 days [MPa], s [-]: 0.20, 0.25 or 0.38 by class of cement.

    Source:
        EN 1992-1-1:2004, equations (3.1) and (3.2); fib Model Code 2010, 5.1.9. From 3 days on; before that the code
        asks for tests (from memory).
    """
    u = np.sqrt(_DAYS_28_H / np.maximum(equivalent_age_h, _YOUNGEST_H))
    return _from_zero(equivalent_age_h, p.f28_mpa * np.exp(p.s * (1.0 - u)))


def en1992_age_h(strength_mpa: float, p: En1992Parameters) -> float:
    """Return the equivalent age at which the curve has a strength; infinite at f28 e^s and above. [h]"""
    if (end_h := _end_h(strength_mpa, p.f28_mpa * math.exp(p.s))) is not None:
        return end_h
    return float(_DAYS_28_H / (1.0 - math.log(strength_mpa / p.f28_mpa) / p.s) ** 2)


def en1992_slope(equivalent_age_h: Floats, p: En1992Parameters) -> Floats:
    """Return dS/dte: S s sqrt(28 d / te) / (2 te), shape (n,). [MPa/h]"""
    te = np.maximum(equivalent_age_h, _YOUNGEST_H)
    return en1992_mpa(equivalent_age_h, p) * p.s * np.sqrt(_DAYS_28_H / te) / (2.0 * te)


def en1992_gradient(equivalent_age_h: Floats, p: En1992Parameters) -> Floats:
    """Return dS/d(f28, s), shape (n, 2). [MPa per unit of each]"""
    u = np.sqrt(_DAYS_28_H / np.maximum(equivalent_age_h, _YOUNGEST_H))
    strength = en1992_mpa(equivalent_age_h, p)
    return np.stack((strength / p.f28_mpa, strength * (1.0 - u)), axis=-1)


def aci209_mpa(equivalent_age_h: Floats, p: Aci209Parameters) -> Floats:
    """Return strength: f28 te / (a + b te).

    Args:
        equivalent_age_h: te, shape (n,). [h]
        p: strength at 28 days [MPa], a [h], b [-].

    Source:
        ACI 209R-92, equation 2-1 and table 2.2.1 (from memory): moist, type I a = 4.0 d, b = 0.85; type III 2.3 d,
        0.92; steam 1.0 d, 0.95 and 0.70 d, 0.98. It begins at no age: too strong in the first 18 h.
    """
    te = np.maximum(equivalent_age_h, 0.0)
    return _from_zero(equivalent_age_h, p.f28_mpa * te / (p.a_h + p.b * te))


def aci209_age_h(strength_mpa: float, p: Aci209Parameters) -> float:
    """Return the equivalent age at which the curve has a strength; infinite at f28 / b and above. [h]"""
    if (end_h := _end_h(strength_mpa, p.f28_mpa / p.b)) is not None:
        return end_h
    return p.a_h * strength_mpa / (p.f28_mpa - p.b * strength_mpa)


def aci209_slope(equivalent_age_h: Floats, p: Aci209Parameters) -> Floats:
    """Return dS/dte: f28 a / (a + b te)^2, shape (n,). [MPa/h]"""
    te = np.maximum(equivalent_age_h, 0.0)
    return _from_zero(equivalent_age_h, p.f28_mpa * p.a_h / (p.a_h + p.b * te) ** 2)


def aci209_gradient(equivalent_age_h: Floats, p: Aci209Parameters) -> Floats:
    """Return dS/d(f28, a, b), shape (n, 3). [MPa per unit of each]"""
    te = np.maximum(equivalent_age_h, 0.0)
    below = p.a_h + p.b * te
    return np.stack((te / below, -p.f28_mpa * te / below**2, -p.f28_mpa * te**2 / below**2), axis=-1)


@dataclass(frozen=True, slots=True)
class Curve(Generic[P]):
    """One form of the strength-maturity relationship; its parameters: `shared.models.calibration.PARAMETERS`."""

    strength_mpa: Callable[[Floats, P], Floats]
    age_h: Callable[[float, P], float]
    slope: Callable[[Floats, P], Floats]
    gradient: Callable[[Floats, P], Floats]
    """One column a parameter, in the order of its fields."""


CURVES: Final[dict[str, Curve[Any]]] = {
    "exponential": Curve(exponential_mpa, exponential_age_h, exponential_slope, exponential_gradient),
    "hyperbola": Curve(hyperbola_mpa, hyperbola_age_h, hyperbola_slope, hyperbola_gradient),
    "logarithmic": Curve(logarithmic_mpa, logarithmic_age_h, logarithmic_slope, logarithmic_gradient),
    "en1992": Curve(en1992_mpa, en1992_age_h, en1992_slope, en1992_gradient),
    "aci209": Curve(aci209_mpa, aci209_age_h, aci209_slope, aci209_gradient),
}
