"""What each sensor of a pour has earned: of what is believed, from the pour's end through checked time. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from cure.accumulate import SHORT_GAP_INTERVALS, Air, Carried, Law, Track, advance
from cure.by_hand import lowered as cooler
from cure.clockstart import clock_start
from cure.doubts import doubts
from cure.seen import Cause, Doubt, Seen, Times
from cure.standin import NOBODY, StandIn, merged, silent_after_ms, stand_in
from shared.models.base import STRIP, Json, Ms, SensorId
from shared.models.decisions import GateState, Placement, PourState
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

NO_EDGE_ALLOWANCE_C: Final = 1.5
"""Taken off every reading of a bay without a required sensor at its exposed edge (our judgement)."""
LAST_MS: Final[Ms] = 2**62
STOOD_FOR: Final = frozenset({Cause.SPIKE, Cause.ERROR_VALUE})
"""Doubts about single readings: when such a sensor falls silent something may stand in for it."""
BY_HAND: Final = SensorId("by hand")


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
    hidden_ms: Times = field(default_factory=lambda: np.empty(0, np.int64))
    """Hours at which it said a declared error value."""

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
    found = series.part(slice(int(first), int(last)))
    return replace(found, milli_c=found.milli_c - lowered_milli_c) if lowered_milli_c else found


def together(several: Sequence[Series]) -> Series | None:
    """Return the readings of several air sensors as one record, whose coldest is the coldest of them all."""
    if not several:
        return None
    taken = np.concatenate([s.taken_ms for s in several])
    order = np.argsort(taken, kind="stable")
    return Series(taken[order], np.concatenate([s.milli_c for s in several])[order])


def _credited(
    raw: Series, start_ms: Ms, law: Law, interval_ms: int, air: Air | None, withheld_ms: Times
) -> Track | None:
    """Return the track from the clock start on; the interval across it counts from there, at its colder end."""
    i = int(np.searchsorted(raw.taken_ms, start_ms, side="left"))
    if i >= len(raw):
        return None
    first_c = float(raw.milli_c[i]) / 1000.0
    begins, begins_c, rest = int(raw.taken_ms[i]), first_c, i + 1
    short = i > 0 and begins - int(raw.taken_ms[i - 1]) <= SHORT_GAP_INTERVALS * interval_ms
    if short and begins > start_ms and not np.any((withheld_ms > raw.taken_ms[i - 1]) & (withheld_ms < begins)):
        begins, begins_c, rest = start_ms, min(first_c, float(raw.milli_c[i - 1]) / 1000.0), i
    later = Series(raw.taken_ms[rest:], raw.milli_c[rest:])
    carried = Carried(begins, begins_c)
    return advance(carried, later, law=law, interval_ms=interval_ms, air=air, withheld_ms=withheld_ms)


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
    within = {sensor: between(raw, -1, through) for sensor, raw in raws.items()}
    withheld = {s.placement.sensor: _withheld(s, within[s.placement.sensor], found) for s in concrete}
    lost = {d.sensor for d in found if d.refused and d.cause not in STOOD_FOR}
    placed = [s.placement for s in concrete]
    above = None if air is None else Air(air, covered_spans(case.state))
    by_hand, sensors = cooler(case.by_hand, lowered), []
    for s in concrete:
        p = s.placement
        # Worked out from everything that was said, and only then what is not believed is taken away: a doubt about one
        # sensor must not make what stands in for another warmer.
        own = within[p.sensor]
        other = stand_in(p, within, placed, above, through, by_hand)
        whole = own if other is NOBODY else merged([own, other.series])
        by = [withheld[sensor] for sensor in withheld if sensor in other.by]
        left_out = np.union1d(withheld[p.sensor], _stood_in_doubt(s, own, other.series, by, lost=p.sensor in lost))
        other = NOBODY if p.sensor in lost else other
        believed = _without(whole, left_out)
        track = _credited(believed, max(start_ms, p.from_ms), law, p.interval_s * 1000, above, left_out)
        sensors.append(SensorTrack(p, raws[p.sensor], track, other, s.hidden_ms))
    return tuple(sensors)


def probes(case: PourCase, through: Ms) -> list[SensorTrack]:
    """Return what people measured at the surface, as a sensor that earns nothing, for the watch over freezing."""
    known = sorted((one.taken_ms, one.milli_c) for one in case.by_hand if one.taken_ms <= through)
    if not known:
        return []
    taken, milli_c = np.array(known, np.int64).T
    surface = Placement(BY_HAND, case.bay.bay_id, Zone.TOP, 0, case.site.site.interval_s, required=False)
    return [SensorTrack(surface, Series(taken, milli_c), None)]


def covered_spans(state: PourState) -> list[tuple[Ms, Ms]]:
    """Return when the slab counts as covered; one that is still on lasts for ever."""
    return _spans(state.memory.get("covers", []))


def said_spans(state: PourState) -> list[tuple[Ms, Ms]]:
    """Return when the slab was covered, by what somebody said of it."""
    return _spans(state.memory.get("covers_said", state.memory.get("covers", [])))


def _spans(kept: Json) -> list[tuple[Ms, Ms]]:
    return [(int(on_ms), LAST_MS if off_ms is None else int(off_ms)) for on_ms, off_ms in kept]


def taps(case: PourCase) -> list[Ms]:
    """Return when a cover was laid on or taken off, and when stripping began or ended: a slab may jump then."""
    strip = case.gates.get(STRIP)
    at_strip = [strip.changed_ms] if strip is not None and strip.state in {GateState.UNDER_WAY, GateState.DONE} else []
    return [*(at for span in covered_spans(case.state) for at in span), *at_strip]


def doubted(case: PourCase, concrete: Sequence[Seen], airs: Sequence[Seen]) -> tuple[Doubt, ...]:
    """Return every doubt about the sensors of a pour, also those that a person has answered."""
    return doubts(concrete, airs, case.pour.start_ms, case.pour.end_ms, taps(case), case.clock)


def _withheld(s: Seen, raw: Series, found: Sequence[Doubt]) -> Times:
    """Return the hours of a sensor's readings that are not believed, and of those that were declared errors."""
    left = np.ones(len(raw), dtype=bool)
    for doubt in found:
        if doubt.sensor == s.placement.sensor:
            left &= doubt.believed(raw.taken_ms)
    return np.union1d(raw.taken_ms[~left], s.hidden_ms)


def _stood_in_doubt(s: Seen, own: Series, other: Series, by: Sequence[Times], *, lost: bool) -> Times:
    """Return the hours in a sensor's silences at which what stands in for it is not to be believed.

    Args:
        s: the sensor.
        own: what it said.
        other: what stands in where it was silent.
        by: what is not believed of those that it comes from.
        lost: whether the sensor itself is in doubt, not only single readings of it.
    """
    if lost or not len(other) or not len(own):
        return other.taken_ms
    longest = silent_after_ms(s.placement)
    times = np.concatenate((*by, other.taken_ms[:0]))
    i = np.searchsorted(own.taken_ms, times)
    ends = np.append(own.taken_ms, LAST_MS)
    times = times[(i > 0) & (ends[i] - own.taken_ms[np.maximum(i, 1) - 1] > longest)]
    # Nothing stands in where it did speak, but said an error value.
    holes = np.searchsorted(own.taken_ms, s.hidden_ms)
    return np.union1d(times, other.taken_ms[np.isin(np.searchsorted(own.taken_ms, other.taken_ms), holes)])


def _without(whole: Series, left_out: Times) -> Series:
    stays = ~np.isin(whole.taken_ms, left_out)
    return Series(whole.taken_ms[stays], whole.milli_c[stays])
