"""When a pour must be looked at again without news."""

from __future__ import annotations

from typing import Final

from cure.burst import quiet_at_ms
from cure.standin import silent_after_ms
from cure.work import Work
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, Ms
from shared.models.decisions import GateState

SUSPENDED_RETRY_MS: Final = MINUTE_MS
SHORTEST_WAIT_MS: Final = 1000
STEADY_MS: Final = 30 * MINUTE_MS
"""A requirement must be met through this much evidence."""
ESTIMATES_APART_MS: Final = MINUTE_MS
"""Two estimates must find a requirement met, so far apart: a buffer that comes in bit by bit is in by the second."""
FINISHED_APART_MS: Final = HOUR_MS
"""Once all that was waited for is done, readings that only go on make a pour due no more (`IngestBook.note`)."""


def _credited(work: Work, now_ms: Ms) -> list[Ms]:
    """Return when the newest readings have all been credited: not before so much time has certainly passed.

    A message that is quicker than the middle one of its bay brings a reading that lies ahead of what the loggers vouch
    for, and nothing else might come for an interval.
    """
    end_ms, elapsed_ms = work.case.pour.end_ms, work.evidence.elapsed_ms
    if end_ms is None or elapsed_ms is None:
        return []
    ahead_ms = (
        max((int(s.raw.taken_ms[-1]) for s in work.evidence.sensors if len(s.raw)), default=0) - end_ms - elapsed_ms
    )
    return [now_ms + max(ahead_ms, SHORTEST_WAIT_MS)] if ahead_ms > 0 else []


def next_due(work: Work, now_ms: Ms, *, acted: bool) -> Ms:
    """Return when to look again without news: a second estimate, a sensor falling silent, a suspended gate."""
    if acted:
        return now_ms
    if work.gates and all(g.state is GateState.DONE for g in work.gates.values()):
        return now_ms + FINISHED_APART_MS
    if any(g.state is GateState.SUSPENDED for g in work.gates.values()):
        return now_ms + SUSPENDED_RETRY_MS
    found_met = [g.steady_from_ms for g in work.gates.values() if g.steady_from_ms is not None]
    second = [t + ESTIMATES_APART_MS for t in found_met if t + ESTIMATES_APART_MS > now_ms]
    if found_met and (quiet := quiet_at_ms(work.case, now_ms)) is not None:
        second.append(quiet)
    when = min([now_ms + DAY_MS, *second, *_credited(work, now_ms)])
    for p in work.case.placements:
        arrival = work.case.arrivals.get(p.sensor)
        came = max(work.case.pour.start_ms, p.from_ms)
        newest = came if arrival is None else max(arrival.newest_ms, came)
        falls_silent = newest + silent_after_ms(p) + 1
        if p.to_ms is None and falls_silent > now_ms:
            when = min(when, falls_silent)
    return when
