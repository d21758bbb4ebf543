"""What the charts of one pour show, from its case and its readings. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import SHORT_GAP_INTERVALS
from cure.bay import AIR_ZONES, BayEvidence, evidence
from cure.counted import as_verified
from cure.course import counted_spans, course
from cure.credit import SensorTrack, between
from cure.dashboard.chart_words import Words
from cure.dashboard.charts import ENGLISH, Foreseen, Missing, Sensor, Strength, Temperature, Tested, Window, hours_apart
from cure.forecast import Forecast
from cure.limits import LIMITS
from cure.lowering import judged_so_far
from cure.plans import InForce, in_force
from cure.requirements import clock_rule, strength_rule
from cure.standin import silent_after_ms
from shared import units
from shared.models.base import HOUR_MS, Ms, Operation, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Series
from shared.ports import PourCase

POINTS: Final = 400
"""At which strength is worked out: about two units of the wide picture apart."""
AHEAD: Final = 0.02
"""Of what is shown, to the right of now."""
AFTER_MS: Final = 2 * HOUR_MS
"""After the last hour that is foreseen."""


@dataclass(frozen=True, slots=True)
class PourView:
    """One pour as its charts, its page and its record are told from it."""

    case: PourCase
    evidence: BayEvidence
    series: Mapping[SensorId, Series]
    now_ms: Ms
    required: Mapping[Operation, InForce]
    foreseen: Forecast | None = None
    """What is foreseen now; it releases nothing."""

    @property
    def until_ms(self) -> Ms:
        """Now, or when the pour was closed."""
        closed_ms = self.case.pour.closed_ms
        return self.now_ms if closed_ms is None else min(self.now_ms, closed_ms)

    def window(
        self,
        from_ms: Ms | None = None,
        through_ms: Ms | None = None,
        *,
        first: units.System | None = None,
        words: Words = ENGLISH,
    ) -> Window:
        """Return what part is shown: since the first concrete through now, unless told otherwise."""
        site = self.case.site.site
        since = self.case.pour.start_ms if from_ms is None else from_ms
        until = self._ahead_ms(since) if through_ms is None else through_ms
        # Something must lie between its ends.
        until = max(until, since + HOUR_MS)
        return Window(since, until, self.until_ms, site.zone, site.units if first is None else first, words)

    def _ahead_ms(self, since_ms: Ms) -> Ms:
        """Return where the window ends: a little after now, or where what is waited for is foreseen.

        What is foreseen never takes more room than what was measured.
        """
        shown_ms = max(self.until_ms - since_ms, HOUR_MS)
        least = self.until_ms + round(AHEAD * shown_ms)
        if self.foreseen is None:
            return least
        hours = [of.at(0.9) or self.foreseen.horizon_ms for of in self.foreseen.expected.values()]
        return max(least, min(max(hours, default=0) + AFTER_MS, self.until_ms + shown_ms))

    def _forecast(self) -> Foreseen | None:
        found = self.foreseen
        if found is None or found.bound_mpa is None:
            return None
        return Foreseen(found.times_ms, found.bound_mpa.low, found.bound_mpa.middle, found.bound_mpa.high)

    def strength(self, window: Window) -> Strength:
        """Return what the chart of strength shows."""
        through_ms = min(window.through_ms, self.evidence.watermark_ms or window.from_ms)
        begin_ms = max(window.from_ms, self.case.pour.end_ms or window.from_ms)
        found = course(self.evidence, self._hours(begin_ms, through_ms))
        rules = ((operation, strength_rule(force.rule)) for operation, force in self.required.items())
        needed = tuple((window.words.operation(op), rule.lower_bound_mpa) for op, rule in rules if rule is not None)
        return Strength(
            found.at_ms,
            found.estimate_mpa,
            found.lower_bound_mpa,
            found.equivalent_age_h,
            needed,
            tuple(self._tests()),
            self._forecast(),
        )

    def _hours(self, from_ms: Ms, through_ms: Ms) -> NDArray[np.int64]:
        """Return hours at which something was read: between readings strength is not known to have moved."""
        taken = [track.taken_ms for _, track in self.evidence.credited]
        at_ms = np.unique(np.concatenate([*taken, np.empty(0, np.int64)])).astype(np.int64)
        at_ms = at_ms[(at_ms >= from_ms) & (at_ms <= through_ms)]
        return at_ms if len(at_ms) <= POINTS else at_ms[np.linspace(0, len(at_ms) - 1, POINTS).astype(np.int64)]

    def _tests(self) -> Iterator[Tested]:
        groups: dict[tuple[Ms, str, str], list[float]] = {}
        for test in self.case.tests:
            groups.setdefault((test.tested_ms, test.method, test.by), []).append(test.mpa)
        for (at_ms, method, by), mpa in groups.items():
            yield Tested(at_ms, tuple(mpa), method, by)

    def temperature(self, window: Window) -> Temperature:
        """Return what the chart of temperature shows: what was read, and what of it counts."""
        clocks = [rule for rule in (clock_rule(force.rule) for force in self.required.values()) if rule is not None]
        # The first operation's, which is the one that is waited for.
        at_c = clocks[0].at_c if clocks else None
        counted, cold = ([], []) if at_c is None else counted_spans(self.evidence, at_c)
        limits = ((window.words.freezing, 0.0), (window.words.hottest, LIMITS["hottest"].value))
        lines, missing = tuple(self._sensors(window.words)), tuple(self._missing(window))
        return Temperature(lines, at_c, tuple(counted), tuple(cold), missing, limits)

    def placed(self) -> Iterator[tuple[Placement, Series]]:
        """Yield each sensor that has said something here, concrete before air."""
        empty = Series(np.empty(0, np.int64), np.empty(0, np.int64))
        for p in sorted(self.case.placements, key=lambda p: p.zone in AIR_ZONES):
            until = self.until_ms if p.to_ms is None else min(self.until_ms, p.to_ms)
            read = between(self.series.get(p.sensor, empty), max(self.case.pour.start_ms, p.from_ms) - 1, until)
            if len(read):
                yield p, read

    def _sensors(self, words: Words) -> Iterator[Sensor]:
        for p, read in self.placed():
            longest_ms = round(SHORT_GAP_INTERVALS * p.interval_s * 1000)
            name = f"{p.sensor} {words.zone(p.zone)}"
            yield Sensor(name, read.taken_ms, read.milli_c / 1000.0, longest_ms, p.zone in AIR_ZONES)

    def _missing(self, window: Window) -> Iterator[Missing]:
        tracks = {s.placement: s for s in self.evidence.sensors}
        for p, read in self.placed():
            if p.zone in AIR_ZONES:
                continue
            longest_ms = SHORT_GAP_INTERVALS * p.interval_s * 1000
            holes = np.flatnonzero(np.diff(read.taken_ms) > longest_ms)
            spans = [(int(read.taken_ms[i]), int(read.taken_ms[i + 1])) for i in holes]
            if p.to_ms is None and self.until_ms - int(read.taken_ms[-1]) > silent_after_ms(p):
                spans.append((int(read.taken_ms[-1]), self.until_ms))
            for from_ms, to_ms in spans:
                said = window.words.not_read.format(sensor=p.sensor, hours=hours_apart(from_ms, to_ms))
                yield Missing(from_ms, to_ms, f"{said}, {_credit(tracks.get(p), from_ms, to_ms, window)}")


def _credit(sensor: SensorTrack | None, from_ms: Ms, to_ms: Ms, window: Window) -> str:
    """Return what stands in where a sensor was not read, or at what the hole is credited."""
    if sensor is not None and len(between(sensor.stood_in.series, from_ms, to_ms - 1)):
        return f"{window.words.in_its_place} {', '.join(sensor.stood_in.by)}"
    gaps = () if sensor is None or sensor.track is None else sensor.track.gaps
    at_c = next((gap.credited_c for gap in gaps if gap.from_ms == from_ms), float("nan"))
    if not np.isfinite(at_c):
        return window.words.not_credited
    return f"{window.words.credited} {units.shown(at_c, 'degC', first=window.first, limit=False)}"


def viewed(case: PourCase, series: Mapping[SensorId, Series], now_ms: Ms, *, elapsed_ms: int | None) -> PourView:
    """Return what a pour's charts are told from.

    Args:
        case: the pour.
        series: readings by sensor, from two hours before the first concrete on.
        now_ms: site time.
        elapsed_ms: checked time since the end of the pour; None: there is no end yet.
    """
    case, _ = as_verified(case)
    found = evidence(case, series, now_ms, elapsed_ms=elapsed_ms)
    return PourView(case, found, series, now_ms, in_force(case.site, case.edits, judged_so_far(case)))
