"""Temperature of each sensor since the first concrete, and the limits that lie near, as an SVG. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Final

import numpy as np

from cure.condition_seen import Observed
from cure.limits import LIMITS, Limit, by_thickness
from cure.report_parts import BOTTOM, INK, LEFT, RED, RIGHT, TOP, Scale, axes, between, frame, path
from cure.standin import silent_after_ms
from shared.models.base import HOUR_MS
from shared.models.readings import Series

COLOURS: Final = ("#05a", "#084", "#a50", "#707", "#077", "#550")
POINTS: Final = 300
"""Of a line: of each stretch of time its coldest and its hottest reading are drawn."""
_STEPS_H: Final = (1, 2, 6, 12, 24, 48, 96, 168, 336, 720)
_STEPS_C: Final = (1, 2, 5, 10, 20)


def plot(o: Observed) -> str:
    """Return the plot; without a reading a sentence."""
    drawn = [(s.placement.sensor, f"{s.placement.sensor} {s.placement.zone}", s.raw) for s in o.tracks if len(s.raw)]
    if not drawn:
        return "<p>no readings yet</p>"
    silent = {s.placement.sensor: silent_after_ms(s.placement) for s in o.tracks}
    airs = [o.air] if o.air is not None and len(o.air) else []
    every_c = np.concatenate([s.milli_c for s in (*(s for _, _, s in drawn), *airs)]) / 1000.0
    low, high = float(every_c.min()) - 2.0, float(every_c.max()) + 2.0
    hours = max(1.0, (o.now_ms - o.case.pour.start_ms) / HOUR_MS)
    x, y = between(0.0, hours, LEFT, RIGHT), between(low, high, BOTTOM, TOP)
    parts = [*frame("Temperature of each sensor"), *_axes(hours, low, high, x, y), *_limits(o, low, high, y)]
    named = [(label, series, COLOURS[i % len(COLOURS)], silent[of]) for i, (of, label, series) in enumerate(drawn)]
    named += [("air", series, INK, min(silent.values())) for series in airs]
    for i, (label, series, colour, longest_ms) in enumerate(named):
        for piece in _pieces(series, longest_ms):
            points = [(x((t - o.case.pour.start_ms) / HOUR_MS), y(c / 1000.0)) for t, c in piece]
            parts.append(path(points, colour, "5 3" if label == "air" else ""))
        # At the right, where concrete is no longer warm: at the left it would lie over the curves.
        where = f'x="{RIGHT - 8}" y="{TOP + 16 + 14 * i}" text-anchor="end" fill="{colour}"'
        parts.append(f"<text {where}>{escape(label)}</text>")
    return "".join(parts) + "</svg>"


def _axes(hours: float, low: float, high: float, x: Scale, y: Scale) -> list[str]:
    every_h = next((s for s in _STEPS_H if hours / s <= 12), _STEPS_H[-1])
    every_c = next((s for s in _STEPS_C if (high - low) / s <= 10), _STEPS_C[-1])
    across = [(x(float(h)), str(h)) for h in range(0, int(hours) + 1, every_h)]
    up = [(y(float(c)), str(c)) for c in range(int(np.ceil(low / every_c)) * every_c, int(high) + 1, every_c)]
    return axes(across, up, ("hours since the first concrete", "temperature, °C"))


def _limits(o: Observed, low: float, high: float, y: Scale) -> Iterator[str]:
    shown: dict[str, Limit] = {
        "freezing, before 3.5 MPa": LIMITS["any sensor below that strength"],
        "kept in the cold": by_thickness("kept in the cold", o.case.bay.thickness_mm),
        "hottest": LIMITS["hottest"],
    }
    for words, limit in shown.items():
        if low <= limit.value <= high:
            at = y(limit.value)
            yield path([(LEFT, at), (RIGHT, at)], RED, "2 4")
            where = f'x="{RIGHT - 4}" y="{at - 4:.1f}" text-anchor="end" fill="{RED}"'
            yield f"<text {where}>{words} {limit.value:g} °C</text>"


def _pieces(series: Series, longest_ms: int) -> Iterator[list[tuple[int, int]]]:
    """Yield the readings between holes, thinned; a hole is not drawn over."""
    taken, milli_c = series.taken_ms, series.milli_c
    ends = np.flatnonzero(np.diff(taken) > longest_ms) + 1
    stretch = max(1, -(-2 * len(taken) // POINTS))
    for at in np.split(np.arange(len(taken)), ends):
        kept: set[int] = set()
        for part in np.split(at, range(stretch, len(at), stretch)):
            kept |= {int(part[np.argmin(milli_c[part])]), int(part[np.argmax(milli_c[part])])}
        # Its ends too: where a hole begins and ends must be seen.
        kept |= {int(at[0]), int(at[-1])}
        yield [(int(taken[i]), int(milli_c[i])) for i in sorted(kept)]
