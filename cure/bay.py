"""A pour's readings merged: zones, watermark, counted hours, governing sensor, gaps, freezing.

Everything that releases is read at the watermark, the oldest of the required sensors' newest readings, so that the
order in which messages arrive decides nothing. Freezing is read from every reading there is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import NOMINAL, SHORT_GAP_INTERVALS, TEMPERATURE_TIME, Carried, Law, Track, advance
from cure.bound import estimate_mpa, lower_bound_mpa
from cure.maturity import Floats
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, SensorId
from shared.models.decisions import Estimate, GateState, Placement
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

AIR_ZONES: Final = frozenset({Zone.AIR, Zone.AIR_BELOW})
SILENT_AFTER_INTERVALS: Final = 3
NO_EDGE_ALLOWANCE_C: Final = 1.5
"""Taken off every reading of a bay without a required sensor at its exposed edge (our judgement)."""
FREEZE_SAFE_MPA: Final = 3.5
"""Below it one freezing can take half the strength. PCA, Design and Control of Concrete Mixtures, chapter 14 (read in a
summary): 500 psi; stored as the stricter 3.5 MPa. It is no immunity."""


@dataclass(frozen=True, slots=True)
class SensorTrack:
    """One concrete sensor of the pour, from the clock start (if any) and over everything it said."""

    placement: Placement
    raw: Series
    """Every reading since the pour's start while it was placed; allowance taken off."""
    track: Track | None
    """Credited part, from the end of the pour on; None: no credit yet."""


def _slice(series: Series, after: Ms, through: Ms, lowered_milli_c: int = 0) -> Series:
    first, last = np.searchsorted(series.taken_ms, [after, through], side="right")
    return Series(series.taken_ms[first:last], series.milli_c[first:last] - lowered_milli_c)


def _together(several: list[Series]) -> Series | None:
    """Return the readings of several air sensors as one record, whose coldest is the coldest of them all."""
    if not several:
        return None
    taken = np.concatenate([s.taken_ms for s in several])
    order = np.argsort(taken, kind="stable")
    return Series(taken[order], np.concatenate([s.milli_c for s in several])[order])


def _credited(raw: Series, start_ms: Ms, law: Law, interval_ms: int, air: Series | None) -> Track | None:
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


@dataclass(frozen=True)
class BayEvidence:
    """What the readings say about a pour; implements `cure.requirements.Evidence`.

    Without slots, so that what several findings ask for is computed once.
    """

    case: PourCase
    now_ms: Ms
    sensors: tuple[SensorTrack, ...]
    silent: tuple[Placement, ...]
    """Sensors without a reading for three intervals, required or not, air too."""
    watermark_ms: Ms | None
    """None: a required sensor has said nothing since the clock start."""

    def _required(self) -> tuple[SensorTrack, ...]:
        return tuple(s for s in self.sensors if s.placement.required)

    def fresh(self) -> bool:
        """Return whether every required sensor is alive."""
        return self.watermark_ms is not None and not any(p.required and p.zone not in AIR_ZONES for p in self.silent)

    @cached_property
    def _coldest_spans(self) -> tuple[NDArray[np.int64], Floats] | None:
        """Each span between readings up to the watermark [ms], and the coldest that the bay may have been in it.

        NaN: not known of some sensor. None: a required sensor has no credit yet.
        """
        known = [s.track for s in self._required() if s.track is not None]
        if self.watermark_ms is None or not known or len(known) < len(self._required()):
            return None
        edges = np.unique(np.concatenate([t.taken_ms for t in known]))
        edges = edges[edges <= self.watermark_ms]
        coldest = np.full(max(0, len(edges) - 1), np.inf)
        for t in known:
            # The interval of t that holds [edge, next edge]; before its first reading nothing counts.
            i = np.searchsorted(t.taken_ms, edges[:-1], side="right") - 1
            inside = (i >= 0) & (i < len(t.low_c))
            low = np.full(len(coldest), np.nan)
            low[inside] = t.low_c[i[inside]]
            # Not fmin: a NaN must stay one.
            coldest = np.minimum(coldest, low)
        return np.diff(edges), coldest

    def counted_h(self, at_c: float) -> float:
        if self._coldest_spans is None:
            return float("nan")
        span_ms, coldest_c = self._coldest_spans
        return float(np.sum(span_ms[coldest_c >= at_c])) / HOUR_MS

    def cold_h(self, below_c: float) -> float:
        """Return the hours since the clock start in which the coldest zone was known to be below; NaN: not known."""
        if self._coldest_spans is None:
            return float("nan")
        span_ms, coldest_c = self._coldest_spans
        return float(np.sum(span_ms[coldest_c < below_c])) / HOUR_MS

    def coldest_through_c(self, hours: float) -> float:
        if self.watermark_ms is None or not self.fresh():
            return float("nan")
        since = self.watermark_ms - hours * HOUR_MS
        coldest = [float("inf")]
        for s in self._required():
            recent = s.raw.milli_c[s.raw.taken_ms >= since]
            coldest.append(float(np.min(recent)) / 1000.0 if len(recent) else float("nan"))
            coldest += [g.credited_c for g in (s.track.gaps if s.track else ()) if g.to_ms > since]
        # Not the built-in min: that can pass over a NaN.
        return float(np.min(coldest))

    @cached_property
    def _bounds(self) -> list[tuple[float, SensorTrack, Floats]]:
        tracks = [(s, s.track) for s in self._required() if s.track is not None]
        if self.watermark_ms is None or self.case.calibration is None or len(tracks) < len(self._required()):
            return []
        sums = np.stack([track.at(self.watermark_ms) for _, track in tracks])
        bounds = lower_bound_mpa(sums, self.case.calibration, self.case.mix)
        return [(float(bound), s, sums[[i]]) for i, (bound, (s, _)) in enumerate(zip(bounds, tracks, strict=True))]

    def lower_bound_mpa(self) -> float:
        # Not the built-in min: that can pass over a NaN.
        return float(np.min([b for b, _, _ in self._bounds])) if self._bounds else float("nan")

    def governing(self) -> tuple[SensorTrack, Floats] | None:
        """Return the sensor of the lowest bound (then of the lowest equivalent age), with its sums."""
        if not self._bounds:
            return None
        _, sensor, sums = min(self._bounds, key=lambda b: (b[0], b[2][0, NOMINAL], b[1].placement.sensor))
        return sensor, sums

    def done(self, operation: Operation) -> bool:
        gate = self.case.gates.get(operation)
        return gate is not None and gate.state is GateState.DONE

    def construction_load_kpa(self) -> float | None:
        return self.case.bay.construction_load_kpa

    def consent(self) -> str | None:
        return self.case.site.plan.consent_document

    def stripping_near(self) -> tuple[str, ...]:
        own = self.case.gates.get(STRIP)
        here = (self.case.bay.id,) if own is not None and own.state is GateState.UNDER_WAY else ()
        return (*here, *self.case.stripping)

    def coldest_now_c(self) -> float | None:
        """Return the coldest newest reading of the concrete sensors that are alive."""
        silent = {p.sensor for p in self.silent}
        newest = [float(s.raw.milli_c[-1]) for s in self.sensors if len(s.raw) and s.placement.sensor not in silent]
        return min(newest) / 1000.0 if newest else None

    @cached_property
    def safe_from_freezing_ms(self) -> Ms | None:
        """When every concrete sensor's bound had reached 3.5 MPa; None: not yet."""
        tracks = [s.track for s in self.sensors if s.track is not None]
        if not tracks or len(tracks) < len(self.sensors) or self.case.calibration is None:
            return None
        # All sensors in one array: many small ones cost more.
        sums = np.concatenate([t.sums for t in tracks])
        reached = lower_bound_mpa(sums, self.case.calibration, self.case.mix) >= FREEZE_SAFE_MPA
        of_each = np.split(reached, np.cumsum([len(t.sums) for t in tracks])[:-1])
        if not all(map(np.any, of_each)):
            return None
        return max(int(t.taken_ms[int(np.argmax(r))]) for t, r in zip(tracks, of_each, strict=True))

    def estimate(self, limits_c: tuple[float, ...]) -> Estimate:
        """Return the summary for board and messages, counted hours for each limit."""
        end, governing = self.case.pour.end_ms, self.governing()
        sums = governing[1][0] if governing else None
        strength = (
            float(estimate_mpa(sums[None, :], self.case.calibration)[0])
            if sums is not None and (self.case.calibration is not None)
            else None
        )
        counted = {f"{c:g}": self.counted_h(c) for c in limits_c}
        bound = self.lower_bound_mpa()
        return Estimate(
            evidence_ms=self.watermark_ms,
            age_h=None if end is None else max(0.0, (self.now_ms - end) / HOUR_MS),
            coldest_c=self.coldest_now_c(),
            governing_sensor=governing[0].placement.sensor if governing else None,
            equivalent_age_h=float(sums[NOMINAL]) if sums is not None else None,
            temperature_time_c_h=float(sums[TEMPERATURE_TIME]) if sums is not None else None,
            strength_mpa=strength,
            lower_bound_mpa=bound if np.isfinite(bound) else None,
            counted_h={k: v for k, v in counted.items() if np.isfinite(v)},
        )


def evidence(case: PourCase, series: Mapping[SensorId, Series], now_ms: Ms) -> BayEvidence:
    """Merge a pour's readings.

    Args:
        case: the pour with its placements and set-up.
        series: readings by sensor; a sensor that is absent has none.
        now_ms: site time; later readings are not looked at.
    """
    pour, empty = case.pour, Series(np.empty(0, np.int64), np.empty(0, np.int64))
    through = now_ms if pour.closed_ms is None else min(now_ms, pour.closed_ms)
    at_edge = any(p.zone is Zone.EXPOSED_EDGE and p.required and p.to_ms is None for p in case.placements)
    lowered = 0 if at_edge else round(NO_EDGE_ALLOWANCE_C * 1000)
    wholes = []
    for p in case.placements:
        until = through if p.to_ms is None else min(through, p.to_ms)
        wholes.append((p, _slice(series.get(p.sensor, empty), max(pour.start_ms, p.from_ms) - 1, until)))
    air = _together([whole for p, whole in wholes if p.zone is Zone.AIR])
    law, sensors, silent = Law.of(case.calibration), [], []
    for p, whole in wholes:
        quiet_since = int(whole.taken_ms[-1]) if len(whole) else max(pour.start_ms, p.from_ms)
        if p.to_ms is None and now_ms - quiet_since > SILENT_AFTER_INTERVALS * p.interval_s * 1000:
            silent.append(p)
        if p.zone in AIR_ZONES or p.to_ms is not None:
            continue
        raw = _slice(whole, -1, through, lowered)
        start = None if pour.end_ms is None else max(pour.end_ms, p.from_ms)
        track = None if start is None else _credited(raw, start, law, p.interval_s * 1000, air)
        sensors.append(SensorTrack(p, raw, track))
    required = [s for s in sensors if s.placement.required]
    newest_of = [int(s.track.taken_ms[-1]) for s in required if s.track is not None]
    whole_bay = bool(required) and len(newest_of) == len(required)
    return BayEvidence(case, now_ms, tuple(sensors), tuple(silent), min(newest_of) if whole_bay else None)
