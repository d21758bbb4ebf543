"""Hours of two real winters by the sea, and a sun and a sky made for them.

`python -m deploy.bench.twin` and `python -m deploy.bench.foreseeing` pour into them.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from importlib.resources import files
from typing import Final

import numpy as np

from deploy.bench.mixes import Array

FILE: Final = "winter_2013.csv"
LATITUDE: Final = 40.6
"""Of the station."""
SOLAR_W_PER_M2: Final = 1361.0
CLEAR: Final = 0.72
"""Of the sun outside of the atmosphere what reaches level ground under a clear sky, at most (our judgement)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Hours on end; each of shape (hours,)."""

    first_hour: int
    """Of the day, at the station."""
    day_of_year: int
    air_c: Array
    humidity_percent: Array
    wind_m_per_s: Array


def stretches() -> list[Stretch]:
    """Return the hours of the file."""
    lines = files("deploy.bench").joinpath(FILE).read_text(encoding="utf-8").splitlines()
    rows = [row for row in csv.reader(lines) if row and not row[0].startswith("#")]
    starts = [i for i, row in enumerate(rows) if row[0] == "from"]
    found = []
    for i, end in zip(starts, [*starts[1:], len(rows)], strict=True):
        begun = np.datetime64(rows[i][1])
        day = int((begun.astype("datetime64[D]") - np.datetime64(rows[i][1][:4], "D")).astype(int)) + 1
        hour = int((begun - begun.astype("datetime64[D]")).astype("timedelta64[h]").astype(int))
        air, humidity, wind = np.array([[float(v) for v in row] for row in rows[i + 1 : end]]).T
        found.append(Stretch(hour, day, air / 10.0, humidity, wind / 10.0))
    return found


def clear_sun(stretch: Stretch) -> Array:
    """Return the sun on level ground under a clear sky at each hour, by its height. [W/m2]

    Source: declination 23.45 sin(360 (284 + day) / 365), P. I. Cooper 1969 (from memory).
    """
    hours = stretch.first_hour + np.arange(len(stretch.air_c))
    day = stretch.day_of_year + hours // 24
    tilt = np.radians(23.45) * np.sin(2.0 * np.pi * (284 + day) / 365.0)
    angle = np.radians(15.0 * (hours % 24 - 12))
    place = np.radians(LATITUDE)
    height = np.sin(place) * np.sin(tilt) + np.cos(place) * np.cos(tilt) * np.cos(angle)
    return np.asarray(SOLAR_W_PER_M2 * CLEAR * np.maximum(0.0, height) ** 1.15)


def clouds(rng: np.random.Generator, hours: int) -> Array:
    """Return a share of cloud that comes and goes over half a day, shape (hours,)."""
    steady = float(np.exp(-1.0 / 12.0))
    found, now = np.empty(hours), rng.standard_normal()
    for i in range(hours):
        now = steady * now + np.sqrt(1.0 - steady**2) * rng.standard_normal()
        found[i] = now
    return np.asarray(np.clip(0.55 + 0.45 * found, 0.0, 1.0))
