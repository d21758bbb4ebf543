"""A logger's own clock that is set ahead or back, or runs too fast, told by when its live readings came. Pure.

Later than it was measured a reading may always come: a radio was silent, a gateway kept it. So the least delay of a few
live readings on end tells how far a clock is behind, and a change of it by more than an interval (by so much a gateway
that collects may come at another time) and a minute is a clock's. No more than the time that has passed is credited
anyway (`cure.bay`); here hours that a clock left out, told twice or hurried through earn nothing, and a person is
asked. One that runs too slow earns less by itself. The limits are our judgement.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np

from cure.accumulate import SHORT_GAP_INTERVALS
from cure.seen import Cause, Doubt, Seen, Times
from shared.models.base import DAY_MS, MINUTE_MS, Ms
from shared.models.decisions import ClockSpan, HoldKind

FEW: Final = 4
"""Live readings on end of which the least delay counts."""
LIVE_SHARE: Final = 0.75
"""Of an interval, since the message before: what comes sooner may be a buffer. So a clock that gains more than a third
cannot be told from one."""
SLACK_MS: Final = MINUTE_MS
_Spans: TypeAlias = list[tuple[Ms, Ms]]


def offbeat(s: Seen, end_ms: Ms, clock: Sequence[ClockSpan] = ()) -> Iterator[Doubt]:
    """Doubt a sensor whose logger's clock was set, or runs too fast, after the end of the pour.

    Args:
        s: the sensor; of a series without hours of arrival nothing is said.
        end_ms: last concrete.
        clock: how our own clock has run, oldest first: across an hour at which it was set nothing is compared.
    """
    ahead: _Spans = []
    back: _Spans = []
    fast: _Spans = []
    tolerance_ms = s.placement.interval_s * 1000 + SLACK_MS
    for taken, came in _live(s, clock):
        edges = [0]
        for i in _set_ahead(came - taken, tolerance_ms):
            # What was only late has told of every hour when the rest of it is there.
            if hole := _hole(s, int(taken[i])):
                ahead.append(hole)
                edges.append(i)
        for i in _set_back(came - taken, tolerance_ms):
            back.append((int(taken[i]) - 1, int(taken[i - 1])))
            edges.append(i)
        edges = sorted([*edges, len(taken)])
        for first, last in pairwise(edges):
            fast += _hurried(taken[first:last], came[first:last], tolerance_ms)
    yield from _told(s, ahead, end_ms, "has a clock that was set ahead: the hours that it left out earn nothing")
    yield from _told(s, back, end_ms, "has a clock that was set back: the hours that it told twice earn nothing")
    yield from _told(s, fast, end_ms, "has a clock that runs too fast: what it told meanwhile earns nothing")


def _told(s: Seen, spans: _Spans, end_ms: Ms, words: str) -> Iterator[Doubt]:
    later = [span for span in spans if max(span) > end_ms]
    if later:
        # Set back after a silence, it has told no hour twice.
        twice = _joined([(after, through) for after, through in later if through > after])
        yield s.doubt(Cause.CLOCK, words, *twice, hold=HoldKind.SENSOR_DOUBTFUL)


def _joined(spans: _Spans) -> _Spans:
    joined: _Spans = []
    for after, through in sorted(spans):
        if joined and after <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], through)
        else:
            joined.append((after, through))
    return joined


def _live(s: Seen, clock: Sequence[ClockSpan]) -> Iterator[tuple[Times, Times]]:
    """Yield when live readings were taken and when they came, apart by how our own clock has run."""
    if s.series.received_ms is None:
        return
    order = np.lexsort((s.series.taken_ms, s.series.received_ms))
    taken, came = s.series.taken_ms[order], s.series.received_ms[order]
    for before, after in pairwise(clock):
        # Put back, our own clock has shown these hours twice.
        once = (came < after.from_ms) | (came > before.to_ms)
        taken, came = taken[once], came[once]
    for sooner_ms in (0, LIVE_SHARE * s.placement.interval_s * 1000):
        # Of what came at once the newest; then what did not come soon after another.
        left = np.append(np.diff(came) > 0, True) if not sooner_ms else np.append(True, np.diff(came) >= sooner_ms)
        left = left[: len(came)]
        taken, came = taken[left], came[left]
    of_span = np.searchsorted(np.array([span.from_ms for span in clock], np.int64), came, side="right")
    for part in np.split(np.arange(len(came)), np.flatnonzero(np.diff(of_span)) + 1):
        yield taken[part], came[part]


def _least(delay: Times) -> Times:
    """Return the least delay of each few on end, by the first of them: shape (n - 3,)."""
    least: Times = np.lib.stride_tricks.sliding_window_view(delay, FEW).min(axis=1)
    return least


def _set_ahead(delay: Times, tolerance_ms: int) -> list[int]:
    """Return which readings came sooner than any clock's that was not set ahead: no delay does that."""
    if len(delay) <= FEW:
        return []
    before = _least(delay)[:-1]
    return [int(i) for i in np.flatnonzero(delay[FEW:] < before - tolerance_ms) + FEW]


def _set_back(delay: Times, tolerance_ms: int) -> list[int]:
    """Return from which readings on all were later than a few before: one by itself might only be late."""
    if len(delay) < 2 * FEW:
        return []
    least = _least(delay)
    later = np.flatnonzero(least[FEW:] > least[:-FEW] + tolerance_ms) + FEW
    # Seen until the few before are such, too: it was at the first.
    return [int(i) for i in later[np.append(True, np.diff(later) > FEW)[: len(later)]]]


def _hole(s: Seen, at_ms: Ms) -> tuple[Ms, Ms] | None:
    """Return the hole in a record before a reading, if there is one."""
    i = int(np.searchsorted(s.series.taken_ms, at_ms))
    before_ms = int(s.series.taken_ms[i - 1]) if i else at_ms
    longest_ms = SHORT_GAP_INTERVALS * s.placement.interval_s * 1000
    return (before_ms, at_ms) if at_ms - before_ms > longest_ms else None


def _hurried(taken: Times, came: Times, tolerance_ms: int) -> _Spans:
    """Return spans in which a clock that nobody set has gained on ours: over an hour or so, some hours, a day."""
    if len(taken) < 2 * FEW:
        return []
    delay, i = came - taken, np.arange(FEW, len(taken))
    least, spans = _least(delay), list[tuple[Ms, Ms]]()
    for then in (i - FEW, i - 4 * FEW, np.searchsorted(came, came[i] - DAY_MS, side="right") - 1):
        known = then >= FEW - 1
        now, before = i[known], then[known]
        gained = least[before - FEW + 1] - delay[now] > tolerance_ms
        spans += zip(taken[before[gained]].tolist(), taken[now[gained]].tolist(), strict=True)
    return spans
