"""Readings that no concrete gives by themselves: a spike, a unit that slips, a batch stamped on arrival, an interval
that is not the one set up. Pure; from one sensor's own record, and off wherever a person's hand explains a jump.

A reading that is colder than its neighbours is never taken away: doubt may remove credit, never coldness.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.seen import FOREVER, Cause, Doubt, Seen
from shared.models.base import HOUR_MS, MINUTE_MS, MilliC, Ms
from shared.models.decisions import HoldKind

NEAR_INTERVALS: Final = 3
"""Further apart two readings say nothing of each other."""
SPIKE_MILLI_C: Final = 3000
"""Above both neighbours (our judgement): a slab of 75 mm under the sun gains a third of it in a quarter of an hour."""
HANDS_MS: Final = 2 * HOUR_MS
"""After placing, and after a cover or a form is laid on or taken off, no jump is a spike."""
SLIP_LEAST_MILLI_C: Final = 10_000
SLIP_FITS_MILLI_C: Final = 1500
"""How near a jump must come to the other unit's number."""
SLIPPED_READINGS: Final = 3
"""Of a unit that slipped, before a person is asked."""
BATCH_LEAST: Final = 3
BATCH_SHARE: Final = 4
"""What was held back and stamped when it arrived stands closer than a quarter of the interval."""
HELD_BACK_INTERVALS: Final = 1.5
"""A hole at least so long stands before it, in which it was measured."""
PACE_READINGS: Final = 8
PACE_OFF: Final = 1.5
PACE_EVEN: Final = 0.2
"""Spacings that differ by more are no interval."""
ERROR_APART_MILLI_C: Final = 10_000
NEVER_AN_ERROR_MILLI_C: Final = 2000


def _near(s: Seen) -> NDArray[np.bool_]:
    """Return whether each reading stands near the one before it, shape (n - 1,)."""
    return np.diff(s.series.taken_ms) <= NEAR_INTERVALS * s.placement.interval_s * 1000


def spikes(s: Seen, taps: Sequence[tuple[Ms, Ms]]) -> Iterator[Doubt]:
    """Doubt single readings that stand above both their neighbours.

    Args:
        s: the sensor.
        taps: spans from ... to in which hands were at the slab; each lasts two hours longer.
    """
    t, c = s.series.taken_ms, s.series.milli_c
    above = c[1:-1] - np.maximum(c[:-2], c[2:])
    near = _near(s)
    found = (above >= SPIKE_MILLI_C) & near[:-1] & near[1:]
    for from_ms, to_ms in taps:
        found &= ~((t[1:-1] >= from_ms) & (t[1:-1] <= to_ms + HANDS_MS))
    spans = [(int(t[i]), int(t[i + 1])) for i in np.flatnonzero(found)]
    if spans:
        words = "jumped up for a single reading, and back"
        yield s.doubt(Cause.SPIKE, words, *spans)


def unit_slips(s: Seen) -> Iterator[Doubt]:
    """Doubt what follows a jump from a temperature to its number in the other unit, until it jumps back."""
    t, c = s.series.taken_ms, s.series.milli_c
    before, after = c[:-1], c[1:]
    to_f, to_c = before * 9 // 5 + 32_000, (before - 32_000) * 5 // 9
    jumps = _near(s) & (np.abs(after - before) >= SLIP_LEAST_MILLI_C)
    up, down = (jumps & (np.abs(after - other) <= SLIP_FITS_MILLI_C) for other in (to_f, to_c))
    spans = list(_slipped(t, up, down))
    if not spans:
        return
    longest = max(int(np.count_nonzero((t > after) & (t <= through))) for after, through in spans)
    words = "jumped to the number that the other unit of temperature has: look at its unit"
    hold = HoldKind.SENSOR_DOUBTFUL if longest >= SLIPPED_READINGS else None
    yield s.doubt(Cause.UNIT, words, *spans, hold=hold)


def _slipped(t: NDArray[np.int64], up: NDArray[np.bool_], down: NDArray[np.bool_]) -> Iterator[tuple[Ms, Ms]]:
    """Yield the spans from each jump to the next one the other way; the last may be open."""
    since: int | None = None
    for i in np.flatnonzero(up | down):
        if since is None:
            since = int(i)
        elif bool(up[i]) is not bool(up[since]):
            yield int(t[since]), int(t[i])
            since = None
    if since is not None:
        yield int(t[since]), FOREVER[1]


def batches(s: Seen) -> Iterator[Doubt]:
    """Doubt readings that stand closer than a quarter of the interval, after a hole in which they were measured."""
    t, interval_ms = s.series.taken_ms, s.placement.interval_s * 1000
    steps = np.diff(t)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (steps * BATCH_SHARE < interval_ms).astype(np.int8), [0]))))
    spans = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        how_many = int(last - first) + 1
        hole_ms = int(t[first] - t[first - 1]) if first else 0
        held_back = hole_ms > HELD_BACK_INTERVALS * interval_ms and how_many <= hole_ms / interval_ms + 2
        if how_many >= BATCH_LEAST and held_back:
            spans.append((int(t[first]) - 1, int(t[last])))
    if spans:
        words = "sent readings that were held back with the hour of their arrival: none of them counts"
        yield s.doubt(Cause.BATCH, words, *spans)


def other_pace(s: Seen) -> Iterator[Doubt]:
    """Tell of a sensor that measures at another interval than the one set up: by which silence and gaps are judged."""
    steps = np.diff(s.series.taken_ms[-PACE_READINGS - 1 :])
    wanted = s.placement.interval_s * 1000
    if len(steps) < PACE_READINGS:
        return
    pace = float(np.median(steps))
    even = np.all(np.abs(steps - pace) <= PACE_EVEN * pace)
    if even and not wanted / PACE_OFF < pace < wanted * PACE_OFF:
        found, set_up = round(pace / MINUTE_MS), round(wanted / MINUTE_MS)
        words = f"measures every {found} min, not every {set_up} as the site file says"
        yield s.doubt(Cause.INTERVAL, words)


def error_values(s: Seen, declared: Sequence[MilliC], now_ms: Ms) -> NDArray[np.bool_]:
    """Return which readings are an error value declared for the sensor's type, shape (n,).

    Only one that is more than 10 degC away from both its neighbours; the newest, whose next neighbour is not known, as
    long as that one may still come. From -2 to +2 degC nothing is an error.
    """
    t, c = s.series.taken_ms, s.series.milli_c
    said = np.isin(c, np.array(declared, np.int64)) & (np.abs(c) > NEVER_AN_ERROR_MILLI_C)
    if not len(t) or not said.any():
        return np.zeros(len(t), dtype=bool)
    apart = np.abs(np.diff(c)) > ERROR_APART_MILLI_C
    off = _near(s) & apart
    waits = now_ms - int(t[-1]) <= NEAR_INTERVALS * s.placement.interval_s * 1000
    # The first has no neighbour before it, and is kept.
    return np.asarray(said & np.concatenate(([False], off)) & np.concatenate((off, [waits])))


def without_errors(s: Seen, declared: Sequence[MilliC], now_ms: Ms) -> Seen:
    """Return the sensor without the error values of its type."""
    errors = error_values(s, declared, now_ms)
    if not errors.any():
        return s
    return Seen(s.placement, s.series.part(~errors), s.series.taken_ms[errors])


def errors_told(s: Seen) -> Iterator[Doubt]:
    """Name the readings that were taken out as error values."""
    if len(s.hidden_ms):
        words = "said an error value declared for its type: refused, as if it had said nothing"
        yield s.doubt(Cause.ERROR_VALUE, words, *((int(t) - 1, int(t)) for t in s.hidden_ms))
