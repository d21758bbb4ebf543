"""Random thin slabs in random weather, by the demo's physics: what honest and faulty sensors in them would say.

That physics (`deploy.demo.truth`) shares nothing with what judges sensors, which uses no model at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.seen import Seen
from deploy.demo.scenario import Slab, Spot
from deploy.demo.truth import CELLS, STEP_MS, simulate
from deploy.demo.weather import Weather
from shared.models.base import HOUR_MS, BayId, Ms, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Series
from shared.models.setup import Zone

DAWN_MS: Final[Ms] = 1_764_028_800_000
"""2025-11-25T00:00Z."""
SLABS_A_SKY: Final = 21
HOURS: Final = 60
NOISE_C: Final = 0.05
RESOLUTION_C: Final = 0.0625
QUARTER_MS: Final = 900_000
_SPOTS: Final = {Zone.INTERIOR: Spot.INTERIOR, Zone.EXPOSED_EDGE: Spot.EDGE, Zone.LAST_PLACED_END: Spot.END}
Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Season:
    """Between which temperatures weather lies."""

    mean_c: tuple[float, float]
    """Of a whole spell of it."""
    limits_c: tuple[float, float]


MILD: Final = Season((3.0, 22.0), (0.0, 28.0))
ANY: Final = Season((-4.0, 27.0), (-5.0, 30.0))


def random_sky(rng: np.random.Generator, season: Season = MILD) -> Callable[[Ms], Weather]:
    """Return weather of a season: still and clear days, fronts, ripples of minutes to hours."""
    base, wind, drift = rng.uniform(*season.mean_c), rng.uniform(0.5, 7), rng.uniform(-0.15, 0.15)
    swing, front_c = rng.choice([0.3, 1.0, 2.0, 4.0, 6.0]), rng.choice([0.0, 0.0, -6.0, -10.0, 5.0])
    front_h, turn_h, ripple = rng.uniform(8, 40), rng.uniform(14, 16), rng.uniform(0.05, 0.4)
    long_h, short_h = rng.uniform(1.2, 2.4), rng.uniform(0.5, 0.9)
    sun, loss = rng.choice([0.0, 100.0, 300.0, 500.0]), rng.uniform(10, 60)

    def sky(at: Ms) -> Weather:
        h = (at - DAWN_MS) / HOUR_MS
        air = base + swing * math.cos(math.tau * (h - turn_h) / 24) + drift * h
        air += front_c / (1.0 + math.exp(-(h - front_h) / 0.7))
        air += ripple * (math.sin(math.tau * h / long_h) + 0.6 * math.sin(math.tau * h / short_h))
        gusts = wind * (1.0 + 0.3 * math.sin(h / 3.0))
        return Weather(
            min(max(air, season.limits_c[0]), season.limits_c[1]),
            gusts,
            loss,
            sun * max(0.0, math.cos(math.tau * (h - 12) / 24)),
        )

    return sky


def random_slab(rng: np.random.Generator, air_c: Callable[[Ms], float], name: str) -> Slab:
    """Return a slab of 2.5 to 6 in; three of ten are placed within a degree of the air."""
    start = DAWN_MS + round(rng.uniform(60, 192)) * STEP_MS
    end = start + round(rng.uniform(12, 48)) * STEP_MS
    near = rng.random() < 0.3
    placed = air_c(start) + rng.uniform(-1, 1) if near else rng.uniform(10, 28)
    laid = end + round(rng.uniform(0.5, 10) * HOUR_MS)
    covered = (laid, laid + round(rng.uniform(8, 30) * HOUR_MS)) if rng.random() < 0.4 else (0, 0)
    thickness, cover = float(rng.uniform(63.5, 152.4)), float(rng.uniform(0.1, 0.5))
    return Slab(BayId(name), thickness, float(min(max(placed, 8.0), 30.0)), start, end, 0, covered, cover)


@dataclass(frozen=True)
class World:
    """A slab, what happened in it, and a hand that measures."""

    slab: Slab
    at_ms: NDArray[np.int64]
    column_c: Values
    """Of each spot, cell and step: shape (steps, spots, cells)."""
    youngest_h: Values
    """Hours at 20 degC of the youngest cell, shape (steps,)."""
    air_at_steps: Values
    rng: np.random.Generator

    @property
    def times(self) -> NDArray[np.int64]:
        """A quarter of an hour apart, from two hours before the first concrete on."""
        first = self.slab.start_ms - 2 * HOUR_MS + int(self.rng.integers(0, 900)) * 1000
        return np.arange(first, int(self.at_ms[-1]), QUARTER_MS, dtype=np.int64)

    def air_c(self, times: NDArray[np.int64]) -> Values:
        """Return the true air."""
        return np.interp(times, self.at_ms, self.air_at_steps)

    def concrete_c(self, zone: Zone, times: NDArray[np.int64], depth: float = 0.3) -> Values:
        """Return the true temperature at a part of the depth; the air's before it is covered."""
        spot, cell = _SPOTS[zone], depth * CELLS - 0.5
        column, above = self.column_c[:, list(Spot).index(spot)], int(cell)
        at_depth = column[:, above] + (cell - above) * (column[:, above + 1] - column[:, above])
        inside = np.interp(times, self.at_ms, at_depth)
        return np.where(times < self.slab.placed_ms[spot], self.air_c(times), inside)

    def seen(self, name: str, zone: Zone, times: NDArray[np.int64], c: Values, depth: float = 0.3) -> Seen:
        """Return what a sensor of that name says of these temperatures."""
        noisy = c + NOISE_C * self.rng.standard_normal(len(c))
        milli_c = np.round(np.round(noisy / RESOLUTION_C) * RESOLUTION_C * 1000).astype(np.int64)
        mm = round(depth * self.slab.thickness_mm)
        placement = Placement(SensorId(name), self.slab.bay, zone, mm, 900, required=zone is not Zone.AIR)
        return Seen(placement, Series(times, milli_c))

    def air(self, name: str = "lg-09.1", off_c: float = 0.0) -> Seen:
        """Return the bay's air sensor."""
        times = self.times
        return self.seen(name, Zone.AIR, times, self.air_c(times) + off_c)

    def honest(self, name: str, zone: Zone, depth: float = 0.3, off_c: float = 0.0) -> Seen:
        """Return a sensor that lies where it should."""
        times = self.times
        return self.seen(name, zone, times, self.concrete_c(zone, times, depth) + off_c, depth)

    def bay(self, off_c: float = 0.0) -> list[Seen]:
        """Return the concrete sensors of the bay, two of them in one zone."""
        places = (
            ("lg-01.1", Zone.INTERIOR, 0.3),
            ("lg-02.1", Zone.EXPOSED_EDGE, 0.2),
            ("lg-03.1", Zone.LAST_PLACED_END, 0.1),
            ("lg-04.1", Zone.EXPOSED_EDGE, 0.4),
        )
        return [self.honest(name, zone, depth, off_c) for name, zone, depth in places]


def worlds_of(
    seed: int, season: Season = MILD, slabs_a_sky: int = SLABS_A_SKY, hours: int = HOURS
) -> tuple[World, ...]:
    """Return so many slabs under one sky."""
    rng = np.random.default_rng(seed)
    sky = random_sky(rng, season)
    slabs = [random_slab(rng, lambda t: sky(t).air_c, f"b{i}") for i in range(slabs_a_sky)]
    history = simulate(slabs, DAWN_MS, DAWN_MS + hours * HOUR_MS, sky)
    air = np.array([sky(int(t)).air_c for t in history.at_ms])
    out = []
    for i, slab in enumerate(slabs):
        own = slice(i * len(Spot), (i + 1) * len(Spot))
        youngest = history.age_h[:, own].min(axis=(1, 2))
        column = history.temperature_c[:, own]
        out.append(World(slab, history.at_ms, column, youngest, air, np.random.default_rng([seed, i])))
    return tuple(out)


def by(seen: Seen, hours: float, world: World) -> Seen:
    """Return what a sensor has said so many hours after the end of the pour."""
    return seen.until(world.slab.end_ms + round(hours * HOUR_MS))
