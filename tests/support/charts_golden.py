"""One picture of each kind, as it must stay; `python tests/support/charts_golden.py` writes them anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from charts_support import cold_pour
from store_support import make_calibration

from cure.dashboard.calibration_chart import calibrated, calibration_chart
from cure.dashboard.charts import Foreseen, strength_chart, temperature_chart
from cure.dashboard.ink import NARROW, WIDE
from cure.dashboard.rates_chart import Rate, rates_chart
from cure.dashboard.svgchart import alone, svgchart

RATES: Final = (Rate(10.0, 0.19, 0.04), Rate(23.0, 0.42, 0.03), Rate(38.0, 0.97, 0.06))
FOLDER: Final = Path(__file__).parents[1] / "cure" / "dashboard" / "golden"


def golden() -> Mapping[str, str]:
    """Return each picture by its name."""
    view = cold_pour()
    hour_ms = 3_600_000
    window = view.window(through_ms=view.now_ms + 24 * hour_ms)
    ahead = view.now_ms + np.arange(25) * hour_ms
    middle = 14.0 + 0.1 * np.arange(25.0)
    strength = view.strength(window)
    forecast = Foreseen(ahead, 0.8 * middle, middle, 1.1 * middle)
    cylinders = (("24 h, set A", 24.1, 14.0), ("24 h, set B", 24.1, 15.2), ("3 d, set A", 72.3, 28.1))
    calibration = calibrated(make_calibration(), cylinders, required_mpa=(3.5, 7.0))
    us = view.window(first="US")
    charts = {
        "strength": svgchart(strength_chart(strength, view.window()), WIDE),
        "strength-forecast": svgchart(
            strength_chart(replace(strength, forecast=forecast), window),
            NARROW,
        ),
        "temperature": svgchart(temperature_chart(view.temperature(view.window()), view.window()), WIDE),
        "temperature-us": svgchart(temperature_chart(view.temperature(us), us), NARROW),
        "calibration": svgchart(calibration_chart(calibration), WIDE),
        "rates": svgchart(rates_chart(RATES, 43_000.0, 16.6), WIDE),
    }
    return {name: alone(svg).replace("><", ">\n<") + "\n" for name, svg in charts.items()}


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in golden().items():
        (FOLDER / f"{name}.svg").write_text(text, encoding="utf-8")
