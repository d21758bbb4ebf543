"""The running chart of a calibration: the ratio of each set of cylinders, and below it their running sum. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from cure.report_parts import BLUE, GREY, INK, LEFT, RED, RIGHT, Scale, between, box, dot, opening, path, text
from cure.verification import APPLIED, DRIFT, LOW, TOO_HIGH, TOO_LOW

HEIGHT: Final = 560
RATIOS: Final = (24, 324)
SUMS: Final = (364, 514)
"""Top and bottom of both plots. [px]"""
LIMITS: Final = ((TOO_LOW, RED), (LOW, RED), (APPLIED, GREY), (TOO_HIGH, GREY))
MOST_MARKS: Final = 15


def chart(name: str, ratios: Sequence[float], sums: Sequence[float]) -> str:
    """Return the chart as an SVG: sets evenly apart in the order of testing; a low or very strong one is red.

    Args:
        name: mix and version.
        ratios: strength over curve of each set.
        sums: running sum at each set.
    """
    x = between(0.0, float(max(1, len(ratios)) + 1), LEFT, RIGHT)
    low, high = _reach(ratios, 0.75, 1.25)
    least, most = _reach(sums, 1.5 * DRIFT, 0.02)
    y, z = between(low, high, RATIOS[1], RATIOS[0]), between(least, most, SUMS[1], SUMS[0])
    parts = [opening(f"Verification of {name}", HEIGHT), box(*RATIOS), box(*SUMS)]
    parts += [
        text(14, RATIOS[0] - 8, "strength over curve, %"),
        text(14, SUMS[0] - 8, "running sum of what falls short of 97.5 %, %"),
        text((LEFT + RIGHT) / 2, HEIGHT - 12, "set of cylinders, in the order of testing", "middle"),
    ]
    for limit, colour in (*LIMITS, (1.0, INK)):
        parts += _level(y, limit, colour, "" if limit == 1.0 else "4 4")
    parts += [*_level(z, DRIFT, RED, "4 4"), *_level(z, 0.0, INK, "")]
    parts += _marks(x, len(ratios))
    for values, scale, bad in ((ratios, y, _bad_ratio), (sums, z, _bad_sum)):
        known = [(x(float(n)), scale(v), v) for n, v in enumerate(values, 1) if math.isfinite(v)]
        parts.append(path([(across, up) for across, up, _ in known], BLUE))
        parts += [dot(across, up, RED if bad(v) else INK) for across, up, v in known]
    return "".join(parts) + "</svg>"


def _bad_ratio(ratio: float) -> bool:
    return not APPLIED <= ratio <= TOO_HIGH


def _bad_sum(total: float) -> bool:
    return not total >= DRIFT


def _reach(values: Sequence[float], low: float, high: float) -> tuple[float, float]:
    """Return the ends of a scale: at least these, and a little beyond every value."""
    known = [v for v in values if math.isfinite(v)]
    return min([low, *(v - 0.02 for v in known)]), max([high, *(v + 0.02 for v in known)])


def _level(y: Scale, value: float, colour: str, dashes: str) -> Iterator[str]:
    at = y(value)
    yield path([(LEFT, at), (RIGHT, at)], colour, dashes)
    yield text(LEFT - 6, at + 4, f"{100.0 * value:.0f}", "end")


def _marks(x: Scale, sets: int) -> Iterator[str]:
    step = max(1, math.ceil(sets / MOST_MARKS))
    for n in range(1, sets + 1, step):
        yield text(x(float(n)), SUMS[1] + 16, str(n), "middle")
