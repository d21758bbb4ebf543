"""What stands in for a sensor that has fallen silent, so that a dead one does not stop a floor. Pure.

Other sensors of its zone carry on, each lowered by the most that the silent one was ever colder, and half a degree
more; where there is none, the lowest of its last reading and the bay's air less an allowance, as long as that is no
frost. The limits are our judgement. Only silence is filled: a sensor that is doubted needs a person.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from cure import by_hand as hand
from cure.accumulate import SHORT_GAP_INTERVALS, Air
from cure.seen import Seen
from shared.models.base import HOUR_MS, MilliC, Ms, SensorId
from shared.models.decisions import ByHand, Placement
from shared.models.readings import Series

SILENT_AFTER_INTERVALS: Final = 3
SHARED_MS: Final = 6 * HOUR_MS
"""Of readings that two sensors of a zone must have in common."""
COLDER_MILLI_C: Final = 500
"""Beyond the most that the silent one was ever colder."""
NO_FROST_ABOVE_MILLI_C: Final = 1000
"""As cold as this a slab may freeze somewhere: nothing stands in any more."""


@dataclass(frozen=True, slots=True)
class Silence:
    """A hole of more than three intervals in a sensor's record."""

    from_ms: Ms
    from_milli_c: MilliC
    to_ms: Ms
    to_milli_c: MilliC | None
    """None: it still lasts."""

    def coldest_end(self) -> MilliC:
        """Return the colder of its ends."""
        return self.from_milli_c if self.to_milli_c is None else min(self.from_milli_c, self.to_milli_c)


def silent_after_ms(placement: Placement) -> int:
    """Return how long a sensor may say nothing before it counts as silent. [ms]"""
    return SILENT_AFTER_INTERVALS * placement.interval_s * 1000


def fallen_silent(seen: Sequence[Seen], start_ms: Ms, now_ms: Ms) -> tuple[Placement, ...]:
    """Return the sensors, of concrete or air, that have said nothing for three intervals."""
    silent = []
    for s in seen:
        p, came_ms = s.placement, max(start_ms, s.placement.from_ms)
        quiet_since = max(came_ms, int(s.series.taken_ms[-1])) if len(s.series) else came_ms
        if p.to_ms is None and now_ms - quiet_since > silent_after_ms(p):
            silent.append(p)
    return tuple(silent)


def silences(series: Series, longest_ms: int, until_ms: Ms) -> Iterator[Silence]:
    """Yield the holes longer than a sensor may be silent, the last one open-ended."""
    taken, milli_c = series.taken_ms, series.milli_c
    for i in np.flatnonzero(np.diff(taken) > longest_ms):
        yield Silence(int(taken[i]), int(milli_c[i]), int(taken[i + 1]), int(milli_c[i + 1]))
    if len(series) and until_ms - int(taken[-1]) > longest_ms:
        yield Silence(int(taken[-1]), int(milli_c[-1]), until_ms + 1, None)


def colder_by(silent: Series, other: Series, interval_ms: int) -> MilliC | None:
    """Return the most that a sensor was ever colder than another, not below 0; None: they share less than 6 h."""
    t, o = silent.taken_ms, other
    if len(o) < 2 or len(t) < 2:
        return None
    i = np.clip(np.searchsorted(o.taken_ms, t), 1, len(o) - 1)
    longest = SHORT_GAP_INTERVALS * interval_ms
    known = (t >= o.taken_ms[i - 1]) & (t <= o.taken_ms[i]) & (o.taken_ms[i] - o.taken_ms[i - 1] <= longest)
    spans = np.diff(t)
    shared = known[1:] & known[:-1] & (spans <= longest)
    if int(spans[shared].sum()) < SHARED_MS:
        return None
    apart = np.interp(t[known], o.taken_ms, o.milli_c) - silent.milli_c[known]
    return max(0, int(np.ceil(apart.max())))


def _of_zone(
    silent: Placement, believed: Mapping[SensorId, Series], placed: Sequence[Placement]
) -> tuple[Series, list[SensorId]]:
    """Return the record of the others of its zone, lowered, and who they are."""
    parts, who = [], []
    for p in placed:
        if p.zone is not silent.zone or p.sensor == silent.sensor:
            continue
        by = colder_by(believed[silent.sensor], believed[p.sensor], silent.interval_s * 1000)
        if by is not None:
            other = believed[p.sensor]
            parts.append(Series(other.taken_ms, other.milli_c - by - COLDER_MILLI_C))
            who.append(p.sensor)
    return merged(parts), who


def _of_air(air: Air, silence: Silence) -> Series:
    """Return the coldest that concrete may be in a silence, at each of the air's readings in it, up to a frost."""
    felt = _within(air.series, silence)
    allowance = np.array([round(1000 * air.allowance_c(t, t)) for t in felt.taken_ms.tolist()], np.int64)
    least = np.minimum(silence.coldest_end(), felt.milli_c - allowance)
    frost = np.flatnonzero(least <= NO_FROST_ABOVE_MILLI_C)
    n = int(frost[0]) if len(frost) else len(least)
    return Series(felt.taken_ms[:n], least[:n])


def merged(parts: Sequence[Series]) -> Series:
    """Return several records as one, in the order of time; of one hour the colder."""
    if not parts:
        return Series(np.empty(0, np.int64), np.empty(0, np.int64))
    taken, milli_c = np.concatenate([s.taken_ms for s in parts]), np.concatenate([s.milli_c for s in parts])
    order = np.lexsort((milli_c, taken))
    taken, milli_c = taken[order], milli_c[order]
    first = np.concatenate(([True], np.diff(taken) > 0)) if len(taken) else np.empty(0, bool)
    return Series(taken[first], milli_c[first])


def _within(series: Series, silence: Silence) -> Series:
    inside = (series.taken_ms > silence.from_ms) & (series.taken_ms < silence.to_ms)
    return Series(series.taken_ms[inside], series.milli_c[inside])


@dataclass(frozen=True, slots=True)
class StandIn:
    """What is taken in place of a silent sensor's readings."""

    series: Series
    by: tuple[str, ...] = ()
    """Sensors that it comes from, and "air"."""


NOBODY: Final = StandIn(merged(()))


def stand_in(
    silent: Placement,
    believed: Mapping[SensorId, Series],
    placed: Sequence[Placement],
    air: Air | None,
    until_ms: Ms,
    by_hand: Sequence[ByHand] = (),
) -> StandIn:
    """Return what stands in for a sensor wherever it is silent for more than three intervals.

    Args:
        silent: the sensor.
        believed: what is believed of each of the pour's concrete sensors.
        placed: those sensors.
        air: of the bay; None: not measured.
        until_ms: how far time has gone.
        by_hand: what people measured at the pour.
    """
    own, longest_ms = believed[silent.sensor], silent_after_ms(silent)
    holes = list(silences(own, longest_ms, until_ms))
    if not holes:
        return NOBODY
    zone, who = _of_zone(silent, believed, placed)
    of_zone = merged([_within(zone, hole) for hole in holes])
    with_zone = merged([own, of_zone])
    left = silences(with_zone, longest_ms, until_ms) if air is not None else iter(())
    of_air = merged([_of_air(air, hole) for hole in left if air is not None])
    by = (*(who if len(of_zone) else ()), *(("air",) if len(of_air) else ()))
    usable = hand.of_zone(by_hand, silent.zone, until_ms)
    other = StandIn(merged([of_zone, of_air]), by)
    return _with_hand(silent, own, other, usable, until_ms) if usable else other


def _with_hand(silent: Placement, own: Series, other: StandIn, usable: Sequence[ByHand], until_ms: Ms) -> StandIn:
    """Return what stands in with what people measured: in what is left, and nowhere above it."""
    longest_ms, spans = silent_after_ms(silent), list[hand.Span]()
    for hole in silences(own, longest_ms, until_ms):
        inside = [one for one in usable if hole.from_ms < one.taken_ms < hole.to_ms]
        end = None if hole.to_milli_c is None else (hole.to_ms, hole.to_milli_c)
        spans += hand.spans(inside, (hole.from_ms, hole.from_milli_c), end)
    below = hand.capped(other.series, spans)
    left = [(hole.from_ms, hole.to_ms) for hole in silences(merged([own, below]), longest_ms, until_ms)]
    filled = merged([part for hole in left for part in hand.filled(spans, hole, silent.interval_s * 1000)])
    if not len(filled):
        return StandIn(below, other.by)
    people = dict.fromkeys(f"by hand, hand probe, {one.by}" for one in usable)
    return StandIn(merged([below, filled]), (*other.by, *people))
