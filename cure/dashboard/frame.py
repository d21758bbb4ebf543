"""Where the panels of a chart lie, and where a value lies in one. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.dashboard.ink import LINE, TOP, Size
from cure.dashboard.layers import Band, Chart, Layer, Level, Line, Panel, Point
from cure.dashboard.scales import Across, Mark, nice
from cure.maturity import Floats

_MARK_APART: Final = 48
"""Between two marks of the scale upwards, at least. [units]"""


@dataclass(frozen=True, slots=True)
class Frame:
    """One panel in its place."""

    panel: Panel
    size: Size
    axis: Across
    marks: tuple[Mark, ...]
    """Of the axis across."""
    up: tuple[Mark, ...]
    top: int
    bottom: int
    low: float
    high: float
    """At bottom and top."""

    @property
    def left(self) -> int:
        """Where the axis across begins. [units]"""
        return self.size.left

    @property
    def right(self) -> int:
        """Where it ends. [units]"""
        return self.size.width - self.size.right

    @property
    def foot(self) -> int:
        """Below the strips. [units]"""
        return self.bottom + LINE * len(self.panel.strips) + (4 if self.panel.strips else 0)

    def x(self, values: Floats) -> Floats:
        """Return where values lie across. [units]"""
        return self.left + self.axis.part(values) * (self.right - self.left)

    def y(self, values: Floats) -> Floats:
        """Return where values lie upwards. [units]"""
        return self.bottom - (np.asarray(values, float) - self.low) / (self.high - self.low) * (self.bottom - self.top)

    def across(self, value: float) -> float:
        """Return where one value lies across. [units]"""
        return float(self.x(np.array(value)))

    def at(self, value: float) -> float:
        """Return where one value lies upwards, to the tenth. [units]"""
        return round(float(self.y(np.array(value))), 1)


def frames(chart: Chart, size: Size) -> list[Frame]:
    """Return the place of each panel."""
    found, top = [], TOP
    across = tuple(chart.across.marks(size.marks))
    for panel in chart.panels:
        height = round(panel.share * (size.height - 2 * TOP))
        # However many lines end in it: their names must not lie one over the other.
        height = max(height, LINE * (1 + sum(isinstance(layer, Line) for layer in panel.layers)))
        low, high, up = _scale(panel, max(2, height // _MARK_APART))
        found.append(Frame(panel, size, chart.across, across, up, top, top + height, low, high))
        top = found[-1].foot + TOP + 4
    return found


def _scale(panel: Panel, want: int) -> tuple[float, float, tuple[Mark, ...]]:
    if panel.marks is not None:
        return panel.least, panel.most, panel.marks
    ends = np.concatenate([_values(layer) for layer in panel.layers] + [np.array([panel.least, panel.most])])
    ends = ends[np.isfinite(ends)]
    low, high = (float(ends.min()), float(ends.max())) if len(ends) else (0.0, 1.0)
    values = nice(low, high, want)
    return values[0], values[-1], tuple(Mark(v, f"{v:g}") for v in values)


def _values(layer: Layer) -> Floats:
    """Return the values of a layer that the scale must hold."""
    match layer:
        case Line():
            return layer.y
        case Band():
            return np.concatenate((layer.low, layer.high))
        case Level():
            return np.array([layer.value])
        case Point():
            return np.array([layer.y, layer.low, layer.high])
        case _:
            return np.empty(0)


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Return places near the wanted ones, which ascend, at least so far apart; between the ends if there is room."""
    places: list[float] = []
    for place in wanted:
        places.append(max(place, low, places[-1] + apart) if places else max(place, low))
    limit = high
    for n in range(len(places) - 1, -1, -1):
        places[n] = min(places[n], limit)
        limit = places[n] - apart
    return places
