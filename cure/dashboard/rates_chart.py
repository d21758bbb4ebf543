"""Rate constants of mortar cubes as a chart: ln k over 1/T, and the line whose slope is the activation energy.

Pure: plain values in, a chart to draw out. What fits a curve is not loaded for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.dashboard.chart_words import Words
from cure.dashboard.charts import ENGLISH
from cure.dashboard.layers import Chart, Layer, Line, Panel, Point
from cure.dashboard.scales import Mark, numbers
from cure.maturity import GAS_CONSTANT, KELVIN
from shared import units

BAR_SDS: Final = 2.0
BESIDE: Final = 0.1
"""By how much of the span the axis goes beyond the coldest and the hottest."""


@dataclass(frozen=True, slots=True)
class Rate:
    """The rate constant at one temperature of curing."""

    celsius: float
    k_per_d: float
    ln_k_sd: float
    """Standard deviation of ln k."""


def rates_chart(
    rates: Sequence[Rate],
    energy_j_per_mol: float,
    ln_k_at_zero: float,
    *,
    first: units.System = "SI",
    words: Words = ENGLISH,
    key: str = "cubes",
) -> Chart:
    """Return the chart; each k has a bar of two standard deviations.

    Args:
        rates: at two temperatures or more, coldest first. [degC, 1/d]
        energy_j_per_mol: of the line through them. [J/mol]
        ln_k_at_zero: of that line at 1/T = 0, k in 1/d.
        first: in which system temperatures are marked.
        words: of the chart.
        key: tells it from the other charts of a page.
    """
    celsius = np.array([rate.celsius for rate in rates])
    inverse = 1000.0 / (celsius + KELVIN)
    beside = BESIDE * float(inverse[0] - inverse[-1])
    marks = [Mark(float(x), _degrees(c, first)) for x, c in zip(inverse, celsius, strict=True)]

    def marked(want: int) -> list[Mark]:
        return marks[:: max(1, math.ceil(len(marks) / want))]

    across = numbers(float(inverse[-1]) - beside, float(inverse[0]) + beside, words.curing, marked)
    on_line = ln_k_at_zero - energy_j_per_mol / GAS_CONSTANT * inverse / 1000.0
    layers: list[Layer] = [Line(f"{energy_j_per_mol / 1000.0:.1f} kJ/mol", inverse[::-1], on_line[::-1])]
    for rate, x in zip(rates, inverse, strict=True):
        ln_k, reach = math.log(rate.k_per_d), BAR_SDS * rate.ln_k_sd
        title = f"{_degrees(rate.celsius, first)}: k {rate.k_per_d:.3g} 1/d"
        layers.append(Point(title, float(x), ln_k, ln_k - reach, ln_k + reach))
    return Chart(key, words.rates, across, (Panel(words.ln_k, tuple(layers)),))


def _degrees(celsius: float, first: units.System) -> str:
    return f"{units.c_to_f(celsius):.3g} °F" if first == "US" else f"{celsius:g} °C"
