"""Milliseconds and kilobytes of a bay page's charts, both sizes of each: `python -m deploy.bench.charts`."""

from __future__ import annotations

import gzip
import sys
import time
from collections.abc import Callable
from functools import partial
from statistics import median
from typing import Final

import numpy as np

from cure.dashboard.calibration_chart import calibrated, calibration_chart
from cure.dashboard.charts import Sensor, Strength, Temperature, Window, strength_chart, temperature_chart
from cure.dashboard.ink import SIZES
from cure.dashboard.layers import Chart
from cure.dashboard.svgchart import both
from cure.maturity import Floats
from shared.models.base import DAY_MS, HOUR_MS
from shared.models.calibration import Calibration

LIMIT_KB: Final = 30.0
LIMIT_MS: Final = 100.0
SENSORS: Final = 5
READINGS: Final = 10_000
EVERY_MS: Final = 300_000
START_MS: Final = 1_764_000_000_000
TRIES: Final = 20
_NOISE_C: Final = 0.06
_CALIBRATION: Final = Calibration.model_validate({
    "mix": "c32-f",
    "version": 1,
    "made_on": "invented",
    "curve": "exponential",
    "parameters": {"su_mpa": 40.0, "tau_h": 30.0, "beta": 0.9},
    "covariance": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 0.0001)),
    "degrees_of_freedom": 9,
    "tested_from_h": 8.0,
    "tested_to_h": 700.0,
})  # fmt: skip


def _read(rng: np.random.Generator, n: int, hours: Floats) -> Floats:
    """Return what one sensor reads: warming, cooling, days, noise of a logger's last digits. [degC]"""
    warmth = (32.0 - 5.0 * n) * np.exp(-(((hours - 14.0) / 16.0) ** 2))
    days = (1.5 + n) * np.sin((hours + 3.0 * n) * np.pi / 12.0)
    return np.round(8.0 - n + warmth + days + _NOISE_C * rng.standard_normal(len(hours)), 3)


def page(seed: int = 1) -> list[Chart]:
    """Return the charts of a bay page: 5 sensors of 10,000 readings, with gaps, cold, strength and the mix's curve."""
    rng, at = np.random.default_rng(seed), START_MS + EVERY_MS * np.arange(READINGS)
    hours = (at - START_MS) / HOUR_MS
    sensors = tuple(
        Sensor(f"e-{n + 1:02}.1 interior", at, _read(rng, n, hours), 2 * EVERY_MS, air=n == SENSORS - 1)
        for n in range(SENSORS)
    )
    days = [(START_MS + d * DAY_MS, START_MS + d * DAY_MS + 15 * HOUR_MS) for d in range(int(hours[-1]) // 24)]
    cold = tuple((b, a + DAY_MS) for a, b in days)
    window = Window(START_MS, int(at[-1]), int(at[-1]), "America/Halifax")
    view = Temperature(sensors, 5.0, tuple(days), cold, (), (("freezing", 0.0), ("hottest", 70.0)))
    shown = at[:: READINGS // 400]
    grown = 38.0 * np.exp(-((30.0 / np.maximum(0.5 * (shown - START_MS) / HOUR_MS, 0.1)) ** 0.9))
    required = (("strip", 3.5), ("walk", 3.5), ("load", 7.0))
    strength = Strength(shown, grown, 0.78 * grown, 0.5 * (shown - START_MS) / HOUR_MS, required)
    return [
        strength_chart(strength, window),
        temperature_chart(view, window),
        calibration_chart(calibrated(_CALIBRATION, (("A", 24.0, 14.0), ("B", 72.0, 29.0)), required_mpa=(3.5, 7.0))),
    ]


def cost_ms(draw: Callable[[], str]) -> float:
    """Return the processor's time for one drawing, the median of several. [ms]"""
    found = []
    for _ in range(TRIES):
        began = time.process_time()
        draw()
        found.append(time.process_time() - began)
    return median(found) * 1000.0


def main() -> int:
    """Measure and print; 1 when a page's charts are larger or slower than they may be."""
    charts = page()
    for chart in charts:
        text = both(chart, SIZES).encode()
        packed = len(gzip.compress(text, 6)) / 1000.0
        taken = cost_ms(partial(both, chart, SIZES))
        sys.stdout.write(f"{chart.key}: {taken:.1f} ms, {len(text) / 1000.0:.0f} KB, compressed {packed:.1f} KB\n")

    def whole() -> str:
        return "".join(both(chart, SIZES) for chart in charts)

    packed, taken = len(gzip.compress(whole().encode(), 6)) / 1000.0, cost_ms(whole)
    sys.stdout.write(f"all: {taken:.1f} ms of {LIMIT_MS:g}, compressed {packed:.1f} KB of {LIMIT_KB:g}\n")
    return int(not (packed <= LIMIT_KB and taken <= LIMIT_MS))


if __name__ == "__main__":
    sys.exit(main())
