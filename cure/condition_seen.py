"""What a pour's condition is told from: its evidence, the readings as they were read, what people did. Pure.

Freezing is read from the evidence, whose readings are lowered where no sensor is at the exposed edge. Heat, drops and
differences are read as they were: a lowered reading would hide them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from cure.bay import AIR_ZONES, BayEvidence, evidence
from cure.counted import as_verified
from cure.credit import LAST_MS, SensorTrack, between, together
from cure.standin import silent_after_ms
from shared import units
from shared.models.acts import Act, Cover, Done, FormsOff, UnderWay, ms
from shared.models.base import DAY_MS, HOUR_MS, STRIP, UNCOVER, Ms, SensorId
from shared.models.decisions import Placement, Pour
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase

AIR_LOOK_MS: Final = 6 * DAY_MS
"""Of air before now: more than the days that the older definition of cold weather asks for."""


@dataclass(frozen=True, slots=True)
class Given:
    """What no sensor measures and a person has said; None: not known."""

    humidity_percent: float | None = None
    wind_m_s: float | None = None
    delivered_c: float | None = None
    strength_ratio: float | None = None
    """Mean strength at 2 days by that at 28 days, of the mix's initial tests."""


@dataclass(frozen=True, slots=True)
class Bared:
    """Forms or a cover came off: what a drop of temperature in the 24 h after is looked at for."""

    what: str
    from_ms: Ms
    through_ms: Ms


@dataclass(frozen=True)
class Observed:
    """One pour. Without slots, for what is computed once."""

    evidence: BayEvidence
    tracks: tuple[SensorTrack, ...]
    """Each concrete sensor while it was placed, as it was read from the first concrete on; exchanged ones too."""
    air: Series | None
    """The bay's air since the first concrete; None: it has no air sensor."""
    airs: tuple[Series, ...]
    """What each air sensor of the bay said in the last days, before the pour too."""
    bared: tuple[Bared, ...]
    now_ms: Ms
    """At most when the pour was closed."""

    @property
    def case(self) -> PourCase:
        """The pour with its set-up."""
        return self.evidence.case

    @property
    def zone(self) -> str:
        """Of the site's hours."""
        return self.case.site.site.zone

    @property
    def first(self) -> units.System:
        """Which units stand first."""
        return self.case.site.site.units

    @cached_property
    def believed(self) -> tuple[SensorTrack, ...]:
        """Sensors whose newest reading is believed, or that have none yet, as they were read; exchanged ones too."""
        return tuple(s for s in self.tracks if s.placement.sensor not in self.evidence.not_counted)

    @cached_property
    def counted(self) -> tuple[SensorTrack, ...]:
        """Those of them that have said something."""
        return tuple(s for s in self.believed if len(s.raw))

    @cached_property
    def in_place(self) -> tuple[SensorTrack, ...]:
        """The believed ones that are still there."""
        return tuple(s for s in self.believed if s.placement.to_ms is None)

    @cached_property
    def present(self) -> tuple[SensorTrack, ...]:
        """Those of them that have said something."""
        return tuple(s for s in self.in_place if len(s.raw))

    @cached_property
    def surface(self) -> tuple[SensorTrack, ...]:
        """What stands for the surface: each sensor at the top, or where there is none each in the concrete.

        None where one of them has said nothing that is believed.
        """
        there = [s for s in self.tracks if s.placement.to_ms is None]
        wanted = [s for s in there if s.placement.zone is Zone.TOP] or there
        known = {s.placement.sensor for s in self.present}
        return tuple(wanted) if all(s.placement.sensor in known for s in wanted) else ()

    @cached_property
    def cold(self) -> tuple[SensorTrack, ...]:
        """Every sensor, believed or not, lowered where the evidence lowers it: what may be freezing."""
        lowered = {s.placement.sensor for s in self.evidence.sensors}
        return (*self.evidence.sensors, *(s for s in self.tracks if s.placement.sensor not in lowered))

    def unread(self, tracks: Sequence[SensorTrack], from_ms: Ms, through_ms: Ms) -> str:
        """Return which sensors said nothing for more than three intervals of a span, and how long; "": none."""
        said = []
        for s in tracks:
            since, p = max(from_ms, s.placement.from_ms), s.placement
            until = through_ms if p.to_ms is None else min(through_ms, p.to_ms)
            inside = between(s.raw, since - 1, until).taken_ms
            longest = int(np.max(np.diff(np.concatenate(([since], inside, [max(since, until)])))))
            if longest > silent_after_ms(p):
                said.append(f"{p.sensor} said nothing for {longest / HOUR_MS:.1f} h")
        return ", ".join(said)


def air_from_ms(pour: Pour, now_ms: Ms) -> Ms:
    """Return from when on the bay's air is to be read."""
    through_ms = now_ms if pour.closed_ms is None else min(now_ms, pour.closed_ms)
    return min(pour.start_ms, through_ms - AIR_LOOK_MS)


def observed(
    case: PourCase,
    series: Mapping[SensorId, Series],
    acts: Iterable[Act],
    now_ms: Ms,
    *,
    elapsed_ms: int | None,
) -> Observed:
    """Return what a pour's condition is told from.

    Args:
        case: the pour.
        series: readings by sensor, of concrete from two hours before the first concrete on, of air from `air_from_ms`.
        acts: what people did at the site, in order.
        now_ms: site time.
        elapsed_ms: checked time since the end of the pour, as for `evidence`.
    """
    case, _ = as_verified(case)
    pour = case.pour
    through_ms = now_ms if pour.closed_ms is None else min(now_ms, pour.closed_ms)
    airs = [p for p in case.placements if p.zone is Zone.AIR]
    since = [_placed(p, series, pour.start_ms, through_ms) for p in airs]
    return Observed(
        evidence(case, series, now_ms, elapsed_ms=elapsed_ms),
        tuple(
            SensorTrack(p, _placed(p, series, pour.start_ms, through_ms), None)
            for p in case.placements
            if p.zone not in AIR_ZONES
        ),
        together(since),
        tuple(_placed(p, series, air_from_ms(pour, now_ms), through_ms) for p in airs),
        bared(pour, acts),
        through_ms,
    )


def _placed(p: Placement, series: Mapping[SensorId, Series], from_ms: Ms, through_ms: Ms) -> Series:
    """Return what a sensor said in a span while it was placed."""
    whole = series.get(p.sensor, Series(np.empty(0, np.int64), np.empty(0, np.int64)))
    return between(whole, max(from_ms, p.from_ms) - 1, min(through_ms, LAST_MS if p.to_ms is None else p.to_ms))


def bared(pour: Pour, acts: Iterable[Act]) -> tuple[Bared, ...]:
    """Return when forms or covers of a pour came off, as people entered it."""
    forms: list[Ms] = []
    covers: list[Ms] = []
    for act in acts:
        match act:
            case UnderWay(pour=pour.id, operation=operation) | Done(pour=pour.id, operation=operation):
                if operation in {STRIP, UNCOVER}:
                    (forms if operation == STRIP else covers).append(act.at_ms)
            case FormsOff(pour=pour.id):
                forms.append(act.at_ms)
            case Cover(pour=pour.id, on=False):
                covers.append(act.at_ms if act.happened is None else ms(act.happened))
            case _:
                pass
    # Stripping takes hours: from its beginning through the day after its end.
    stripped = (Bared("strip", min(forms), max(forms) + DAY_MS),) if forms else ()
    return (*stripped, *(Bared("uncovering", at, at + DAY_MS) for at in covers))
