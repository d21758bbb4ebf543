"""When the concrete itself, not its lower bound, has a strength, in each member of an ensemble. Pure.

For scores and plans: a release asks for the bound. The curve's parameters are drawn from the calibration's covariance,
the batch and the first hours from the pour's spread.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cure.accumulate import NOMINAL, Law
from cure.draws import bias_c, factor, shared
from cure.forecast import Ensemble
from cure.going_on import Onward, crossing_h, rates
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.calibration import Calibration, CurveParameters

LEAST_SHARE = 0.05
"""Of itself: a drawn parameter is never less."""
PER_DEGREE = 0.06
"""By which an age is less where its sensor reads 1 degC too warm (computed: 6.0 % at 20 degC, 6.6 % at 5 degC)."""


def curves_of(calibration: Calibration, ensemble: Ensemble) -> list[CurveParameters]:
    """Return the parameters of the curve of each member."""
    middle = calibration.parameters.model_dump()
    values, vectors = np.linalg.eigh(np.array(calibration.covariance))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    scores = np.stack([shared(ensemble.drawn, f"curve {i + 1}") for i in range(len(middle))])
    names, found = list(middle), root @ scores
    drawn = np.array(list(middle.values()))[:, None] + found
    positive = np.array(list(middle.values()))[:, None] > 0.0
    drawn = np.where(positive, np.maximum(drawn, LEAST_SHARE * np.array(list(middle.values()))[:, None]), drawn)
    kind = type(calibration.parameters)
    return [kind.model_construct(**dict(zip(names, of, strict=True))) for of in drawn.T.tolist()]


def needed_h(
    calibration: Calibration, work_spread: tuple[Floats, Floats], curves: Sequence[CurveParameters], mpa: float
) -> Floats:
    """Return the nominal equivalent age at which each member has a strength, shape (members,). [h]

    Args:
        calibration: which curve.
        work_spread: factors of strength and of age of each member.
        curves: of each member.
        mpa: the strength.
    """
    batch, age = work_spread
    curve = CURVES[calibration.curve]
    ages = [curve.age_h(mpa / b, p) for b, p in zip(batch.tolist(), curves, strict=True)]
    return np.array(ages) / age


def strength_h(on: Onward, ensemble: Ensemble, calibration: Calibration, mpas: Sequence[float]) -> Floats:
    """Return the hours from the evidence's on until the concrete at every required sensor has each strength.

    Args:
        on: how the evidence goes on.
        ensemble: the members.
        calibration: of the mix.
        mpas: the strengths.

    Returns:
        Shape (strengths, members); infinite: not within the horizon.
    """
    spread, work, points_c = on.work.spread, on.work, on.concrete_c
    factors = (
        factor(work, ensemble.drawn, "batch", spread.ln_batch),
        factor(work, ensemble.drawn, "age", spread.ln_age),
    )
    curves = curves_of(calibration, ensemble)
    needed = [needed_h(calibration, factors, curves, mpa) for mpa in mpas]
    law, steps = Law.of(calibration), np.diff(on.hours)[:, None]
    found = np.zeros((len(mpas), points_c.shape[2]))
    for s, k in enumerate([k for k, p in enumerate(work.points) if p.required]):
        mean = 0.5 * (points_c[1:, s] + points_c[:-1, s])
        gained = np.cumsum(rates(law, mean)[..., NOMINAL] * steps, axis=0)
        begun = on.earned.sums.get(work.points[k].sensor)
        so_far = 0.0 if begun is None else float(begun[NOMINAL])
        age = np.concatenate((np.zeros((1, gained.shape[1])), gained))
        age += so_far * (1.0 - PER_DEGREE * bias_c(work, ensemble.drawn, k))
        found = np.maximum(found, [crossing_h(on.hours, age - of, 0.0) for of in needed])
    return found
