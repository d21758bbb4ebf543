"""The prediction that the bound is the tenth percentile of, by Monte Carlo: every uncertain thing is drawn.

Nothing of `cure.bound` is used: the sizes are the design's, said again. The record is summed anew for every draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import Law
from cure.strength import CURVES
from deploy.bench.mixes import Array
from deploy.bench.slabs import BATCH_SD, CLOCK_SD_H, SENSOR_SD_C, SETTING_SD_H
from shared.models.calibration import Calibration
from shared.models.setup import MixSettings

RETARDED_SD_H: Final = 2.0
STEADY_C: Final = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.6, 16.0, 20.0, 25.0, 28.0, 30.0)
"""The two branches of the law cross at 14.6 degC and its second one bends at 20."""
CHUNK: Final = 64
"""Intervals that are summed at once."""


@dataclass(frozen=True, slots=True)
class Record:
    """Intervals of a sensor: their mean temperature and length, shape (m,)."""

    temperature_c: Array
    hours: Array


def steady(c: float) -> Record:
    """Return a record at one temperature."""
    return Record(np.full(4_000, c), np.full(4_000, 0.25))


def _moving(c: Array) -> Record:
    return Record(c, np.full(len(c), 1.0))


_H: Final = np.arange(0.0, 400.0)
_DAY: Final = np.sin(2.0 * np.pi * _H / 24.0)
HISTORIES: Final[dict[str, Record]] = {
    "swing from 0 to 3 degC": _moving(1.5 + 1.5 * _DAY),
    "fall to 1.5 degC": _moving(1.5 + 15.0 * np.exp(-_H / 6.0)),
    "fall to 5 degC": _moving(5.0 + 13.0 * np.exp(-_H / 8.0)),
    "swing about 14.6 degC": _moving(14.6 + 6.0 * _DAY),
    "swing about 20 degC": _moving(20.0 + 8.0 * _DAY),
    "30 degC, then 6": _moving(np.where(_H < 5.0, 30.0, 6.0)),
    "4 degC, then 25": _moving(np.where(_H < 24.0, 4.0, 25.0)),
}
"""Down to freezing, and across both bends of the default law."""
NEAR_FREEZING: Final[dict[str, Record]] = {
    "swing about 1 degC": _moving(1.0 + 2.0 * _DAY),
    "fall to 0.9 degC": _moving(0.9 + 18.0 * np.exp(-_H / 6.0)),
}
"""Where the concrete may have been frozen, for hours or for good: no percentile says much."""


def _aged_h(record: Record, at: NDArray[np.int64], law: Law, off_c: Array, energy_sds: Array) -> Array:
    """Return the equivalent age of each draw after the intervals `at`, shape (ages, draws). [h]"""
    aged, out, done = np.zeros_like(off_c), [], 0
    for through in at:
        while done <= through:
            upto = min(int(through) + 1, done + CHUNK)
            # A stretch at one temperature is one interval.
            stretch, counts = np.unique(record.temperature_c[done:upto], return_counts=True)
            for c, count in zip(stretch, counts, strict=True):
                # Written for one energy; numpy takes one a draw.
                rate = law.rate(c + off_c, energy_sds=energy_sds)  # type: ignore[arg-type]
                aged = aged + rate * count * record.hours[done]
            done = upto
        out.append(aged)
    return np.array(out)


def tenth_mpa(
    record: Record, at: NDArray[np.int64], calibration: Calibration, mix: MixSettings, rng: np.random.Generator, n: int
) -> Array:
    """Return the 10th percentile of the strength after the intervals `at`, shape (ages,). [MPa]

    Drawn: the curve's parameters (multivariate t), the activation energy, all sensors' error, setting time, the hour of
    the end, the batch. Never below zero.
    """
    law, freedom = Law.of(calibration), calibration.degrees_of_freedom
    names = list(type(calibration.parameters).model_fields)
    middle = np.array([getattr(calibration.parameters, name) for name in names])
    spread = rng.multivariate_normal(np.zeros(len(names)), np.array(calibration.covariance), n)
    drawn = middle + spread / np.sqrt(rng.chisquare(freedom, (n, 1)) / freedom)
    parameters: Any = SimpleNamespace(**{name: np.maximum(drawn[:, k], 1e-9) for k, name in enumerate(names)})
    energy_sds = rng.standard_normal(n)
    aged = _aged_h(record, at, law, SENSOR_SD_C * rng.standard_normal(n), energy_sds)
    later = (RETARDED_SD_H if mix.retarded else SETTING_SD_H) * rng.standard_normal(n)
    late = CLOCK_SD_H * rng.standard_normal(n)
    batch = 1.0 + BATCH_SD * rng.standard_normal(n)
    out = []
    for ages in aged:
        te = np.clip(ages - later - late, 0.0, calibration.tested_to_h)
        strength = batch * CURVES[calibration.curve].strength_mpa(te, parameters)
        out.append(max(0.0, float(np.quantile(strength, 0.1))))
    return np.array(out)
