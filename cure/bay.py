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

from cure.accounts import accounts
from cure.accumulate import NOMINAL, TEMPERATURE_TIME, Track
from cure.bound import all_reached_ms, error_budget_mpa, estimate_mpa, lower_bound_mpa
from cure.clockstart import clock_start
from cure.credit import LAST_MS, SensorTrack, between, credit, doubted, probes, together
from cure.doubts import unanswered
from cure.erratic import without_errors
from cure.limits import LIMITS
from cure.maturity import Floats
from cure.requirements import CONSENT
from cure.seen import LOOK_BEFORE_MS, Doubt, Seen
from cure.standin import fallen_silent
from cure.surface import drop_c, surface_from_air_c
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, SensorId
from shared.models.decisions import Document, GateState, Placement, TestResult
from shared.models.estimate import Estimate
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

AIR_ZONES: Final = frozenset({Zone.AIR, Zone.AIR_BELOW})
FREEZE_SAFE_MPA: Final = LIMITS["strength before freezing"].value
"""Below it one freezing can take half the strength. 500 psi, stored as the stricter 3.5 MPa; it is no immunity."""


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
    air: Series | None = None
    doubts: tuple[Doubt, ...] = ()
    """About its concrete sensors; without those that a person has answered."""
    elapsed_ms: int | None = None
    """Checked time since the end of the pour; None: there is no end yet."""
    seen: tuple[tuple[Seen, ...], tuple[Seen, ...]] = ((), ())
    """What its concrete sensors and its air sensors said, from before the pour on."""
    ended: tuple[SensorTrack, ...] = ()
    """Sensors that were in its concrete and are no more, and people's probes: they earn nothing, but cold is cold."""

    def _required(self) -> tuple[SensorTrack, ...]:
        return tuple(s for s in self.sensors if s.placement.required)

    @cached_property
    def not_counted(self) -> frozenset[SensorId]:
        """Sensors whose newest reading is not believed: as good as missing."""
        newest = {s.placement.sensor: s.raw.taken_ms[-1:] for s in self.sensors}
        return frozenset(d.sensor for d in self.doubts if not np.all(d.believed(newest[d.sensor])))

    def fresh(self) -> bool:
        """Return whether every required sensor is alive, and believed."""
        if self.watermark_ms is None or any(s.placement.sensor in self.not_counted for s in self._required()):
            return False
        return not any(p.required and p.zone not in AIR_ZONES and p.sensor not in self._stood_for for p in self.silent)

    @cached_property
    def _stood_for(self) -> frozenset[SensorId]:
        """Sensors for which something stands in now."""
        return frozenset(s.placement.sensor for s in self.sensors if s.stands(self.now_ms))

    def refusals_through(self, at_ms: Ms) -> tuple[Doubt, ...]:
        """Return why readings of a required sensor are not believed, from what was read up to an hour alone."""
        concrete, airs = ([s.until(at_ms) for s in seen] for seen in self.seen)
        found = doubted(self.case, concrete, airs)
        required = {s.placement.sensor for s in self._required()}
        return tuple(d for d in unanswered(self.case.state, found) if d.refused and d.sensor in required)

    def alive(self) -> str:
        """Return "yes", or which sensors are silent, and which required ones not believed."""
        doubted = [s.placement.sensor for s in self._required() if s.placement.sensor in self.not_counted]
        silent = [p.sensor for p in self.silent if p.sensor not in self._stood_for]
        found = [f"{what}: {', '.join(who)}" for what, who in (("silent", silent), ("not believed", doubted)) if who]
        replaced = (s for s in self._required() if s.placement.sensor in self._stood_for)
        found += [f"{s.placement.sensor} is silent, in its place: {', '.join(s.stood_in.by)}" for s in replaced]
        return "; ".join(found) or "yes"

    @cached_property
    def credited(self) -> list[tuple[SensorTrack, Track]]:
        """The required sensors' credit; empty unless each has some, and none more than the time that has passed."""
        known = [(s, s.track) for s in self._required() if s.track is not None]
        passed_ms = -1 if self.elapsed_ms is None else self.elapsed_ms
        within = all(int(t.taken_ms[-1] - t.taken_ms[0]) <= passed_ms for _, t in known)
        return known if within and len(known) == len(self._required()) else []

    @cached_property
    def coldest_spans(self) -> tuple[NDArray[np.int64], Floats] | None:
        """Each span between readings up to the watermark [ms], and the coldest that the bay may have been in it.

        NaN: not known of some sensor. None: a required sensor has no credit.
        """
        known = [track for _, track in self.credited]
        if self.watermark_ms is None or not known:
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
        if self.coldest_spans is None:
            return float("nan")
        span_ms, coldest_c = self.coldest_spans
        return float(np.sum(span_ms[coldest_c >= at_c])) / HOUR_MS

    def cold_h(self, below_c: float) -> float:
        """Return the hours since the clock start in which the coldest zone was known to be below; NaN: not known."""
        if self.coldest_spans is None:
            return float("nan")
        span_ms, coldest_c = self.coldest_spans
        return float(np.sum(span_ms[coldest_c < below_c])) / HOUR_MS

    def coldest_through_c(self, hours: float) -> float:
        if self.watermark_ms is None or not self.fresh():
            return float("nan")
        since = self.watermark_ms - hours * HOUR_MS
        coldest = [float("inf")]
        for s in self._required():
            judged = s.judged()
            recent = judged.milli_c[judged.taken_ms >= since]
            coldest.append(float(np.min(recent)) / 1000.0 if len(recent) else float("nan"))
            coldest += [g.credited_c for g in (s.track.gaps if s.track else ()) if g.to_ms > since]
            coldest += [float("nan") for hidden_ms in s.hidden_ms[-1:] if hidden_ms >= since]
        # Not the built-in min: that can pass over a NaN.
        return float(np.min(coldest))

    @cached_property
    def _bounds(self) -> list[tuple[float, SensorTrack, Floats]]:
        tracks = self.credited
        if self.watermark_ms is None or self.case.calibration is None or not tracks:
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

    def age_h(self) -> float:
        """Return the hours of evidence since the clock start; NaN: not known."""
        start_ms = clock_start(self.case)
        if start_ms is None or self.watermark_ms is None:
            return float("nan")
        return (self.watermark_ms - start_ms) / HOUR_MS

    def governing_age_h(self) -> float:
        governing = self.governing()
        return float("nan") if governing is None else float(governing[1][0, NOMINAL])

    def tests(self) -> tuple[TestResult, ...]:
        return self.case.tests

    def documents(self) -> tuple[Document, ...]:
        return self.case.documents

    def specified_mpa(self) -> float | None:
        return self.case.mix.specified_mpa

    def surface_from_air_c(self) -> float:
        return surface_from_air_c(self.sensors, self.air, self.now_ms)

    def drop_c(self, hours: float) -> float:
        return drop_c(self._required(), hours)

    def construction_load_kpa(self) -> float | None:
        return self.case.bay.construction_load_kpa

    def consent(self) -> str | None:
        filed = [d.reference for d in self.case.documents if d.name == CONSENT]
        return filed[-1] if filed else self.case.site.plan.consent_document

    def stripping_near(self) -> tuple[str, ...]:
        own = self.case.gates.get(STRIP)
        here = (self.case.bay.id,) if own is not None and own.state is GateState.UNDER_WAY else ()
        return (*here, *self.case.stripping)

    def coldest_at_c(self, at_ms: Ms) -> float:
        """Return the coldest of the required sensors' readings at or before an hour; NaN: not known."""
        found = [float("inf")]
        for s in self._required():
            i = int(np.searchsorted(s.raw.taken_ms, at_ms, side="right")) - 1
            found.append(float(s.raw.milli_c[i]) / 1000.0 if i >= 0 else float("nan"))
        coldest = float(np.min(found))
        return coldest if np.isfinite(coldest) else float("nan")

    def coldest_now_c(self) -> float | None:
        """Return the coldest newest reading of the concrete sensors that are alive and believed."""
        silent = {p.sensor for p in self.silent} | self.not_counted
        newest = [float(s.raw.milli_c[-1]) for s in self.sensors if len(s.raw) and s.placement.sensor not in silent]
        return min(newest) / 1000.0 if newest else None

    @cached_property
    def safe_from_freezing_ms(self) -> Ms | None:
        """When every concrete sensor's bound had reached 3.5 MPa; None: not yet."""
        end_ms = self.case.pour.end_ms
        # One that only helps, and came after the last concrete, cannot say how old the concrete is.
        speak = [s for s in self.sensors if s.placement.required or end_ms is None or s.placement.from_ms <= end_ms]
        tracks = [s.track for s in speak if s.track is not None]
        if not tracks or len(tracks) < len(speak) or self.case.calibration is None:
            return None
        return all_reached_ms(tracks, FREEZE_SAFE_MPA, self.case.calibration, self.case.mix)

    def estimate(self, limits_c: tuple[float, ...]) -> Estimate:
        """Return the summary for board and messages, counted hours for each limit."""
        end, governing = self.case.pour.end_ms, self.governing()
        sums = governing[1][0] if governing else None
        strength, budget = None, dict[str, Floats]()
        if governing is not None and self.case.calibration is not None:
            strength = float(estimate_mpa(governing[1], self.case.calibration)[0])
            budget = error_budget_mpa(governing[1], self.case.calibration, self.case.mix)
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
            error_budget_mpa={name: float(part[0]) for name, part in budget.items() if np.isfinite(part[0])},
            sensors=accounts(self.sensors, self.doubts, clock_start(self.case)),
        )


def evidence(case: PourCase, series: Mapping[SensorId, Series], now_ms: Ms, *, elapsed_ms: int | None) -> BayEvidence:
    """Merge a pour's readings.

    Args:
        case: the pour with its placements and set-up.
        series: readings by sensor; a sensor that is absent has none.
        now_ms: site time; later readings are not looked at.
        elapsed_ms: checked time since the end of the pour, beyond which nothing is credited; None: no end yet.
    """
    pour, empty = case.pour, Series(np.empty(0, np.int64), np.empty(0, np.int64))
    through = now_ms if pour.closed_ms is None else min(now_ms, pour.closed_ms)
    seen: list[Seen] = []
    for p in case.placements:
        after, until = max(pour.start_ms - LOOK_BEFORE_MS, p.from_ms) - 1, through if p.to_ms is None else p.to_ms
        said = Seen(p, between(series.get(p.sensor, empty), after, min(through, until)))
        seen.append(without_errors(said, case.site.error_values_milli_c(p.sensor), now_ms))
    concrete = tuple(s for s in seen if s.placement.zone not in AIR_ZONES and s.placement.to_ms is None)
    airs = tuple(s for s in seen if s.placement.zone in AIR_ZONES)
    found = unanswered(case.state, doubted(case, concrete, airs))
    air = together([between(a.series, pour.start_ms - 1, LAST_MS) for a in airs if a.placement.zone is Zone.AIR])
    sensors = credit(case, concrete, air, found, elapsed_ms, now_ms)
    required = [s for s in sensors if s.placement.required]
    newest_of = [int(s.track.taken_ms[-1]) for s in required if s.track is not None]
    watermark_ms = min(newest_of) if required and len(newest_of) == len(required) else None
    silent = fallen_silent(seen, pour.start_ms, now_ms)
    gone = [s for s in seen if s.placement.zone not in AIR_ZONES and s.placement.to_ms is not None]
    removed = [SensorTrack(s.placement, between(s.series, pour.start_ms - 1, LAST_MS), None) for s in gone]
    ended = (*removed, *probes(case, through))
    return BayEvidence(case, now_ms, sensors, silent, watermark_ms, air, found, elapsed_ms, (concrete, airs), ended)
