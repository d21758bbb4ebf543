"""The lower bound of strength in place: what the evidence supports, not what it suggests.

Three must pass: the 10th percentile of the prediction, from the parallel sums that the record carries; k times the
estimate; and 0.85 of what is required by the far bound, for which everything is as far off as it may be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from cure.accumulate import (
    COLD,
    COLDEST,
    COLDEST_SDS,
    HIGH_ENERGY,
    HIGHEST_ENERGY,
    LOW_ENERGY,
    NOMINAL,
    TENTH_PERCENTILE,
    Track,
)
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
FAR_SDS: Final = 2.326
"""One in 100 of a normal distribution is lower."""
FAR_RATIO: Final = 0.85
"""Of what is required must be there by the far bound: what the strength of one core may be where a structure is
accepted by cores is 0.75, the mean of three 0.85 (ACI 318, from memory)."""
AT_ONCE: Final = 1024
"""Readings of a sensor that are looked at together: it is young for a small part of a long record."""
STUDENT_TENTH_FEW: Final = (math.tan(0.4 * math.pi), 0.8 / math.sqrt(0.18))
"""Closed forms of the one-sided 10 % point at 1 and 2 degrees of freedom."""


def batch_sd_ratio(calibration: Calibration) -> float:
    """Return the spread of a batch about the curve: the calibration's own, or 10 %. [of strength]"""
    percent = calibration.batch_sd_percent
    return BATCH_SD_RATIO if percent is None else percent / 100.0


def setting_sd_h(mix: MixSettings) -> float:
    """Return the spread of the setting time, in equivalent age. [h]"""
    return SETTING_SD_RETARDED_H if mix.retarded else SETTING_SD_H


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
    """Return the estimated strength for sums of shape (n, 7); held at its value above the tested range. [MPa]"""
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    return CURVES[calibration.curve].strength_mpa(te, calibration.parameters)


def _lost_mpa(s: Floats, calibration: Calibration, other_h: Floats) -> Floats:
    """Return what an estimate loses when the concrete is only `other_h` old; below zero: it gains. [MPa]"""
    curve = CURVES[calibration.curve]
    return s - curve.strength_mpa(_within_tested_h(other_h, calibration), calibration.parameters)


def _not_of_the_record_mpa(sums: Floats, calibration: Calibration, mix: MixSettings, sds: float) -> dict[str, Floats]:
    """Return what calibration, batch, setting and the clock take, each so many sd off, by name. [MPa]"""
    curve, p = CURVES[calibration.curve], calibration.parameters
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    s, gradient = curve.strength_mpa(te, p), curve.gradient(te, p)
    sd = np.sqrt(np.einsum("ni,ij,nj->n", gradient, np.array(calibration.covariance), gradient))
    return {
        "calibration": sds / TENTH_PERCENTILE * student_tenth(calibration.degrees_of_freedom) * sd,
        "batch": sds * batch_sd_ratio(calibration) * s,
        "setting": _lost_mpa(s, calibration, np.maximum(0.0, te - sds * setting_sd_h(mix))),
        "clock": _lost_mpa(s, calibration, np.maximum(0.0, te - sds * CLOCK_SD_H)),
    }


def error_budget_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> dict[str, Floats]:
    """Return what each source of error takes from the estimate for sums of shape (n, 7), by its name. [MPa]

    t_10 x sd of the calibration; 1.28 x sd of the batch; the strength lost when the concrete sets, or the clock
    starts, 1.28 sd later; temperature law and sensor as below.

    Two parts are no lines, and a slope at the middle says too little of them. The default law is the lower of two:
    the energy may move by a sd without the lower one changing, and then costs a sixth of the rate with the next. So it
    is summed 1.645 sd off, to both sides, and 0.8 of the worse loss is taken. At and below 0 degC nothing is earned:
    concrete read at 0.7 degC keeps its credit 1.28 sd colder and has none 1.5 sd colder, as one sensor in fifteen may
    be off. So readings are summed 1.28 sd colder and 2 sd colder (1 degC, all that ASTM C1074 allows a sensor; from
    memory), and the larger of the one loss and 0.64 of the other is taken.
    """
    s = estimate_mpa(sums, calibration)
    low, high, cold, coldest = (
        _lost_mpa(s, calibration, sums[:, column]) for column in (LOW_ENERGY, HIGH_ENERGY, COLD, COLDEST)
    )
    # No number loses everything, not a share of it.
    share = np.where(np.isnan(sums[:, COLDEST]), 1.0, COLDEST_SHARE)
    return _not_of_the_record_mpa(sums, calibration, mix, TENTH_PERCENTILE) | {
        "temperature law": LAW_SHARE * np.maximum(0.0, np.maximum(low, high)),
        "sensor": np.maximum(0.0, np.maximum(cold, share * coldest)),
    }


def tenth_percentile_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    """Return the 10th percentile of the strength predicted for sums of shape (n, 7); never below zero. [MPa]

    The estimate less the root of the sum of squares of `error_budget_mpa`.

    Against a Monte Carlo prediction (`python -m deploy.bench.bound`, tests/cure/test_bound_monte_carlo.py) it is within
    2 % of the strength at steady 2 to 30 degC, over falls and swings across both bends of the law; and below it, by
    more, where concrete may have been frozen.
    """
    parts = error_budget_mpa(sums, calibration, mix).values()
    return np.maximum(0.0, estimate_mpa(sums, calibration) - np.sqrt(sum(part**2 for part in parts)))


def far_bound_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    """Return the strength that is there even if all is as far off as it may be, for sums of shape (n, 7). [MPa]

    The record counts as the worst it may be: at the lowest of its ages with energies of 25 or 64 kJ/mol where the mix's
    own was not tested, beyond which none was found, and with a sensor 1 degC too warm, which is what it is allowed.
    From the strength of that age go calibration, batch, setting and clock, as they are in 99 of 100 cases. Not the root
    of squares of all, which can fall while a credit grows: a reading more must never make the bound lower, or one less
    would make it higher. Never below zero.
    """
    records = sums[:, (NOMINAL, LOW_ENERGY, HIGHEST_ENERGY, COLDEST)]
    # Not nanmin: what is no number has no age.
    worst = np.repeat(np.min(records, axis=1)[:, None], sums.shape[1], axis=1)
    parts = _not_of_the_record_mpa(worst, calibration, mix, FAR_SDS).values()
    return np.maximum(0.0, estimate_mpa(worst, calibration) - np.sqrt(sum(part**2 for part in parts)))


def lower_bound_mpa(sums: Floats, calibration: Calibration, mix: MixSettings) -> Floats:
    """Return the lower bound of strength for sums of shape (n, 7). [MPa]

    The lowest of k S, `tenth_percentile_mpa` and `far_bound_mpa` / 0.85. 0 below the lowest tested equivalent age; NaN
    in gives NaN or 0 out, which pass no requirement.

    Args:
        sums: columns as in `cure.accumulate`, shape (n, 7).
        calibration: the mix's curve with covariance and tested range.
        mix: its binder class and whether it is retarded.

    Source:
        ACI 228.1R uses the lower tenth percentile (from memory); the parts and their sizes are this product's design.
    """
    te = _within_tested_h(sums[:, NOMINAL], calibration)
    k = k_factor(te, supplementary=mix.supplementary)
    tenth = tenth_percentile_mpa(sums, calibration, mix)
    far = far_bound_mpa(sums, calibration, mix) / FAR_RATIO
    bound = np.minimum(np.minimum(k * estimate_mpa(sums, calibration), tenth), far)
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
