"""An independent least-squares fit of a curve, with the product's own strength and gradient as model and Jacobian."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.calibration import PARAMETERS


def parameters_of(curve: str, values: Floats, fixed: dict[str, float]) -> Any:
    """Return parameters of a curve from the free ones in the order of its fields; limits are not checked."""
    free = [name for name in PARAMETERS[curve].model_fields if name not in fixed]
    return SimpleNamespace(**fixed, **dict(zip(free, map(float, values), strict=True)))


def fit(curve: str, age_h: Floats, mpa: Floats, start: list[float], **fixed: float) -> tuple[Floats, Floats, float]:
    """Return the free parameters, their standard errors, and the sum of squares [MPa^2]."""
    names = list(PARAMETERS[curve].model_fields)
    columns = [i for i, name in enumerate(names) if name not in fixed]

    def left(values: Floats) -> Floats:
        return CURVES[curve].strength_mpa(age_h, parameters_of(curve, values, fixed)) - mpa

    def slopes(values: Floats) -> Floats:
        whole: Floats = CURVES[curve].gradient(age_h, parameters_of(curve, values, fixed))
        return whole[:, columns]

    low, high = np.full(len(start), -np.inf), np.full(len(start), np.inf)
    if curve != "logarithmic":
        low[:] = 1e-6
    found = least_squares(
        left, start, slopes, bounds=(low, high), x_scale=np.abs(start), xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    squares, freedom = float(2.0 * found.cost), len(mpa) - len(start)
    jacobian = slopes(found.x)
    errors = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)) * squares / freedom)
    return np.asarray(found.x), errors, squares
