"""The lower bound of strength in place: what the evidence supports, not what it suggests.

Both must pass: the 10th percentile of the prediction, from the parallel sums that the record carries, and k times the
estimate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from cure.accumulate import COLD, COLDEST, COLDEST_SDS, HIGH_ENERGY, LOW_ENERGY, NOMINAL, TENTH_PERCENTILE, Track
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.base import Ms
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

K_PLAIN: Final = 0.8
K_SUPPLEMENTARY: Final = 0.7
"""Factors on the estimated strength: Buildings Department, Hong Kong, Code of Practice for Structural Use of Concrete
2013, amendment of February 2022, clause 11.7.5.4 and table 11.2 (read in a summary of the amendment)."""
K_SUPPLEMENTARY_UNTIL_H: Final = 48.0
K_RAMP_H: Final = 24.0
BATCH_SD_RATIO: Final = 0.10
"""Batch to batch, below 12 MPa. JCSS Probabilistic Model Code 3.1 (read): 6 % within a mix, ready-mixed 9 to 14 %."""
HALVINGS: Final = 60
"""More than a float has digits."""
SETTING_SD_H: Final = 1.0
SETTING_SD_RETARDED_H: Final = 2.0
CLOCK_SD_H: Final = 0.25
"""Of the hour of the pour's end, in equivalent age at 20 degC (our judgement, as the setting time)."""
LAW_SHARE: Final = 0.8
"""Of the strength lost at the activation energy 1.645 sd off. 1.28/1.645 is 0.78 of what is a line in it; the rest is
for the gains that a law which is the lower of two does not have where the two cross."""
COLDEST_SHARE: Final = TENTH_PERCENTILE / COLDEST_SDS
AT_ONCE: Final = 1024
"""Readings of a sensor that are looked at together: it is young for a small part of a long record."""
STUDENT_TENTH_FEW: Final = (math.tan(0.4 * math.pi), 0.8 / math.sqrt(0.18))
"""Closed forms of the one-sided 10 % point at 1 and 2 degrees of freedom."""


def k_factor(equivalent_age_h: Floats, *, supplementary: bool) -> Floats:
    """Return k: 0.8, or with fly ash, slag or unknown binder 0.7 to 48 equivalent hours and linear to 0.8 over 24."""
    if not supplementary:
        return np.full_like(equivalent_age_h, K_PLAIN)
    ramp = np.clip((equivalent_age_h - K_SUPPLEMENTARY_UNTIL_H) / K_RAMP_H, 0.0, 1.0)
    return K_SUPPLEMENTARY + (K_PLAIN - K_SUPPLEMENTARY) * ramp


def k_age_h(required_mpa: float, calibration: Calibration, *, supplementary: bool) -> float:
    """Return the least equivalent age at which k times the curve is a strength; infinite: never. [h]

    The bound may reach it later, by its statistical part.
    """
    curve, p = CURVES[calibration.curve], calibration.parameters
    first = curve.age_h(required_mpa / K_PLAIN, p)
    if not supplementary or not math.isfinite(first):
        return first
    # From the end of the ramp on k is the plain one.
    last = min(curve.age_h(required_mpa / K_SUPPLEMENTARY, p), max(first, K_SUPPLEMENTARY_UNTIL_H + K_RAMP_H))
    for _ in range(HALVINGS):
        middle = np.array([0.5 * (first + last)])
        there = bool(k_factor(middle, supplementary=True)[0] * curve.strength_mpa(middle, p)[0] >= required_mpa)
        first, last = (first, float(middle[0])) if there else (float(middle[0]), last)
    return last


def student_tenth(degrees_of_freedom: int) -> float:
    """Return the one-sided 10 % point of Student's t.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5 (from memory), three terms; exact for 1
    and 2, where the series falls short. Against scipy in the tests: within 0.1 %.
    """
    if degrees_of_freedom <= len(STUDENT_TENTH_FEW):
        return STUDENT_TENTH_FEW[degrees_of_freedom - 1]
    z, n = TENTH_PERCENTILE, float(degrees_of_freedom)
    first = (z**3 + z) / 4.0
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96.0
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384.0
    return z + first / n + second / n**2 + third / n**3


def _within_tested_h(equivalent_age_h: Floats, calibration: Calibration) -> Floats:
    return np.minimum(equivalent_age_h, calibration.tested_to_h)


def estimate_mpa(sums: Floats, calibration: Calibration) -> Floats:
    """Return the estimated strength for sums of shape (n, 6); held at its value above the tested range. [MPa]"""
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    return CURVES[calibration.curve].strength_mpa(te, calibration.parameters)


def error_budget_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> dict[str, Floats]:
    """Return what each source of error takes from the estimate for sums of shape (n, 6), by its name. [MPa]

    t_10 x sd of the calibration; 1.28 x sd of the batch; the strength lost when the concrete sets, or the clock
    starts, 1.28 sd later; temperature law and sensor as below.

    Two parts are no lines, and a slope at the middle says too little of them. The default law is the lower of two:
    the energy may move by a sd without the lower one changing, and then costs a sixth of the rate with the next. So it
    is summed 1.645 sd off, to both sides, and 0.8 of the worse loss is taken. At and below 0 degC nothing is earned:
    concrete read at 0.7 degC keeps its credit 1.28 sd colder and has none 1.5 sd colder, as one sensor in fifteen may
    be off. So readings are summed 1.28 sd colder and 2 sd colder (1 degC, all that ASTM C1074 allows a sensor; from
    memory), and the larger of the one loss and 0.64 of the other is taken.
    """
    curve, p = CURVES[calibration.curve], calibration.parameters
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    s = curve.strength_mpa(te, p)
    gradient = curve.gradient(te, p)
    variance = np.einsum("ni,ij,nj->n", gradient, np.array(calibration.covariance), gradient)
    setting_h = SETTING_SD_RETARDED_H if mix.retarded else SETTING_SD_H

    def lost(other_h: Floats) -> Floats:
        return s - curve.strength_mpa(_within_tested_h(other_h, calibration), p)

    law = np.maximum(lost(sums[:, LOW_ENERGY]), lost(sums[:, HIGH_ENERGY]))
    # No number loses everything, not a share of it.
    share = np.where(np.isnan(sums[:, COLDEST]), 1.0, COLDEST_SHARE)
    sensor = np.maximum(lost(sums[:, COLD]), share * lost(sums[:, COLDEST]))
    return {
        "calibration": student_tenth(calibration.degrees_of_freedom) * np.sqrt(variance),
        "batch": TENTH_PERCENTILE * BATCH_SD_RATIO * s,
        "temperature law": LAW_SHARE * np.maximum(0.0, law),
        "setting": lost(np.maximum(0.0, te - TENTH_PERCENTILE * setting_h)),
        "clock": lost(np.maximum(0.0, te - TENTH_PERCENTILE * CLOCK_SD_H)),
        "sensor": np.maximum(0.0, sensor),
    }


def tenth_percentile_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    """Return the 10th percentile of the strength predicted for sums of shape (n, 6); never below zero. [MPa]

    The estimate less the root of the sum of squares of `error_budget_mpa`.

    Against a Monte Carlo prediction (`python -m deploy.bench.bound`, tests/cure/test_bound_monte_carlo.py) it is within
    2 % of the strength at steady 2 to 30 degC, over falls and swings across both bends of the law; and below it, by
    more, where concrete may have been frozen.
    """
    parts = error_budget_mpa(sums, calibration, mix).values()
    return np.maximum(0.0, estimate_mpa(sums, calibration) - np.sqrt(sum(part**2 for part in parts)))


def lower_bound_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    """Return the lower bound of strength for sums of shape (n, 6). [MPa]

    The lower of k S and `tenth_percentile_mpa`. 0 below the lowest tested equivalent age; NaN in gives NaN or 0 out,
    which pass no requirement.

    Args:
        sums: columns as in `cure.accumulate`, shape (n, 6).
        calibration: the mix's curve with covariance and tested range.
        mix: its binder class and whether it is retarded.

    Source:
        ACI 228.1R uses the lower tenth percentile (from memory); the parts and their sizes are this product's design.
    """
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    k = k_factor(te, supplementary=mix.supplementary)
    bound = np.minimum(k * estimate_mpa(sums, calibration), tenth_percentile_mpa(sums, calibration, mix))
    # Not the other way round: only a tested age that is really there lets the bound through.
    return np.where(sums[:, NOMINAL] >= calibration.tested_from_h, bound, 0.0)


def all_reached_ms(tracks: Sequence[Track], mpa: float, calibration: Calibration, mix: MixSettings) -> Ms | None:
    """Return when the bound of the last of several sensors had reached a strength; None: one has not yet."""
    reached_ms: list[Ms] = []
    for begin in range(0, max(len(t.sums) for t in tracks), AT_ONCE):
        # All sensors in one array: many small ones cost more.
        parts = [t.sums[begin : begin + AT_ONCE] for t in tracks]
        bounds = lower_bound_mpa(np.concatenate(parts), calibration, mix)
        found = np.split(bounds >= mpa, np.cumsum([len(part) for part in parts])[:-1])
        reached_ms += [int(t.taken_ms[begin + np.argmax(r)]) for t, r in zip(tracks, found, strict=True) if r.any()]
        tracks = [t for t, r in zip(tracks, found, strict=True) if not r.any()]
        if not tracks:
            return max(reached_ms)
    return None
