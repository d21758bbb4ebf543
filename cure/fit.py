"""Fitting a strength curve to cylinders: parameters, covariance, how well it fits. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.optimize import least_squares
from scipy.special import fdtrc, stdtrit

from cure.breaks import Break
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.calibration import PARAMETERS, CurveParameters

FLOOR_MPA: Final = 0.1
RATIO: Final = 0.03
"""A cylinder's standard deviation is the larger of the two. A good laboratory's within-test variation is 3 to 4 % (ACI
214R, from memory); the floor is our judgement."""
OUTLIER: Final = 0.01
"""Chance that some cylinder of a good programme is called an outlier (Bonferroni; Cook and Weisberg, from memory)."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A curve through cylinders."""

    curve: str
    parameters: CurveParameters
    covariance: Floats
    """Of the parameters, scaled by the scatter found."""
    residuals: Floats
    """Found less fitted, in standard deviations of a cylinder, shape (n,)."""
    leverage: Floats
    """How much each cylinder draws the curve to itself, 0 to 1."""

    @property
    def degrees_of_freedom(self) -> int:
        """Cylinders less parameters."""
        return len(self.residuals) - len(self.covariance)

    @property
    def scatter(self) -> float:
        """Standard deviation of the residuals; 1: as a cylinder's."""
        return math.sqrt(float(np.sum(self.residuals**2)) / self.degrees_of_freedom)

    def strength_mpa(self, age_h: float) -> float:
        """Return the strength at an equivalent age."""
        return float(CURVES[self.curve].strength_mpa(np.array([age_h]), self.parameters)[0])

    def age_h(self, mpa: float) -> float:
        """Return the equivalent age of a strength."""
        return CURVES[self.curve].age_h(mpa, self.parameters)

    def outside(self) -> Floats:
        """Return each cylinder's residual in standard deviations found without it (externally studentised)."""
        n, own = self.degrees_of_freedom, self.residuals**2 / (1.0 - self.leverage)
        rest = (float(np.sum(self.residuals**2)) - own) / max(1, n - 1)
        return np.sign(self.residuals) * np.sqrt(own / np.maximum(rest, 1e-12))

    def strangers(self) -> list[tuple[int, float]]:
        """Return which cylinders lie too far from the others, and how far. [sd]"""
        limit = float(stdtrit(self.degrees_of_freedom - 1, 1.0 - OUTLIER / 2.0 / len(self.residuals)))
        # Not the other way round: what is no number is one too.
        return [(i, float(off)) for i, off in enumerate(self.outside()) if not abs(float(off)) <= limit]


def sd_mpa(found_mpa: Floats) -> Floats:
    """Return the standard deviation of each cylinder. [MPa]"""
    return np.maximum(FLOOR_MPA, RATIO * found_mpa)


def _start(curve: str, age_h: Floats, mpa: Floats) -> Sequence[float]:
    """Return parameters to begin from: of the usual size for concrete."""
    highest = float(mpa.max())
    match curve:
        case "exponential":
            return 1.2 * highest, 30.0, 0.7
        case "hyperbola":
            return 1.1 * highest, 0.02, 0.5 * float(age_h.min())
        case "logarithmic":
            b, a = np.polyfit(np.log10(age_h), mpa, 1)
            return float(a), float(b)
        case "en1992":
            return highest, 0.3
        case _:
            return highest, 96.0, 0.85


def _limits(curve: str) -> tuple[list[float], list[float]]:
    low, high = [], []
    for field in PARAMETERS[curve].model_fields.values():
        said = {type(m).__name__: m for m in field.metadata}
        least = getattr(said.get("Ge"), "ge", None)
        low.append(1e-9 if least is None else float(least))
        high.append(float(said["Le"].le))
    return low, high


@dataclass(frozen=True, slots=True)
class Solution:
    """What least squares found: p parameters through n values."""

    parameters: Floats
    covariance: Floats
    """Of the parameters, scaled by the scatter found, shape (p, p)."""
    misses: Floats
    """Of each value, fitted less found, in its standard deviations, shape (n,)."""
    leverage: Floats
    """How much each value draws the curve to itself, 0 to 1, shape (n,)."""


def solve(
    off: Callable[[Floats], Floats],
    slope: Callable[[Floats], Floats],
    start: Sequence[float],
    limits: tuple[Sequence[float], Sequence[float]],
) -> Solution:
    """Find the parameters of least squares, with their covariance.

    Args:
        off: parameters, shape (p,) -> misses in standard deviations of each value, shape (n,).
        slope: parameters -> derivatives of the misses, shape (n, p).
        start: parameters to begin from; moved to within the limits.
        limits: lowest and highest of each parameter.

    Raises:
        ValueError: no minimum is found, or the values do not tell the parameters apart.

    Source:
        The covariance is that of the linear model at the minimum (Bates and Watts, Nonlinear Regression Analysis, from
        memory). Check: certified values of NIST StRD, tests/references/test_regression.py.
    """
    tight: dict[str, Any] = {"xtol": 1e-12, "ftol": 1e-12, "gtol": 1e-12, "max_nfev": 2000}
    done = least_squares(off, np.clip(start, *limits), jac=slope, bounds=limits, x_scale="jac", **tight)
    jacobian = slope(done.x)
    n, p = jacobian.shape
    inverse = np.linalg.pinv(jacobian.T @ jacobian)
    covariance = inverse * float(np.sum(done.fun**2)) / (n - p)
    leverage = np.clip(np.einsum("ni,ij,nj->n", jacobian, inverse, jacobian), 0.0, 1.0 - 1e-9)
    if not (done.success and np.all(np.isfinite(covariance)) and np.linalg.matrix_rank(jacobian) == p):
        raise ValueError("these values do not tell the parameters")
    return Solution(done.x, covariance, done.fun, leverage)


def fit(curve: str, breaks: Sequence[Break]) -> Fit:
    """Fit a curve of `CURVES` by weighted least squares.

    Raises:
        ValueError: too few cylinders, or no curve of that form comes near them.
    """
    age_h, found_mpa = np.array([b.equivalent_age_h for b in breaks]), np.array([b.mpa for b in breaks])
    model, names = CURVES[curve], list(PARAMETERS[curve].model_fields)
    if len(breaks) <= len(names):
        raise ValueError(f"{len(breaks)} cylinders are too few for {len(names)} parameters")
    sd, limits = sd_mpa(found_mpa), _limits(curve)

    def parameters(x: Floats) -> CurveParameters:
        return PARAMETERS[curve].model_validate(dict(zip(names, map(float, x), strict=True)))

    def off(x: Floats) -> Floats:
        misses: Floats = (model.strength_mpa(age_h, parameters(x)) - found_mpa) / sd
        return misses

    def slope(x: Floats) -> Floats:
        rows: Floats = model.gradient(age_h, parameters(x)) / sd[:, np.newaxis]
        return rows

    try:
        found = solve(off, slope, _start(curve, age_h, found_mpa), limits)
    except ValueError as error:
        raise ValueError(f"no {curve} curve can be told from these cylinders") from error
    return Fit(curve, parameters(found.parameters), found.covariance, -found.misses, found.leverage)


def lack_of_fit(fitted: Fit, breaks: Sequence[Break]) -> float | None:
    """Return the probability of so poor a fit by the cylinders' own scatter; None: no cylinders of one age.

    Source: the lack-of-fit F test, Draper and Smith, Applied Regression Analysis (from memory).
    """
    age_h, mpa = np.array([b.equivalent_age_h for b in breaks]), np.array([b.mpa for b in breaks])
    ages, of = np.unique(age_h, return_inverse=True)
    sd = sd_mpa(mpa)
    weight = 1.0 / sd**2
    mean = np.bincount(of, weight * mpa) / np.bincount(of, weight)
    pure, pure_dof = float(np.sum(((mpa - mean[of]) / sd) ** 2)), len(mpa) - len(ages)
    lack_dof = len(ages) - len(fitted.covariance)
    if pure_dof < 1 or lack_dof < 1 or pure <= 0.0:
        return None
    lack = max(0.0, float(np.sum(fitted.residuals**2)) - pure)
    return float(fdtrc(lack_dof, pure_dof, (lack / lack_dof) / (pure / pure_dof)))
