"""How good the forecasts were, pour by pour: how far the middle hour was off, and the share inside. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.dashboard.layers import Chart, Level, Line, Panel, Point
from cure.dashboard.scales import Mark, numbers
from cure.forecast_scores import LAST_POURS, TOO_SURE, WANTED, counted, error_h, inside
from shared.models.forecasts import ScoredForecast

MOST_MARKS: Final = 15


@dataclass(frozen=True, slots=True)
class Words:
    """What is written in the chart, in one language."""

    title: str
    across: str
    off: str
    inside: str
    right: str
    widened: str


def english(site: str) -> Words:
    """Return the words of the command's chart."""
    return Words(
        title=f"Forecasts of {site}",
        across="pour, in the order of scoring",
        off="came later than the middle hour, h",
        inside=f"inside the 80 % interval, last {LAST_POURS} pours, %",
        right="0.80 is right",
        widened="below it is widened",
    )


def chart(words: Words, scored: Sequence[ScoredForecast]) -> Chart:
    """Return the chart: pours evenly apart in the order of scoring; one of which less than half came inside is filled.

    Args:
        words: what is written in it.
        scored: in the order of scoring.
    """
    pours: dict[str, list[ScoredForecast]] = {}
    for one in counted(scored):
        pours.setdefault(one.forecast.pour, []).append(one)
    errors = [[error_h(s) for s in of] for of in pours.values()]
    shares = [sum(inside(s) for s in of) / len(of) for of in pours.values()]
    numbered = zip(pours, errors, shares, strict=True)
    points = [
        Point(
            f"{pour}: {np.mean(off):+.1f} h",
            float(n),
            float(np.mean(off)),
            low=min(off),
            high=max(off),
            bad=not share >= 0.5,
        )
        for n, (pour, off, share) in enumerate(numbered, 1)
    ]
    at = np.arange(1.0, len(shares) + 1.0)
    running = np.array([_mean(shares[max(0, n - LAST_POURS) : n]) for n in range(1, len(shares) + 1)])
    step = max(1, math.ceil(len(shares) / MOST_MARKS))
    marks = [Mark(float(n), str(n)) for n in range(1, len(shares) + 1, step)]
    across = numbers(0.0, float(max(1, len(shares)) + 1), words.across, lambda _: marks)
    off_panel = Panel(words.off, (Level("", 0.0, "zero"), *points), -1.0, 1.0)
    limits = (Level(words.right, 100.0 * WANTED, "zero"), Level(words.widened, 100.0 * TOO_SURE))
    inside_panel = Panel(
        words.inside,
        (*limits, Line("inside", at, 100.0 * running, label="")),
        0.0,
        100.0,
    )
    return Chart("forecast-scores", words.title, across, (off_panel, inside_panel))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
