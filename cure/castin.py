"""Has a sensor been seen to lie in concrete? A step at the placing, or that it lags the bay's air. Pure.

Until one of them is seen only the first two hours count; after eleven a person is asked once. Once it is seen all of it
counts: concrete that is seen now was concrete before. Without the bay's air there is nothing to judge by. The limits
are our judgement; how often they ask about an honest sensor: `deploy/bench/flags.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.maturity import Floats
from cure.seen import FIRST_MS, FOREVER, WATCHED_MS, Cause, Doubt, Seen
from shared.models.base import HOUR_MS, Ms
from shared.models.decisions import HoldKind

COUNTS_MS: Final = 2 * HOUR_MS
"""After the end of the pour: so much of it counts unseen."""
ASK_MS: Final = 11 * HOUR_MS
STEP_C: Final = 3.0
AIR_STILL_C: Final = 1.0
APART: Final = ((3.0, 2 * HOUR_MS), (2.0, 4 * HOUR_MS))
"""From the bay's air on one side of it, and for how long: nothing stays so that lies in that air, in its shade."""
SMOOTH_READINGS: Final = 9
"""Of 15 min: what moves faster than this reaches no concrete that lags by 30 min."""
WINDOW_MS: Final = 6 * HOUR_MS
MOVES_C: Final = 0.12
"""By so much the air must move within two hours (standard deviation), or it tells nothing."""
FOLLOWS: Final = 0.5
"""Of its quick movement, as much reaches a body that lags by half an hour when the air swings once in three hours."""
KNOWN_SHARE: Final = 0.75


def unseen(s: Seen, airs: Sequence[Seen], start_ms: Ms, end_ms: Ms) -> Iterator[Doubt]:
    """Doubt a sensor from two hours after the end of the pour on, until it is seen to lie in concrete."""
    # One that is placed later is watched from then on.
    newest_ms, began_ms = int(s.series.taken_ms[-1]), max(end_ms, s.placement.from_ms)
    if newest_ms <= began_ms + COUNTS_MS:
        return
    early = s.until(began_ms + WATCHED_MS)
    judged = False
    for air in airs:
        air_c = early.air_c(air.series)
        after = early.series.taken_ms > start_ms
        if after.any() and float(np.mean(~np.isnan(air_c[after]))) >= KNOWN_SHARE:
            judged = True
            if (
                _stepped(early, air_c, start_ms, end_ms)
                or _apart(early, air_c, start_ms)
                or _damped(early, air_c, end_ms)
            ):
                return
    if judged:
        words = "has not been seen to lie in concrete: no step at the placing, and no lag to the air"
        hold = HoldKind.PLACEMENT if newest_ms >= began_ms + ASK_MS else None
        yield s.doubt(Cause.UNSEEN, words, (began_ms + COUNTS_MS, FOREVER[1]), hold=hold)


def _stepped(s: Seen, air_c: Floats, start_ms: Ms, end_ms: Ms) -> bool:
    """Return whether it jumped while the concrete was placed and the air did not."""
    part = s.between(start_ms, end_ms + FIRST_MS)
    jumps = np.abs(s.jumps_milli_c[part]) >= STEP_C * 1000
    i = np.flatnonzero(jumps) + part.start
    i = i[i + 1 < len(air_c)]
    return bool(np.any(np.abs(air_c[i + 1] - air_c[i - 1]) < AIR_STILL_C))


def _apart(s: Seen, air_c: Floats, start_ms: Ms) -> bool:
    """Return whether it stayed apart from the air for hours, as nothing does that lies in it."""
    t = s.series.taken_ms
    off_c = s.series.milli_c / 1000.0 - air_c
    for side in (off_c, -off_c):
        for apart_c, long_ms in APART:
            far = (side >= apart_c) & (t > start_ms)
            edges = np.flatnonzero(np.diff(np.concatenate(([0], far.astype(np.int8), [0]))))
            if any(t[b - 1] - t[a] >= long_ms for a, b in zip(edges[::2], edges[1::2], strict=True)):
                return True
    return False


def _damped(s: Seen, air_c: Floats, end_ms: Ms) -> bool:
    """Return whether quick movements of the air reach it by less than half, over some six hours."""
    use = ~np.isnan(air_c) & (s.series.taken_ms > end_ms)
    t, c, a = s.series.taken_ms[use], s.series.milli_c[use] / 1000.0, air_c[use]
    if len(t) < 2 * SMOOTH_READINGS:
        return False
    quick_c, quick_a = _quick(c), _quick(a)
    t = t[SMOOTH_READINGS // 2 : len(t) - SMOOTH_READINGS // 2]
    first, last = np.searchsorted(t, t - WINDOW_MS), np.arange(1, len(t) + 1)
    whole = t - t[first] >= WINDOW_MS - 2 * s.placement.interval_s * 1000
    n = last - first
    square, product = (_sums(quick_a * x, first, last) for x in (quick_a, quick_c))
    moves = np.sqrt(square / n) >= MOVES_C
    return bool(np.any(whole & moves & (product <= FOLLOWS * square)))


def _quick(values: Floats) -> Floats:
    """Return what is left of a record when its moving mean is taken away."""
    mean = np.convolve(values, np.full(SMOOTH_READINGS, 1.0 / SMOOTH_READINGS), mode="valid")
    half = SMOOTH_READINGS // 2
    return values[half : len(values) - half] - mean


def _sums(values: Floats, first: NDArray[np.intp], last: NDArray[np.intp]) -> Floats:
    total: Floats = np.concatenate(([0.0], np.cumsum(values)))
    sums: Floats = total[last] - total[first]
    return sums
