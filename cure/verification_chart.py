"""The running chart of a calibration: the ratio of each set of cylinders, and below it their running sum. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from cure.dashboard.chart_words import WORDS, Words
from cure.dashboard.layers import Chart, Layer, Level, Line, Panel, Point
from cure.dashboard.scales import Mark, numbers
from cure.verification import APPLIED, DRIFT, LOW, TOO_HIGH, TOO_LOW

LIMITS: Final = (TOO_LOW, LOW, APPLIED, TOO_HIGH)
MOST_MARKS: Final = 15


def chart(name: str, ratios: Sequence[float], sums: Sequence[float], words: Words = WORDS["en"]) -> Chart:
    """Return the chart: sets evenly apart in the order of testing; a low or very strong one is filled.

    Args:
        name: mix and version.
        ratios: strength over curve of each set.
        sums: running sum at each set.
        words: of the chart.
    """
    over = _panel(words.over_curve, ratios, LIMITS, (0.75, 1.25), words.over_curve)
    total = _panel(words.running_sum, sums, (DRIFT,), (1.5 * DRIFT, 0.02), words.running_sum)
    step = max(1, math.ceil(len(ratios) / MOST_MARKS))
    marks = [Mark(n, str(n)) for n in range(1, len(ratios) + 1, step)]
    across = numbers(0.0, float(max(1, len(ratios)) + 1), words.sets, lambda _: marks)
    return Chart(f"verification-{name}", words.verification.format(name=name), across, (over, total))


def _panel(unit: str, values: Sequence[float], limits: Sequence[float], ends: tuple[float, float], name: str) -> Panel:
    """Return one panel in per cent; its scale reaches at least so far, and a little beyond every value."""
    middle = 1.0 if len(limits) > 1 else 0.0
    known = [v for v in values if math.isfinite(v)]
    low, high = min([ends[0], *(v - 0.02 for v in known)]), max([ends[1], *(v + 0.02 for v in known)])
    shown = np.array([100.0 * v if math.isfinite(v) else math.nan for v in values])
    layers: list[Layer] = [Level("", 100.0 * limit) for limit in limits]
    layers += [Level("", 100.0 * middle, "zero"), Line(name, np.arange(1.0, len(values) + 1.0), shown, label="")]
    bad = _bad_ratio if middle else _bad_sum
    layers += [Point(f"{n}: {100.0 * v:.1f} %", float(n), 100.0 * v, bad=bad(v)) for n, v in _numbered(values)]
    marks = tuple(Mark(100.0 * at, f"{100.0 * at:.0f}") for at in sorted({*limits, middle}))
    return Panel(unit, tuple(layers), 100.0 * low, 100.0 * high, marks)


def _numbered(values: Sequence[float]) -> list[tuple[int, float]]:
    return [(n, v) for n, v in enumerate(values, 1) if math.isfinite(v)]


def _bad_ratio(ratio: float) -> bool:
    return not APPLIED <= ratio <= TOO_HIGH


def _bad_sum(total: float) -> bool:
    return not total >= DRIFT
