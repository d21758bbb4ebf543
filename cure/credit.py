"""What each sensor of a pour has earned: of what is believed, from the pour's end through checked time. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure.accumulate import SHORT_GAP_INTERVALS, Air, Carried, Law, Track, advance
from cure.clockstart import clock_start
from cure.seen import Doubt, Seen
from cure.standin import NOBODY, StandIn, merged, silent_after_ms, stand_in
from shared.models.base import Ms
from shared.models.decisions import Placement, PourState
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

NO_EDGE_ALLOWANCE_C: Final = 1.5
"""Taken off every reading of a bay without a required sensor at its exposed edge (our judgement)."""
LAST_MS: Final[Ms] = 2**62


@dataclass(frozen=True, slots=True)
class SensorTrack:
    """One concrete sensor of the pour, from the clock start (if any) and over everything it said."""

    placement: Placement
    raw: Series
    """Every reading since the pour's start while it was placed, believed or not; allowance taken off."""
    track: Track | None
    """Credited part, from the end of the pour on, of what is believed or stands in; None: no credit yet."""
    stood_in: StandIn = NOBODY
    """What stands in where it was silent."""

    def judged(self) -> Series:
        """Return everything it said, and what stands in where it was silent."""
        return self.raw if self.stood_in is NOBODY else merged([self.raw, self.stood_in.series])

    def stands(self, now_ms: Ms) -> bool:
        """Return whether something stands in now."""
        newest = self.stood_in.series.taken_ms
        return len(newest) > 0 and now_ms - int(newest[-1]) <= silent_after_ms(self.placement)


def between(series: Series, after: Ms, through: Ms, lowered_milli_c: int = 0) -> Series:
    """Return the readings after one hour and through another, lowered if need be."""
    first, last = np.searchsorted(series.taken_ms, [after, through], side="right")
    return Series(series.taken_ms[first:last], series.milli_c[first:last] - lowered_milli_c)


def together(several: Sequence[Series]) -> Series | None:
    """Return the readings of several air sensors as one record, whose coldest is the coldest of them all."""
    if not several:
        return None
    taken = np.concatenate([s.taken_ms for s in several])
    order = np.argsort(taken, kind="stable")
    return Series(taken[order], np.concatenate([s.milli_c for s in several])[order])


def _credited(raw: Series, start_ms: Ms, law: Law, interval_ms: int, air: Air | None) -> Track | None:
    """Return the track from the clock start on; the interval across it counts from there, at its colder end."""
    i = int(np.searchsorted(raw.taken_ms, start_ms, side="left"))
    if i >= len(raw):
        return None
    first_c = float(raw.milli_c[i]) / 1000.0
    begins, begins_c, rest = int(raw.taken_ms[i]), first_c, i + 1
    if i > 0 and begins > start_ms and begins - int(raw.taken_ms[i - 1]) <= SHORT_GAP_INTERVALS * interval_ms:
        begins, begins_c, rest = start_ms, min(first_c, float(raw.milli_c[i - 1]) / 1000.0), i
    later = Series(raw.taken_ms[rest:], raw.milli_c[rest:])
    return advance(Carried(begins, begins_c), later, law=law, interval_ms=interval_ms, air=air)


def credit(
    case: PourCase,
    concrete: Sequence[Seen],
    air: Series | None,
    found: Sequence[Doubt],
    elapsed_ms: int | None,
    now_ms: Ms,
) -> tuple[SensorTrack, ...]:
    """Return each concrete sensor with its credit: of what is believed or stands in, from the pour's end through
    checked time."""
    pour, start_ms, law = case.pour, clock_start(case), Law.of(case.calibration)
    at_edge = any(p.zone is Zone.EXPOSED_EDGE and p.required and p.to_ms is None for p in case.placements)
    lowered = 0 if at_edge else round(NO_EDGE_ALLOWANCE_C * 1000)
    raws = {s.placement.sensor: between(s.series, pour.start_ms - 1, LAST_MS, lowered) for s in concrete}
    if pour.end_ms is None or start_ms is None:
        return tuple(SensorTrack(s.placement, raws[s.placement.sensor], None) for s in concrete)
    through = min(now_ms, pour.end_ms + (0 if elapsed_ms is None else elapsed_ms))
    believed = {
        sensor: _believed(between(raw, -1, through), [d for d in found if d.sensor == sensor])
        for sensor, raw in raws.items()
    }
    placed, above = [s.placement for s in concrete], None if air is None else Air(air, covered_spans(case.state))
    sensors = []
    for p in placed:
        doubted = any(d.refused for d in found if d.sensor == p.sensor)
        other = NOBODY if doubted else stand_in(p, believed, placed, above, through)
        whole = believed[p.sensor] if other is NOBODY else merged([believed[p.sensor], other.series])
        track = _credited(whole, max(start_ms, p.from_ms), law, p.interval_s * 1000, above)
        sensors.append(SensorTrack(p, raws[p.sensor], track, other))
    return tuple(sensors)


def covered_spans(state: PourState) -> list[tuple[Ms, Ms]]:
    """Return when the slab was covered, as somebody entered it; one that is still on lasts for ever."""
    return [
        (int(on_ms), LAST_MS if off_ms is None else int(off_ms)) for on_ms, off_ms in state.memory.get("covers", [])
    ]


def _believed(raw: Series, found: Sequence[Doubt]) -> Series:
    for doubt in found:
        left = doubt.believed(raw.taken_ms)
        raw = Series(raw.taken_ms[left], raw.milli_c[left])
    return raw
