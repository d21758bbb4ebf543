"""Which sensors of a pour are not to be believed, and why. Pure; from temperatures alone, so only what is plain.

Every limit here is our judgement, set so that no honest sensor in a thin slab near the air's temperature is doubted;
how often each fault is found: `tests/cure/test_doubts_slabs.py`. A rule that asks the bay's air is silent without it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure import erratic
from cure.castin import unseen
from cure.offbeat import offbeat
from cure.placing import misplaced
from cure.seen import FIRST_MS, FOREVER, WATCHED_MS, Cause, Doubt, Seen
from shared.models.base import HOUR_MS, MilliC, Ms
from shared.models.decisions import ClockSpan, HoldKind, PourState

STUCK_MS: Final = 6 * HOUR_MS
STUCK_UNSURE_MS: Final = 12 * HOUR_MS
"""Of a sensor that has never said a second value: nobody knows how fine it reads."""
STUCK_COARSE_MS: Final = 24 * HOUR_MS
COARSE_MILLI_C: Final = 200
"""A sensor that reads no finer stands still by itself around the peak of a covered slab."""
STUCK_FROM_MILLI_C: Final = 3000
STUCK_AIR_MILLI_C: Final = 3000
FRESH_MILLI_C: Final = (0, 35_000)
"""Fresh concrete is 5 to 35 degC (common practice, no source). Colder earns little by itself, so below only what cannot
be fresh concrete is doubted."""
RESTLESS_MILLI_C: Final = 2000
RESTLESS_TIMES: Final = 8
RESTLESS_WINDOW_MS: Final = 12 * HOUR_MS
APART_MILLI_C: Final = 3000
APART_MS: Final = HOUR_MS
SAME_DEPTH_MM: Final = 25
APART_AFTER_MS: Final = 3 * HOUR_MS
"""Until then concrete of the first and of the last truck may differ."""


def doubts(
    concrete: Sequence[Seen],
    airs: Sequence[Seen],
    start_ms: Ms,
    end_ms: Ms | None,
    taps: Sequence[Ms] = (),
    clock: Sequence[ClockSpan] = (),
) -> tuple[Doubt, ...]:
    """Return every doubt about the sensors of a pour; before its end nothing is credited, and nothing doubted.

    Args:
        concrete: its concrete sensors.
        airs: the bay's air sensors.
        start_ms: first concrete.
        end_ms: last concrete.
        taps: when a cover or a form was laid on or taken off.
        clock: how the service's own clock has run.
    """
    if end_ms is None:
        return ()
    found: list[Doubt] = []
    hands = [(start_ms, end_ms), *((tap, tap) for tap in taps)]
    for s in concrete:
        found += erratic.errors_told(s)
        if len(s.series) > 2:
            found += _stuck(s, airs)
            found += erratic.spikes(s, hands)
            found += erratic.unit_slips(s)
            found += erratic.batches(s)
            found += erratic.other_pace(s)
            found += offbeat(s, end_ms, clock)
            found += _restless(s, end_ms)
            found += _not_fresh(s, start_ms, end_ms)
            where = [*misplaced(s, concrete, airs, start_ms, end_ms)]
            found += where or unseen(s, airs, start_ms, end_ms)
            found += _apart(s, concrete, end_ms)
    return tuple(found)


def unanswered(state: PourState, found: Sequence[Doubt]) -> tuple[Doubt, ...]:
    """Return the doubts that no person has looked into; see `cure.watch.answered`."""
    told = state.memory.get("doubtful", {})
    left = [d.answered() if told.get(d.sensor, {}).get(d.cause) else d for d in found]
    return tuple(d for d in left if d is not None)


def _stuck(s: Seen, airs: Sequence[Seen]) -> Iterator[Doubt]:
    """Doubt the rest of a run of one value through hours in which the air moves; off where it may hide cold."""
    t, c = s.series.taken_ms, s.series.milli_c
    steps = np.diff(c)
    moved = np.abs(steps[steps != 0])
    resolution = int(moved.min()) if len(moved) else 0
    longest = STUCK_MS if 0 < resolution < COARSE_MILLI_C else STUCK_COARSE_MS if resolution else STUCK_UNSURE_MS
    edges = np.flatnonzero(np.concatenate(([True], steps != 0, [True])))
    first, last = edges[:-1], edges[1:] - 1
    for i in np.flatnonzero((t[last] - t[first] > longest) & (c[first] >= STUCK_FROM_MILLI_C)):
        span = int(t[first[i]]), int(t[last[i]])
        if any(_ptp(a.series.milli_c[a.between(*span)]) > STUCK_AIR_MILLI_C for a in airs):
            yield s.doubt(Cause.STUCK, "has said one value for hours while the air moved", span)


def _ptp(milli_c: NDArray[np.int64]) -> MilliC:
    return int(np.ptp(milli_c)) if len(milli_c) else 0


def _restless(s: Seen, end_ms: Ms) -> Iterator[Doubt]:
    """Doubt what goes up and down faster than concrete can; a few corrupted readings are not many."""
    part = s.between(end_ms + FIRST_MS, end_ms + WATCHED_MS)
    t, c = s.series.taken_ms[part], s.series.milli_c[part]
    swings = t[1:-1][np.abs(c[2:] - 2 * c[1:-1] + c[:-2]) >= RESTLESS_MILLI_C]
    many = RESTLESS_TIMES - 1
    if len(swings) > many and int((swings[many:] - swings[:-many]).min()) <= RESTLESS_WINDOW_MS:
        words = "goes up and down faster than concrete can"
        yield s.doubt(Cause.RESTLESS, words, FOREVER, hold=HoldKind.SENSOR_DOUBTFUL)


def _not_fresh(s: Seen, start_ms: Ms, end_ms: Ms) -> Iterator[Doubt]:
    """Doubt what begins where no fresh concrete is: a unit that slipped, or no concrete."""
    first = s.series.milli_c[s.between(start_ms - 1, end_ms + FIRST_MS)]
    if len(first) < 2 or int(s.series.taken_ms[-1]) < end_ms + FIRST_MS:
        return
    low, high = FRESH_MILLI_C
    if int(first.min()) > high or int(first.max()) < low:
        words = "begins where no fresh concrete is (5 to 35 degC): look at its unit"
        yield s.doubt(Cause.NOT_FRESH, words, FOREVER, hold=HoldKind.SENSOR_DOUBTFUL)


def _peers(s: Seen, other: Seen) -> bool:
    one, two = s.placement, other.placement
    level = one.depth_mm is None or two.depth_mm is None or abs(one.depth_mm - two.depth_mm) <= SAME_DEPTH_MM
    return one.sensor != two.sensor and one.zone is two.zone and level


def _apart(s: Seen, concrete: Sequence[Seen], end_ms: Ms) -> Iterator[Doubt]:
    """Tell of the warmer of two sensors of one zone that differ for an hour; the coldest governs anyway."""
    part = s.between(end_ms + APART_AFTER_MS, end_ms + WATCHED_MS)
    t, c = s.series.taken_ms[part], s.series.milli_c[part]
    for other in concrete:
        if not _peers(s, other) or not len(t) or len(other.series) < 2:
            continue
        o = other.series
        known = (t >= o.taken_ms[0]) & (t <= o.taken_ms[-1])
        warmer = known & (c - np.interp(t, o.taken_ms, o.milli_c) > APART_MILLI_C)
        edges = np.flatnonzero(np.diff(np.concatenate(([0], warmer.astype(np.int8), [0]))))
        if any(t[b - 1] - t[a] > APART_MS for a, b in zip(edges[::2], edges[1::2], strict=True)):
            yield s.doubt(Cause.APART, f"is more than 3 degC warmer than {other.placement.sensor} of its zone")
            return
