"""How far a slab is from its air, and how fast it cools: what taking covers or forms off asks. Pure."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.credit import SensorTrack
from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Series
from shared.models.setup import Zone

LONGEST_HOLE_MS: Final = 4 * HOUR_MS
"""A longer one may hide how warm it was (our judgement, as the longest gap that is credited)."""


def surface_from_air_c(sensors: tuple[SensorTrack, ...], air: Series | None, now_ms: Ms) -> float:
    """Return how far the concrete, at its top where that is measured, is from the air; NaN: not known.

    The farthest sensor, and the coldest and warmest that the air has been in the last hour.
    """
    tops = [s for s in sensors if s.placement.zone is Zone.TOP] or list(sensors)
    newest = [(int(s.raw.taken_ms[-1]), int(s.raw.milli_c[-1])) for s in tops if len(s.raw)]
    lately = np.empty(0) if air is None else air.milli_c[air.taken_ms >= now_ms - HOUR_MS]
    if len(newest) < len(tops) or not tops or not len(lately):
        return float("nan")
    if not now_ms - min(at for at, _ in newest) <= HOUR_MS:
        return float("nan")
    apart = [abs(c - int(of)) for _, c in newest for of in (lately.min(), lately.max())]
    return max(apart) / 1000.0


def drop_c(sensors: tuple[SensorTrack, ...], hours: float) -> float:
    """Return the largest drop of a sensor within its last hours; NaN: not known."""
    drops = [_drop_c(s.raw, hours) for s in sensors]
    # Not the built-in max: that can pass over a NaN.
    return float(np.max(drops)) if drops else float("nan")


def _drop_c(raw: Series, hours: float) -> float:
    if not len(raw):
        return float("nan")
    # With the reading before: what the window begins in counts too.
    first = max(0, int(np.searchsorted(raw.taken_ms, int(raw.taken_ms[-1]) - hours * HOUR_MS, side="right")) - 1)
    taken, milli_c = raw.taken_ms[first:], raw.milli_c[first:]
    if np.any(np.diff(taken) > LONGEST_HOLE_MS):
        return float("nan")
    return known_drop_c(milli_c)


def known_drop_c(milli_c: NDArray[np.int64]) -> float:
    """Return the largest drop among readings in the order of time, shape (n,); 0 of none."""
    return float(np.max(np.maximum.accumulate(milli_c) - milli_c, initial=0)) / 1000.0
