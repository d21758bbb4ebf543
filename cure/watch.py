"""What is watched beside strength: freezing, conflicts, cold delays, silent sensors. Each can only shut, or tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from cure.bay import AIR_ZONES, SILENT_AFTER_INTERVALS, SensorTrack
from cure.delay import delay
from cure.work import Work
from shared import units
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, MilliC, Ms
from shared.models.decisions import GateState, HoldKind, Placement
from shared.models.messages import MessageKind
from shared.models.setup import Zone

Mask: TypeAlias = NDArray[np.bool_]
"""Of a sensor's readings, shape (n,)."""
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
DELAY_STANDS_MS: Final = 30 * MINUTE_MS


def _shown(milli_c: MilliC, work: Work) -> str:
    return units.shown(milli_c / 1000.0, "degC", first=work.case.site.site.units, limit=False)


def _before_safe(work: Work) -> Iterator[tuple[SensorTrack, Mask]]:
    safe_ms = work.evidence.safe_from_freezing_ms
    for s in work.evidence.sensors:
        young = np.ones(len(s.raw), dtype=bool) if safe_ms is None else s.raw.taken_ms < safe_ms
        yield s, young


def freezing(work: Work) -> None:
    """Raise the freeze lock, or the suspicion, while the bound is below 3.5 MPa.

    From the first concrete on, calibrated or not: any sensor at or below 0.5 degC, or the top sensor at or below
    1 degC, locks; without a living top sensor, mid-depth at or below 3 degC, or a gap that may hide freezing, is a
    suspicion.
    """
    for s, young in _before_safe(work):
        unanswered = young & _unanswered(work, s, HoldKind.FREEZE_LOCKED)
        cold = s.raw.milli_c[unanswered]
        limit = LOCK_TOP_MILLI_C if s.placement.zone is Zone.TOP else LOCK_ANY_MILLI_C
        if len(cold) and int(cold.min()) <= limit:
            reason = f"{s.placement.sensor} ({s.placement.zone}) at {_shown(int(cold.min()), work)} before 3.5 MPa"
            how = "direct tests of the concrete and the engineer's written disposition"
            work.open_hold(HoldKind.FREEZE_LOCKED, "engineer", reason, how)
        else:
            _suspect(work, s, unanswered & (s.raw.taken_ms > _top_through_ms(work)))
        _suspect_gaps(work, s)


def _unanswered(work: Work, s: SensorTrack, kind: HoldKind, holds_ms: int = 0) -> Mask:
    """Return which readings the lifting of a hold does not answer for: later ones, and colder than anybody knew of."""
    lifted = work.memory.get("lifted", {}).get(kind)
    if lifted is None:
        return np.ones(len(s.raw), dtype=bool)
    at_ms, milli_c = int(lifted["at_ms"]), int(lifted["milli_c"])
    unknown = s.raw.milli_c <= milli_c - COLDER_AGAIN_MILLI_C
    return unknown | (s.raw.taken_ms > at_ms + holds_ms)


def _top_through_ms(work: Work) -> Ms:
    """Return until when a top sensor speaks for the surface: three intervals after the newest reading of any."""
    tops = [s for s in work.evidence.sensors if s.placement.zone is Zone.TOP and len(s.raw)]
    speaks = [int(s.raw.taken_ms[-1]) + SILENT_AFTER_INTERVALS * s.placement.interval_s * 1000 for s in tops]
    return max(speaks, default=0)


def _suspect(work: Work, s: SensorTrack, doubtful: Mask) -> None:
    cold = doubtful & (s.raw.milli_c <= SUSPECT_MILLI_C)
    cold &= _unanswered(work, s, HoldKind.FREEZE_SUSPECTED, LIFT_HOLDS_MS)
    if not np.any(cold):
        return
    coldest = int(s.raw.milli_c[cold].min())
    reason = f"{s.placement.sensor} ({s.placement.zone}) at {_shown(coldest, work)} before 3.5 MPa, no top sensor"
    how = "measure the concrete surface: above 1 degC (34 degF) lifts it"
    work.open_hold(HoldKind.FREEZE_SUSPECTED, "qc", reason, how)


def _suspect_gaps(work: Work, s: SensorTrack) -> None:
    lifted = work.memory.get("lifted", {})
    answers = ((HoldKind.FREEZE_SUSPECTED, LIFT_HOLDS_MS), (HoldKind.FREEZE_LOCKED, 0))
    answered_ms = max((lifted[kind]["at_ms"] + holds for kind, holds in answers if kind in lifted), default=0)
    safe_ms = work.evidence.safe_from_freezing_ms
    for gap in () if s.track is None else s.track.gaps:
        if gap.to_ms <= answered_ms or (safe_ms is not None and gap.from_ms >= safe_ms):
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


def delays(work: Work) -> None:
    """Tell of cold once per operation, after it has stood for 30 min of evidence; walk moves with strip."""
    told = dict(work.memory.get("delay", {}))
    for operation in [op for op in (STRIP,) if op in work.plan]:
        state = work.gates[operation].state
        waiting = state in {GateState.CURING, GateState.HOLD}
        found = delay(work.evidence, work.plan[operation]) if waiting else None
        entry = told.get(operation)
        if found is None or work.evidence.watermark_ms is None:
            if entry is not None and not entry["told"]:
                del told[operation]
        elif entry is None:
            told[operation] = {"since": work.evidence.watermark_ms, "told": False}
        elif not entry["told"] and work.evidence.watermark_ms - entry["since"] >= DELAY_STANDS_MS:
            told[operation] = {**entry, "told": True}
            facts = {
                "plan_ms": found.plan_ms,
                "expected_ms": found.expected_ms,
                "counted_h": found.counted_h,
                "clock_h": found.clock_h,
                "limit_c": found.limit_c,
                "coldest_c": found.coldest_c,
                "cause": found.cause,
            }
            work.tell(MessageKind.COLD_DELAY, operation, 1, facts, operation=operation)
    work.memory["delay"] = told


def _heard(work: Work, placement: Placement) -> bool:
    """Return whether a sensor has spoken after all: readings that cannot be read are not a silent logger."""
    arrival = work.case.arrivals.get(placement.sensor)
    longest_ms = SILENT_AFTER_INTERVALS * placement.interval_s * 1000
    return arrival is not None and work.now_ms - arrival.newest_ms <= longest_ms


def silences(work: Work) -> None:
    """Tell once of each sensor that has said nothing for three intervals."""
    told = dict(work.memory.get("silent", {}))
    quiet = {p.sensor: p for p in work.evidence.silent if not _heard(work, p)}
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
