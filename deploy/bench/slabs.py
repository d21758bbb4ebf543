"""True thin slabs in true weather, many side by side, and what sensors that are off say of them.

A lump of concrete with heat of hydration, cooled by air of -5 to 30 degC, covered for a while or not, and a rim that is
colder than any sensor. All of it is invented; the ranges are our judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from deploy.bench.mixes import Array, Mixes, arrhenius

STEP_H: Final = 0.25
"""Of the loggers too."""
HOURS: Final = 240.0
AIR_C: Final = (-5.0, 30.0)
SENSOR_SD_C: Final = 0.5
SETTING_SD_H: Final = 1.0
CLOCK_SD_H: Final = 0.25
BATCH_SD: Final = 0.10
"""What `cure.bound` assumes, said again: the design's figures, not the code's."""
WORST_SENSOR_C: Final = 1.0
"""ASTM C1074 asks for an accuracy of 1 degC (from memory)."""
BEYOND_C: Final = 1.5
"""The edge is up to so much colder than any sensor where none lies within 150 mm of it: by so much every reading is
lowered then."""
NOISE_C: Final = 0.05
RESOLUTION_C: Final = 0.0625


@dataclass(frozen=True, slots=True)
class Slabs:
    """A pour of each mix; fields of shape (n,) or (n, steps). Hours count from the end of the pour on the book."""

    air_c: Array
    sensor_c: Array
    """True temperature at the coldest sensor."""
    rim_c: Array
    """True temperature at the coldest point."""
    rim_age_h: Array
    """True hours at 20 degC there, since the real end, less what this batch set later."""
    at_edge: NDArray[np.bool_]
    """Whether a sensor lies within 150 mm of the edge."""
    batch: Array
    off_c: Array
    """By which all sensors of the bay are off."""

    @property
    def hours(self) -> Array:
        """Of each step."""
        return _hours(self.air_c.shape[1])

    def read_c(self, rng: np.random.Generator) -> Array:
        """Return what the coldest sensor says, shape (n, steps). [degC]"""
        said = self.sensor_c + self.off_c[:, None] + NOISE_C * rng.standard_normal(self.sensor_c.shape)
        return np.round(said / RESOLUTION_C) * RESOLUTION_C

    def strength_mpa(self, mixes: Mixes) -> Array:
        """Return the true strength at the coldest point, shape (n, steps). [MPa]"""
        return self.batch[:, None] * mixes.strength_mpa(self.rim_age_h)


def _hours(steps: int) -> Array:
    return np.arange(float(steps)) * STEP_H


def _air(rng: np.random.Generator, n: int, hours: Array) -> Array:
    base, swing = rng.uniform(-3.0, 26.0, (n, 1)), rng.uniform(0.0, 6.0, (n, 1))
    phase, front = rng.uniform(0.0, 24.0, (n, 1)), rng.uniform(-6.0, 4.0, (n, 1))
    slow = front * np.sin(2.0 * np.pi * hours / rng.uniform(60.0, 200.0, (n, 1)))
    return np.clip(base + swing * np.sin(2.0 * np.pi * (hours - phase) / 24.0) + slow, *AIR_C)


def random_slabs(mixes: Mixes, rng: np.random.Generator, hours: float = HOURS) -> Slabs:
    """Return a pour of each mix."""
    n, at = len(mixes.end_mpa), _hours(round(hours / STEP_H) + 1)
    air, cooling_h = _air(rng, n, at), rng.uniform(3.0, 10.0, n)
    until_h = np.where(rng.random(n) < 0.4, rng.uniform(12.0, 72.0, n), 0.0)
    insulated = rng.uniform(1.5, 3.0, n)
    heat_c, heat_h = rng.uniform(25.0, 40.0, n), rng.uniform(12.0, 25.0, n)
    at_edge = rng.random(n) < 0.5
    beyond = np.where(at_edge, 0.0, BEYOND_C) * rng.random(n)
    sensor, rim_h, age = np.empty_like(air), np.zeros_like(air), np.zeros(n)
    sensor[:, 0] = np.clip(air[:, 0] + rng.uniform(2.0, 12.0, n), 8.0, 28.0)
    for i in range(1, len(at)):
        c = sensor[:, i - 1]
        older = age + arrhenius(c, mixes.energy_j_per_mol) * STEP_H
        heat = heat_c * (np.exp(-age / heat_h) - np.exp(-older / heat_h))
        tau = cooling_h * np.where(at[i] < until_h, insulated, 1.0)
        sensor[:, i] = c + heat - (c - air[:, i - 1]) * (1.0 - np.exp(-STEP_H / tau))
        age = older
        middle = 0.5 * (c + sensor[:, i]) - beyond
        rim_h[:, i] = rim_h[:, i - 1] + arrhenius(middle, mixes.energy_j_per_mol) * STEP_H
    ended_h, set_later_h = CLOCK_SD_H * rng.standard_normal(n), SETTING_SD_H * rng.standard_normal(n)
    # Since the real end; what is on the book is off by some.
    real_h = np.stack([np.interp(at - end, at, row) for row, end in zip(rim_h, ended_h, strict=True)])
    batch = 1.0 + BATCH_SD * rng.standard_normal(n)
    off = np.clip(SENSOR_SD_C * rng.standard_normal(n), -WORST_SENSOR_C, WORST_SENSOR_C)
    later = np.maximum(0.0, real_h - set_later_h[:, None])
    return Slabs(air, sensor, sensor - beyond[:, None], later, at_edge, batch, off)
