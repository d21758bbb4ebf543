"""Rate constants as a chart: a straight line over 1/T whose slope is the energy, and how well each k is known."""

from __future__ import annotations

import math

import pytest
from charts_support import lines, picture, words

from cure.dashboard.chart_words import WORDS
from cure.dashboard.frame import frames
from cure.dashboard.ink import NARROW, WIDE
from cure.dashboard.layers import Line, Point
from cure.dashboard.rates_chart import Rate, rates_chart
from cure.dashboard.svgchart import svgchart
from cure.maturity import GAS_CONSTANT, KELVIN

ENERGY, AT_ZERO = 43_000.0, 16.6
CURED = (10.0, 23.0, 38.0)


def k_per_d(celsius: float) -> float:
    """Return k of the law itself: ln k = a - E/(R T)."""
    return math.exp(AT_ZERO - ENERGY / (GAS_CONSTANT * (celsius + KELVIN)))


RATES = tuple(Rate(c, k_per_d(c), 0.05) for c in CURED)


def test_rate_constants_of_one_energy_lie_on_its_line_with_bars_of_two_standard_deviations() -> None:
    [panel] = rates_chart(RATES, ENERGY, AT_ZERO).panels
    [line] = [layer for layer in panel.layers if isinstance(layer, Line)]
    points = [layer for layer in panel.layers if isinstance(layer, Point)]
    assert [p.x for p in points] == pytest.approx([1000.0 / (c + KELVIN) for c in CURED])
    assert [p.y for p in points] == pytest.approx(list(line.y[::-1]))
    assert [(p.y - p.low, p.high - p.y) for p in points] == [pytest.approx((0.1, 0.1))] * 3
    # The slope over 1000/T, times -1000 R, is the energy.
    slope = (line.y[-1] - line.y[0]) / (line.x[-1] - line.x[0])
    assert -1000.0 * GAS_CONSTANT * slope == pytest.approx(ENERGY)


def test_temperatures_are_marked_in_the_readers_units_as_many_as_there_is_room_for() -> None:
    many = tuple(Rate(float(c), k_per_d(c), 0.05) for c in range(5, 41, 5))
    assert {"10 °C", "23 °C", "38 °C", "43.0 kJ/mol"} <= set(words(svgchart(rates_chart(RATES, ENERGY, AT_ZERO))))
    us = rates_chart(RATES, ENERGY, AT_ZERO, first="US")
    assert [mark.label for mark in frames(us, NARROW)[0].marks] == ["50 °F", "73.4 °F", "100 °F"]
    for size in (WIDE, NARROW):
        assert len(frames(rates_chart(many, ENERGY, AT_ZERO), size)[0].marks) <= size.marks


@pytest.mark.parametrize("language", WORDS)
def test_it_is_drawn_within_its_frame_and_in_the_readers_words(language: str) -> None:
    svg = svgchart(rates_chart(RATES, ENERGY, AT_ZERO, words=WORDS[language], key="cubes-c32-f"), NARROW)
    assert picture(svg).get("data-chart") == "cubes-c32-f"
    assert WORDS[language].curing in words(svg)
    [stretch] = lines(svg)["43.0 kJ/mol"]
    assert all(NARROW.left <= x <= NARROW.width - NARROW.right and 24 <= y <= NARROW.height - 24 for x, y in stretch)
