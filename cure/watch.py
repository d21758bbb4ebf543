"""What is watched beside strength: freezing, conflicts, silent sensors. Each can only shut, or tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from cure.bay import AIR_ZONES, SensorTrack
from cure.work import Work
from shared import units
from shared.models.base import HOUR_MS, MilliC, Ms
from shared.models.decisions import HoldKind
from shared.models.messages import MessageKind
from shared.models.setup import Zone

LOCK_ANY_MILLI_C: Final = 500
LOCK_TOP_MILLI_C: Final = 1000
SUSPECT_MILLI_C: Final = 3000
"""Without a top sensor a mid-depth reading this cold leaves the surface in doubt. (All three: our judgement.)"""
GAP_SUSPECT_C: Final = 1.0
COLD_BEFORE_GAP_MILLI_C: Final = 5000
"""A hole in the record without bay air is a doubt when the slab was this cold on either side."""
LIFT_HOLDS_MS: Final = 4 * HOUR_MS
COLDER_AGAIN_MILLI_C: Final = 500
"""A lifted suspicion comes back when it gets this much colder, or after 4 h, the longest between contact readings."""
CONFLICT_MILLI_C: Final = 1000


def _shown(milli_c: MilliC, work: Work) -> str:
    return units.shown(milli_c / 1000.0, "degC", first=work.case.site.site.units, limit=False)


def _before_safe(work: Work) -> Iterator[tuple[SensorTrack, np.ndarray[tuple[int], np.dtype[np.bool_]]]]:
    safe_ms = work.evidence.safe_from_freezing_ms
    for s in work.evidence.sensors:
        young = np.ones(len(s.raw), dtype=bool) if safe_ms is None else s.raw.taken_ms < safe_ms
        yield s, young


def freezing(work: Work) -> None:
    """Raise the freeze lock, or the suspicion, while the bound is below 3.5 MPa.

    From the first concrete on, calibrated or not: any sensor at or below 0.5 degC, or the top sensor at or below
    1 degC, locks; without a top sensor, mid-depth at or below 3 degC, or a gap that may hide freezing, is a suspicion.
    """
    has_top = any(s.placement.zone is Zone.TOP for s in work.evidence.sensors)
    lifted = work.memory.get("lifted", {})
    for s, young in _before_safe(work):
        cold = s.raw.milli_c[young]
        limit = LOCK_TOP_MILLI_C if s.placement.zone is Zone.TOP else LOCK_ANY_MILLI_C
        locked_at = lifted.get(HoldKind.FREEZE_LOCKED)
        if locked_at is not None:
            cold = cold[s.raw.taken_ms[young] > locked_at["at_ms"]]
        if len(cold) and int(cold.min()) <= limit:
            reason = f"{s.placement.sensor} ({s.placement.zone}) at {_shown(int(cold.min()), work)} before 3.5 MPa"
            how = "direct tests of the concrete and the engineer's written disposition"
            work.open_hold(HoldKind.FREEZE_LOCKED, "engineer", reason, how)
        elif not has_top:
            _suspect(work, s, young)
        _suspect_gaps(work, s)


def _suspect(work: Work, s: SensorTrack, young: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> None:
    lifted = work.memory.get("lifted", {}).get(HoldKind.FREEZE_SUSPECTED)
    cold = young & (s.raw.milli_c <= SUSPECT_MILLI_C)
    if lifted is not None:
        colder = s.raw.milli_c <= lifted["milli_c"] - COLDER_AGAIN_MILLI_C
        later = s.raw.taken_ms > lifted["at_ms"] + LIFT_HOLDS_MS
        cold &= (s.raw.taken_ms > lifted["at_ms"]) & (colder | later)
    if not np.any(cold):
        return
    coldest = int(s.raw.milli_c[cold].min())
    reason = f"{s.placement.sensor} ({s.placement.zone}) at {_shown(coldest, work)} before 3.5 MPa, no top sensor"
    how = "measure the concrete surface: above 1 degC (34 degF) lifts it"
    work.open_hold(HoldKind.FREEZE_SUSPECTED, "qc", reason, how)


def _suspect_gaps(work: Work, s: SensorTrack) -> None:
    lifted = work.memory.get("lifted", {}).get(HoldKind.FREEZE_SUSPECTED)
    safe_ms = work.evidence.safe_from_freezing_ms
    for gap in () if s.track is None else s.track.gaps:
        answered = lifted is not None and gap.from_ms <= lifted["at_ms"]
        if answered or (safe_ms is not None and gap.from_ms >= safe_ms):
            continue
        ends = s.raw.milli_c[(s.raw.taken_ms == gap.from_ms) | (s.raw.taken_ms == gap.to_ms)]
        unknown = np.isnan(gap.credited_c) and (len(ends) == 0 or int(ends.min()) <= COLD_BEFORE_GAP_MILLI_C)
        if gap.credited_c <= GAP_SUSPECT_C or unknown:
            hours = (gap.to_ms - gap.from_ms) / HOUR_MS
            reason = f"{s.placement.sensor}: {hours:.1f} h without readings that may hide freezing before 3.5 MPa"
            how = "measure the concrete surface: above 1 degC (34 degF) lifts it"
            work.open_hold(HoldKind.FREEZE_SUSPECTED, "qc", reason, how)


def conflicts(work: Work) -> None:
    """Raise a hold for two readings of one sensor and hour more than 1 degC apart; the colder one is credited."""
    lifted = work.memory.get("lifted", {}).get(HoldKind.CONFLICT)
    for c in work.case.conflicts:
        new = lifted is None or c.received_ms > lifted["at_ms"]
        if new and abs(c.other_milli_c - c.kept_milli_c) > CONFLICT_MILLI_C:
            reason = f"{c.sensor} sent {_shown(c.other_milli_c, work)} and {_shown(c.kept_milli_c, work)} for one hour"
            work.open_hold(HoldKind.CONFLICT, "qc", reason, "find out which is right; the colder one is credited")


def silences(work: Work) -> None:
    """Tell once of each sensor that has said nothing for three intervals."""
    told = dict(work.memory.get("silent", {}))
    quiet = {p.sensor: p for p in work.evidence.silent}
    for sensor, placement in quiet.items():
        if sensor in told:
            continue
        arrival = work.case.arrivals.get(sensor)
        told[sensor] = 0 if arrival is None else arrival.revision
        required = placement.required and placement.zone not in AIR_ZONES
        newest: Ms | None = None if arrival is None else arrival.newest_ms
        facts = {"sensor": sensor, "newest_ms": newest, "required": required}
        work.tell(MessageKind.LOGGER_SILENT, sensor, told[sensor], facts)
    work.memory["silent"] = {s: r for s, r in told.items() if s in quiet}
