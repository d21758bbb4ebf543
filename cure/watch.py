"""What is watched beside strength: cold, heat, conflicts, doubtful and silent sensors. Each can only shut, or tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from cure import tickets
from cure.bay import AIR_ZONES
from cure.condition import apart, hottest, steepest
from cure.credit import SensorTrack
from cure.limits import LIMITS
from cure.standin import silent_after_ms
from cure.verification import DRIFT, percent, running_sum
from cure.work import Work
from shared import units
from shared.models.base import DAY_MS, HOUR_MS, MilliC, Ms
from shared.models.decisions import HoldKind, Placement
from shared.models.messages import MessageKind
from shared.models.setup import Zone
from shared.shifts import day_of

Mask: TypeAlias = NDArray[np.bool_]
"""Of a sensor's readings, shape (n,)."""
LOCK_ANY_MILLI_C: Final = units.milli_c(LIMITS["any sensor below that strength"].value)
LOCK_TOP_MILLI_C: Final = units.milli_c(LIMITS["top sensor below that strength"].value)
SUSPECT_MILLI_C: Final = units.milli_c(LIMITS["mid-depth below it, no top sensor"].value)
"""A mid-depth reading this cold leaves the surface in doubt."""
GAP_SUSPECT_C: Final = 1.0
COLD_BEFORE_GAP_MILLI_C: Final = 5000
"""A hole in the record without bay air is a doubt when the slab was this cold on either side."""
LIFT_HOLDS_MS: Final = 4 * HOUR_MS
COLDER_AGAIN_MILLI_C: Final = 500
"""A lifted suspicion comes back when it gets this much colder, or after 4 h, the longest between contact readings."""
CONFLICT_MILLI_C: Final = 1000
COLD_START_MILLI_C: Final = 10_000
ENDING_DAYS: Final = 28
"""Before a calibration ends, from then on it is told: the cylinders for the next one take so long."""
HOW: Final = {
    HoldKind.PLACEMENT: "look at the loggers of this bay and its neighbours, mend the site file; lifting it says that "
    "the sensor lies in this pour's concrete",
    HoldKind.SENSOR_DOUBTFUL: "measure beside the sensor; lifting it says that what it reads is right",
}


def _shown(milli_c: MilliC, work: Work) -> str:
    return units.shown(milli_c / 1000.0, "degC", first=work.case.site.site.units, limit=False)


def _before_safe(work: Work) -> Iterator[tuple[SensorTrack, Mask]]:
    safe_ms = work.evidence.safe_from_freezing_ms
    for s in (*work.evidence.sensors, *work.evidence.ended):
        young = np.ones(len(s.raw), dtype=bool) if safe_ms is None else s.raw.taken_ms < safe_ms
        yield s, young


def doubts(work: Work) -> None:
    """Raise every hold that readings and tickets give reason for."""
    freezing(work)
    conflicts(work)
    doubtful(work)
    tickets.doubt(work)


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
        elif s.placement.zone is not Zone.TOP:
            _suspect(work, s, unanswered & (s.raw.taken_ms > _top_through_ms(work)))
        _suspect_gaps(work, s)
        _suspect_in_its_place(work, s)


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
    speaks = [int(s.raw.taken_ms[-1]) + silent_after_ms(s.placement) for s in tops]
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


def _answered_ms(work: Work) -> Ms:
    """Return until when a person's look at the surface answers for hours without readings."""
    lifted = work.memory.get("lifted", {})
    answers = ((HoldKind.FREEZE_SUSPECTED, LIFT_HOLDS_MS), (HoldKind.FREEZE_LOCKED, 0))
    return max((lifted[kind]["at_ms"] + holds for kind, holds in answers if kind in lifted), default=0)


def _suspect_gaps(work: Work, s: SensorTrack) -> None:
    answered_ms = _answered_ms(work)
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


def _suspect_in_its_place(work: Work, s: SensorTrack) -> None:
    """Suspect freezing where what stands in for a silent sensor is as cold as that."""
    safe_ms, stood_in = work.evidence.safe_from_freezing_ms, s.stood_in.series
    young = np.ones(len(stood_in), dtype=bool) if safe_ms is None else stood_in.taken_ms < safe_ms
    cold = young & (stood_in.taken_ms > _answered_ms(work)) & (stood_in.milli_c <= GAP_SUSPECT_C * 1000)
    if np.any(cold):
        reason = f"{s.placement.sensor}: silent, and in its place {_shown(int(stood_in.milli_c[cold].min()), work)}"
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


def doubtful(work: Work) -> None:
    """Tell of each doubt about a sensor once; hold the pour where a required one needs a person to look."""
    told = {sensor: dict(causes) for sensor, causes in work.memory.get("doubtful", {}).items()}
    required = {s.placement.sensor for s in work.evidence.sensors if s.placement.required}
    for doubt in work.evidence.doubts:
        if not doubt.told:
            continue
        causes = told.setdefault(doubt.sensor, {})
        if doubt.cause not in causes:
            causes[doubt.cause] = False
            facts = {"sensor": doubt.sensor, "reason": doubt.reason, "required": doubt.sensor in required}
            work.tell(MessageKind.LOGGER_DOUBTFUL, doubt.sensor, len(causes), facts)
        if doubt.hold is not None and doubt.sensor in required:
            work.open_hold(doubt.hold, "qc", doubt.reason, HOW[doubt.hold])
    if told:
        work.memory["doubtful"] = told


def answered(work: Work) -> None:
    """Note which doubts a person has answered by lifting a hold: none that was only found in this very round."""
    lifted = {h.kind for h in work.case.holds} - set(work.holds)
    known = work.case.state.memory.get("doubtful", {})
    for doubt in work.evidence.doubts:
        if doubt.hold in lifted and doubt.cause in known.get(doubt.sensor, {}):
            causes = {**work.memory["doubtful"][doubt.sensor], doubt.cause: True}
            work.memory["doubtful"] = {**work.memory["doubtful"], doubt.sensor: causes}


def heat(work: Work) -> None:
    """Tell once of each: concrete too hot, cooling too fast, too uneven."""
    end_ms, told = work.case.pour.end_ms, list(work.memory.get("heat", []))
    counted = [s for s in work.evidence.sensors if s.placement.sensor not in work.evidence.not_counted and len(s.raw)]
    if end_ms is None or not counted:
        return
    hot = hottest(counted)
    if not hot.kept and "hot" not in told:
        told.append("hot")
        said = {"sensor": hot.sensor, "found_c": hot.found_c, "limit_c": hot.limit.value}
        work.tell(MessageKind.TOO_HOT, str(hot.sensor), 1, said)
    drop = steepest(counted, end_ms, work.case.bay.thickness_mm)
    steep = (
        ("drop", drop, f"{drop.sensor} has dropped so much in 24 h"),
        ("apart", apart(counted, end_ms), "coldest to hottest sensor of the bay"),
    )
    for epoch, (name, found, reason) in enumerate(steep, 1):
        if not found.kept and name not in told:
            told.append(name)
            facts = {"found_c": found.found_c, "limit_c": found.limit.value, "reason": reason}
            work.tell(MessageKind.TOO_STEEP, "", epoch, facts)
    if told:
        work.memory["heat"] = told


def verification(work: Work) -> None:
    """Tell of a set of this pour's cylinders that says something of its mix's calibration."""
    sets, told = work.verified.sets, int(work.memory.get("verified", 0))
    if len(sets) == told or not sets or sets[-1].pour != work.case.pour.id:
        return
    work.memory["verified"] = len(sets)
    found = f"{percent(sets[-1].ratio)} %"
    if work.verified.suspended is not None:
        reason = f"suspended: {work.verified.suspended}"
        how = "calibrate the mix anew; what is not finished is not judged by this version any more"
    elif work.verified.ratio < 1.0:
        reason = f"cylinders at {found} of its curve: the curve counts for so much less"
        how = "find out why: mix, cylinders, their temperature record"
    elif work.verified.questioned:
        reason = f"cylinders at {found} of its curve"
        how = "find out whether this is the mix: tickets, dose"
    elif running_sum(sets)[-1] < DRIFT:
        reason = "its cylinders drift below its curve, a little each time"
        how = "look at the mix before a set is low"
    else:
        return
    work.tell(MessageKind.CALIBRATION, "", len(sets), {"mix": work.case.mix.id, "reason": reason, "how": how})


def cold_start(work: Work) -> None:
    """Note once that the concrete was below 10 degC in its first day: a mix is verified anew in the cold."""
    end_ms = work.case.pour.end_ms
    if end_ms is None or "cold_start" in work.memory:
        return
    for s in work.evidence.sensors:
        first_day = (s.raw.taken_ms >= end_ms) & (s.raw.taken_ms <= end_ms + DAY_MS)
        if np.any(s.raw.milli_c[first_day] < COLD_START_MILLI_C):
            work.memory["cold_start"] = True
            return


def validity(work: Work) -> None:
    """Tell once a pour that its mix's calibration is about to end, or has ended."""
    calibration, site = work.case.calibration, work.case.site.site
    if calibration is None or calibration.valid_until is None or "validity" in work.memory:
        return
    left = (calibration.valid_until - day_of(work.now_ms, site.zone)).days
    if left > ENDING_DAYS:
        return
    work.memory["validity"] = calibration.version
    reason = f"version {calibration.version} is for pours through {calibration.valid_until.isoformat()}"
    facts = {"mix": work.case.mix.id, "reason": reason, "how": "make cylinders now, and calibrate the mix anew"}
    work.tell(MessageKind.CALIBRATION, "validity", 1, facts)


def _heard(work: Work, placement: Placement) -> bool:
    """Return whether a sensor has spoken after all: readings that cannot be read are not a silent logger."""
    arrival = work.case.arrivals.get(placement.sensor)
    return arrival is not None and work.now_ms - arrival.newest_ms <= silent_after_ms(placement)


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
