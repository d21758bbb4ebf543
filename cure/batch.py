"""What a pour's own early cylinders say of its batch: a Bayesian update in closed form. Pure.

How it counts: `cure.counted`.

The model, in logarithms: strength over curve is the pour's own effect, and the truck's. Before there are cylinders the
two together have the spread that the bound has for a batch. A cylinder shows their sum, off by its own scatter, which
is new with each, and by the curve, the setting time and its temperature record, which are the same for all of one pour;
all of them may be of one truck, so that the truck's effect is learned of none. With the spreads known and normal the
posterior is normal (conjugate), without any search or draw.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.bound import batch_sd_ratio, setting_sd_h
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.calibration import Calibration
from shared.models.decisions import MixTest
from shared.models.setup import MixSettings

TRUCK_SD_RATIO: Final = 0.06
"""Within a mix: JCSS Probabilistic Model Code 3.1 (read). No cylinders of one truck tell of the next."""
CYLINDER_SD_RATIO: Final = 0.04
"""Cylinder to cylinder of one sample. ACI 214R calls 3 to 4 % within a test good in the laboratory (from memory)."""
RECORD_SD_RATIO: Final = 0.03
"""Of a cylinder's maturity: a sensor 0.5 degC off is 3 % of equivalent age (computed at 5 to 20 degC)."""


@dataclass(frozen=True, slots=True)
class Known:
    """A quantity and its standard deviation."""

    mean: float
    sd: float


def updated(before: Known, found: Known) -> Known:
    """Return what is known of a mean after a value was found for it: both normal, both spreads known.

    1/sd'^2 = 1/sd0^2 + 1/sd^2, mean' = sd'^2 (mean0/sd0^2 + found/sd^2), each in its own unit.

    Source:
        Box and Tiao, Bayesian Inference in Statistical Analysis, 1973, 1.2.3; Gelman and others, Bayesian Data
        Analysis, 2.5 (both from memory). Check: tests/cure/test_batch.py.

    Raises:
        ValueError: a spread that is not above 0.
    """
    if not (before.sd > 0.0 and found.sd > 0.0):
        raise ValueError("both spreads must be above 0")
    share = before.sd**2 / (before.sd**2 + found.sd**2)
    return Known(before.mean + share * (found.mean - before.mean), before.sd * math.sqrt(1.0 - share))


@dataclass(frozen=True, slots=True)
class Batch:
    """What a pour's own cylinders say of its batch, and how it counts."""

    cylinders: int = 0
    """Within the tested range; those outside say nothing."""
    ratio: float = 1.0
    """The pour's strength over the curve, as it is expected with them."""
    sd_ratio: float = math.nan
    """Spread about it, the next truck's included."""
    lowers_to: float = 1.0
    """By which its curve is lowered; never above 1."""
    narrows_to: float | None = None
    """The spread that its bound has instead of the mix's; None: the mix's."""
    why_not: str = ""
    """Why nothing is narrowed although the calibration has a rule for it: a name of `cure.counted.WHY_NOT`."""


def batch_of(calibration: Calibration, mix: MixSettings, tests: Iterable[MixTest]) -> Batch:
    """Return what cylinders of one pour say of it; how it counts is not said yet.

    Args:
        calibration: of the mix, as the laboratory made it.
        mix: whether it is retarded.
        tests: the pour's own cylinders with their own equivalent ages [h] and strengths [MPa].
    """
    within, whole = within_tested(calibration, tests), batch_sd_ratio(calibration)
    if not within:
        return Batch(sd_ratio=whole)
    ages, logs = np.array([t.equivalent_age_h for t in within]), logs_of(calibration, within)
    shared = float(np.mean(_shared_sd_ratio(calibration, mix, ages)))
    off = math.hypot(shared, TRUCK_SD_RATIO, CYLINDER_SD_RATIO / math.sqrt(len(within)))
    pour = Known(0.0, math.sqrt(max(whole**2 - TRUCK_SD_RATIO**2, 0.0)))
    after = updated(pour, Known(float(np.mean(logs)), off))
    return Batch(len(within), math.exp(after.mean), math.hypot(after.sd, TRUCK_SD_RATIO))


def within_tested(calibration: Calibration, tests: Iterable[MixTest]) -> list[MixTest]:
    """Return the cylinders that say something: those of a tested age."""
    return [t for t in tests if calibration.tested_from_h <= t.equivalent_age_h <= calibration.tested_to_h]


def logs_of(calibration: Calibration, within: Sequence[MixTest]) -> Floats:
    """Return the logarithms of strength over curve, each at its own age; what has none is no number."""
    ages, mpa = np.array([t.equivalent_age_h for t in within]), np.array([t.mpa for t in within])
    ratios = mpa / CURVES[calibration.curve].strength_mpa(ages, calibration.parameters)
    logs: Floats = np.log(np.where(ratios > 0.0, ratios, np.nan))
    return logs


def _shared_sd_ratio(calibration: Calibration, mix: MixSettings, ages_h: Floats) -> Floats:
    """Return what all cylinders of a pour may be off by together: curve, setting, record; shape (n,). [of strength]"""
    curve, p = CURVES[calibration.curve], calibration.parameters
    s, gradient = curve.strength_mpa(ages_h, p), curve.gradient(ages_h, p)
    of_curve = np.sqrt(np.einsum("ni,ij,nj->n", gradient, np.array(calibration.covariance), gradient))
    later = [np.maximum(0.0, ages_h - by_h) for by_h in (setting_sd_h(mix), RECORD_SD_RATIO * ages_h)]
    setting, record = (s - curve.strength_mpa(age, p) for age in later)
    shared: Floats = np.sqrt(of_curve**2 + setting**2 + record**2) / s
    return shared
