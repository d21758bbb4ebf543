"""Virtual slabs for simulated days: what their temperature and strength really are, which no estimate is shown.

Apart from `cure` and from the demo, in form and numbers: a lump of concrete a zone, a rate that doubles every 10.5
kelvin, a hyperbola of strength. The mix, the weather and the bays are invented.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from random import Random
from typing import Final

MINUTE_MS: Final = 60_000
HOUR_MS: Final = 3_600_000
STEP_MS: Final = 10 * MINUTE_MS
_ADIABATIC_RISE_C: Final = 34.0
_HEAT_TAU_H: Final = 18.0
_DOUBLING_C: Final = 10.5
_COOLING_H: Final[Mapping[str, float]] = {"exposed edge": 5.0, "interior": 12.0}
"""In how many hours a zone loses most of its difference to the air."""
_ULTIMATE_MPA: Final = 42.0
_RATE_PER_H: Final = 0.028
_SETS_AT_H: Final = 5.0

CALIBRATION: Final = """\
mix = "c32-s"
version = 1
made_on = "invented, fitted to the virtual mix"
curve = "exponential"
degrees_of_freedom = 9
tested_from_h = 10.0
tested_to_h = 672.0
covariance = [[0.6, 0.3, -0.01], [0.3, 0.3, -0.006], [-0.01, -0.006, 0.0003]]
[parameters]
su_mpa = 43.5
tau_h = 26.7
beta = 0.78
"""


def strength_mpa(age_h: float, batch: float = 1.0) -> float:
    """Return the true strength at an age of hours at 20 degC. [MPa]"""
    grown = _RATE_PER_H * max(0.0, age_h - _SETS_AT_H)
    return batch * _ULTIMATE_MPA * grown / (1.0 + grown)


@dataclass(frozen=True)
class Air:
    """The bay's air: a mean, a daily swing, a slow front."""

    mean_c: float
    swing_c: float
    front_c: float
    front_h: float

    @classmethod
    def random(cls, rng: Random) -> Air:
        """Return some weather of a cold season."""
        return cls(rng.uniform(4.0, 16.0), rng.uniform(2.0, 6.0), rng.uniform(-4.0, 3.0), rng.uniform(60.0, 200.0))

    def at_c(self, at_ms: int) -> float:
        """Return its temperature. [degC]"""
        h = at_ms / HOUR_MS
        daily = self.swing_c * math.sin(2.0 * math.pi * (h - 14.0) / 24.0)
        return self.mean_c + daily + self.front_c * math.sin(2.0 * math.pi * h / self.front_h)


class Slab:
    """One pour, zone by zone, from the placing on."""

    def __init__(self, air: Air, placed_ms: int, until_ms: int, rng: Random) -> None:
        self.air = air
        self.placed_ms = placed_ms
        self.batch = min(1.1, max(0.9, rng.gauss(1.0, 0.04)))
        placed_c = rng.uniform(12.0, 20.0)
        steps = (until_ms - placed_ms) // STEP_MS + 2
        self._zones = {zone: self._cured(placed_c, tau_h, steps) for zone, tau_h in _COOLING_H.items()}

    def _cured(self, placed_c: float, cooling_h: float, steps: int) -> tuple[list[float], list[float]]:
        hours = STEP_MS / HOUR_MS
        temperature, age = [placed_c], [0.0]
        for i in range(steps):
            c, h = temperature[-1], age[-1]
            older = h + (hours * 2.0 ** ((c - 20.0) / _DOUBLING_C) if c > 0.0 else 0.0)
            heat = _ADIABATIC_RISE_C * (math.exp(-h / _HEAT_TAU_H) - math.exp(-older / _HEAT_TAU_H))
            lost = (c - self.air.at_c(self.placed_ms + i * STEP_MS)) * hours / cooling_h
            temperature.append(c + heat - lost)
            age.append(older)
        return temperature, age

    def _step(self, at_ms: int) -> int:
        return min(max(0, (at_ms - self.placed_ms) // STEP_MS), len(self._zones["interior"][0]) - 1)

    def at_c(self, zone: str, at_ms: int) -> float:
        """Return a zone's temperature; the air's before the concrete is there. [degC]"""
        if at_ms < self.placed_ms or zone == "air":
            return self.air.at_c(at_ms)
        return self._zones[zone][0][self._step(at_ms)]

    def weakest_mpa(self, at_ms: int) -> float:
        """Return the true strength of the weakest zone. [MPa]"""
        return min(strength_mpa(age[self._step(at_ms)], self.batch) for _, age in self._zones.values())
