"""True pours in a real winter, by another model than the one that forecasts: two lumps, another heat, another film.

Nothing of `cure` is used. What differs on purpose: hydration grows as 1 - exp(-(t/tau)^b), not as Schindler's; the film
is that of EN ISO 6946 in a sheltered wind; the sky by the dew point, not by the air; a side that lags; heat capacity,
conductivity and energy of each their own; the law of strength with an energy of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from deploy.bench.mixes import Array
from deploy.bench.winter import clear_sun, clouds, stretches

BEFORE_H: Final = 6
"""Hours of weather before each pour."""
LENGTH_H: Final = 150
STEP_H: Final = 0.05
EVERY: Final = 5
"""Steps between readings: a quarter of an hour."""
GAS: Final = 8.314
SENSOR_SD_C: Final = 0.4
NOISE_C: Final = 0.1
BATCH_SD: Final = 0.06
AGE_SD: Final = 0.08
HERE_SD_C: Final = 0.7
COVERS: Final = (0.0, 0.0, 0.2, 0.35)


@dataclass(frozen=True, slots=True)
class Truths:
    """Pours side by side; fields of shape (n,) or (n, hours) or (n, readings, 2). Hour 0: the placing."""

    thickness_mm: Array
    expected_placing_c: Array
    cover: Array
    """Resistance entered, from hour 4 on; 0: none."""
    air_c: Array
    """At the bay, from `BEFORE_H` hours before the placing on."""
    humidity_percent: Array
    wind_m_per_s: Array
    sun_w_per_m2: Array
    cloud: Array
    read_h: Array
    true_c: Array
    """Concrete at the two points: inside at mid-depth, at a side."""
    read_c: Array
    strong_h: dict[float, Array]
    """When the concrete at both points had a strength; infinite: not in time."""
    frozen: Array
    """Whether a point fell below 0 degC before 3.5 MPa."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Three-parameter exponential."""

    su_mpa: float
    tau_h: float
    beta: float

    def age_h(self, mpa: Array, tau_h: Array, su_mpa: Array) -> Array:
        """Return the age at a strength, each its own curve."""
        return np.asarray(tau_h / np.log(su_mpa / mpa) ** (1.0 / self.beta))


def true_rate(c: Array, energy: Array) -> Array:
    """Return the law of strength: Arrhenius and the two-branch law of Freiesleben Hansen, the lower; none below 0."""
    inverse = 1.0 / (c + 273.15) - 1.0 / 293.15
    slow = 33_500.0 + 1_470.0 * np.maximum(0.0, 20.0 - c)
    lower = np.minimum(np.exp(-energy / GAS * inverse), np.exp(-slow / GAS * inverse))
    return np.asarray(np.where(c > 0.0, lower, 0.0))


def truths(rng: np.random.Generator, n: int, curve: Curve, heat_j_per_m3: float, mpas: tuple[float, ...]) -> Truths:
    """Return true pours at random hours of the winters.

    Args:
        rng: what is drawn.
        n: how many.
        curve: what the mix's strength is like, whose parameters each pour has a little off.
        heat_j_per_m3: what the binder gives off in the end, of which each pour has a little more or less.
        mpas: strengths whose hours are wanted.
    """
    air, humidity, wind, sun, cloud = _weather(rng, n)
    thickness = rng.uniform(64.0, 155.0, n)
    expected = rng.uniform(10.0, 20.0, n)
    cover = rng.choice(COVERS, n)
    times, true, coldest = _slabs(rng, (air, humidity, wind, sun, cloud), thickness, expected, cover, heat_j_per_m3)
    read_h, at = times[::EVERY], true[:, ::EVERY]
    bias = rng.normal(0.0, SENSOR_SD_C, (n, 1, 2))
    read = np.round((at + bias + rng.normal(0.0, NOISE_C, at.shape)) * 16.0) / 16.0
    energy = rng.normal(41_500.0, 3_000.0, (n, 1, 1))
    age = np.cumsum(true_rate(0.5 * (true[:, 1:] + true[:, :-1]), energy) * STEP_H, axis=1).min(axis=2)
    age *= np.exp(rng.normal(0.0, AGE_SD, (n, 1)))
    batch = np.exp(rng.normal(0.0, BATCH_SD, n))
    tau = curve.tau_h * np.exp(rng.normal(0.0, 0.03, n))
    su = curve.su_mpa * np.exp(rng.normal(0.0, 0.02, n))
    strong = {mpa: _reached(times[1:], age, curve.age_h(mpa / batch, tau, su)) for mpa in mpas}
    frozen = ((coldest < 0.0) & (times[None] < strong[min(mpas)][:, None])).any(axis=1)
    return Truths(
        thickness,
        expected,
        cover,
        air,
        humidity,
        wind,
        sun,
        cloud,
        read_h,
        at,
        np.asarray(read),
        strong,
        np.asarray(frozen),
    )


def _weather(rng: np.random.Generator, n: int) -> tuple[Array, ...]:
    parts = stretches()
    suns, hours = [clear_sun(p) for p in parts], BEFORE_H + LENGTH_H + 2
    found: list[tuple[Array, ...]] = []
    for _ in range(n):
        k = int(rng.choice(len(parts), p=np.array([len(p.air_c) for p in parts]) / sum(len(p.air_c) for p in parts)))
        part = parts[k]
        days = (len(part.air_c) - hours) // 24 - 1
        first = int(rng.integers(days)) * 24 + (24 - part.first_hour) + int(rng.integers(7, 16)) - BEFORE_H
        cut, cloud = slice(first, first + hours), clouds(rng, hours)
        air = part.air_c[cut] + rng.normal(0.0, HERE_SD_C)
        sun = suns[k][cut] * (1.0 - 0.75 * cloud**2)
        found.append((air, part.humidity_percent[cut], part.wind_m_per_s[cut], sun, cloud))
    return tuple(np.stack(of) for of in zip(*found, strict=True))


def _slabs(
    rng: np.random.Generator,
    weather: tuple[Array, ...],
    thickness_mm: Array,
    expected_c: Array,
    cover: Array,
    heat_j_per_m3: float,
) -> tuple[Array, Array, Array]:
    """Return times, the concrete at both points, and the coldest: two lumps a pour, explicit in short steps."""
    n = len(thickness_mm)
    air, humidity, wind, sun, cloud = weather
    half, capacity = thickness_mm / 2000.0, rng.normal(2.35e6, 0.12e6, n)
    within = rng.lognormal(np.log(1.9), 0.12, n) / half
    film, shelter = rng.lognormal(0.0, 0.2, n), rng.uniform(0.45, 1.0, n)
    below_u = rng.lognormal(np.log(3.4), 0.3, n)
    below_off, absorbs = rng.normal(0.5, 1.0, n), rng.uniform(0.5, 0.7, n)
    cover_r = cover * rng.lognormal(-0.1, 0.4, n)
    heat = heat_j_per_m3 * rng.lognormal(0.0, 0.1, n) * 0.92
    tau, power = rng.lognormal(np.log(17.5), 0.18, n), rng.uniform(0.85, 1.15, n)
    energy, side = rng.normal(43_000.0, 3_000.0, n), rng.uniform(0.03, 0.2, n)
    wet_h = rng.uniform(1.5, 4.0, n)
    steps = round(LENGTH_H / STEP_H)
    top = expected_c + rng.normal(0.0, 2.5, n)
    bottom, edge, age = top.copy(), top.copy(), np.full(n, 1e-3)
    out = np.empty((n, steps + 1, 2))
    cold = np.empty((n, steps + 1))
    for i in range(steps + 1):
        middle = 0.5 * (top + bottom)
        out[:, i], cold[:, i] = np.stack((middle, edge), axis=1), np.minimum(np.minimum(top, bottom), edge)
        hour = BEFORE_H + i * STEP_H
        low, part = int(hour), hour - int(hour)
        a, h, v, s, c = ((1 - part) * x[:, low] + part * x[:, low + 1] for x in (air, humidity, wind, sun, cloud))
        dew = a - (100.0 - h) / 5.0
        sky = (1.0 - (0.711 + 0.0056 * dew + 0.000073 * dew**2)) * (1.0 - 0.8 * c) * 0.9 * 5.67e-8 * (a + 273.15) ** 4
        outer = film * (4.0 + 4.0 * shelter * v) + 4.6
        dry = np.maximum(0.0, _vapour(top) - h / 100.0 * _vapour(a)) * (0.08 + 0.068 * shelter * v) * 680.0
        covered = (cover_r > 0.0) & (i * STEP_H >= 4.0)
        gained = absorbs * s - sky - np.where((i * STEP_H < wet_h) & ~covered, dry, 0.0)
        through = 1.0 / (1.0 / outer + np.where(covered, cover_r, 0.0) + half / 2.0 / 1.9)
        into_top = through * (a + gained / outer - top) + within * (bottom - top)
        into_bottom = below_u * (a + below_off - bottom) + within * (top - bottom)
        rate = np.exp(-energy / GAS * (1.0 / (middle + 273.15) - 1.0 / 293.15))
        grown = np.exp(-((age / tau) ** power))
        age += rate * STEP_H
        made = heat * (grown - np.exp(-((age / tau) ** power))) / capacity
        top = top + into_top / (capacity * half) * STEP_H * 3600.0 + made
        bottom = bottom + into_bottom / (capacity * half) * STEP_H * 3600.0 + made
        edge += ((1.0 - side) * middle + side * a - edge) * STEP_H / 0.8
    return np.arange(steps + 1, dtype=np.float64) * STEP_H, out, cold


def _vapour(c: Array) -> Array:
    return np.asarray(0.6108 * np.exp(17.27 * c / (c + 237.3)))


def _reached(times: Array, age: Array, wanted: Array) -> Array:
    there = age >= wanted[:, None]
    return np.asarray(np.where(there.any(axis=1), times[np.argmax(there, axis=1)], np.inf))
