"""The condition of a pour as a table: quantity, found, limit, kept or not, whom it binds, where it stands. Pure.

What is not known says so and why. A value that was read and breaks a limit breaks it whatever else is not known; one
that keeps it is "not known" where a hole in the record may hide a worse one. Nothing here releases anything.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from cure.condition import Condition, apart, hottest, steepest
from cure.condition_seen import Bared, Observed
from cure.credit import SensorTrack
from cure.limits import LIMITS, Limit, Weight, by_thickness
from cure.surface import known_drop_c, surface_from_air_c
from shared import units
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.setup import Zone
from shared.shifts import site_hour

PROTECTED_MS: Final = 3 * DAY_MS
"""ACI 306.1-90: 3 d, 2 d if accelerated (read in a summary); the longer."""
NO_END: Final = "the end of the pour is not entered"
NO_READINGS: Final = "no readings yet"


class Kept(StrEnum):
    """What a row finds."""

    KEPT = "kept"
    NOT_KEPT = "not kept"
    NOT_YET = "not yet"
    """Something that grows has not got there."""
    NOT_KNOWN = "not known"
    NO_LIMIT = "no limit"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    quantity: str
    found: str
    limit: str
    kept: Kept
    weight: Weight | None
    source: str
    value: float | None = None
    """The found value in the unit of its limit; None: not known, or no single number."""
    reached_ms: Ms | None = None
    """Of what grows: when its limit was reached."""
    expected_ms: Ms | None = None
    """Or when it will be at the present temperature."""


def bound(limit: Limit, first: units.System) -> str:
    """Return a limit in words, rounded to the harder side."""
    way = "at least" if limit.at_least else "at most"
    return f"{way} {units.shown(limit.value, limit.unit, first=first, limit=limit.at_least)}"


def held(quantity: str, found: float, limit: Limit, first: units.System, *, why: str = "", of: str = "") -> Row:
    """Return a value held against its limit.

    Args:
        quantity: what it is.
        found: in the unit of the limit; NaN: not known.
        limit: its limit.
        first: which units stand first.
        why: why it is not known, or what may hide a worse one; "": it is known.
        of: whose it is, printed after it.
    """
    words = bound(limit, first)
    if not math.isfinite(found):
        return Row(quantity, f"not known: {why}", words, Kept.NOT_KNOWN, limit.weight, limit.source)
    # Rounded to the weaker side, so that nothing not kept looks kept.
    shown = units.shown(found, limit.unit, first=first, limit=not limit.at_least) + (f" ({of})" if of else "")
    if not limit.kept(found):
        return Row(quantity, shown, words, Kept.NOT_KEPT, limit.weight, limit.source, found)
    if why:
        worse = "less" if limit.at_least else "more"
        said = f"{shown} or {worse}, not known: {why}"
        return Row(quantity, said, words, Kept.NOT_KNOWN, limit.weight, limit.source)
    return Row(quantity, shown, words, Kept.KEPT, limit.weight, limit.source, found)


def freezing(o: Observed) -> Iterator[Row]:
    """Yield what early freezing rests on: the strength so far, and the coldest reading before it."""
    strength, why = o.evidence.lower_bound_mpa(), no_bound(o)
    for name in ("strength before freezing", "strength before freezing, EN 13670"):
        row = held(f"{name}: lower bound", strength, LIMITS[name], o.first, why=why)
        yield replace(row, kept=Kept.NOT_YET) if row.kept is Kept.NOT_KEPT else row
    safe_ms = o.evidence.safe_from_freezing_ms
    through_ms = o.now_ms if safe_ms is None else safe_ms
    tops = [s for s in o.cold if s.placement.zone is Zone.TOP]
    yield _before(o, "top sensor below that strength", tops, through_ms, "there is no top sensor")
    yield _before(o, "any sensor below that strength", o.cold, through_ms, "there is no sensor in the concrete")
    if not tops:
        name = "mid-depth below it, no top sensor"
        yield _before(o, name, o.cold, through_ms, "there is no sensor in the concrete")


def no_bound(o: Observed) -> str:
    """Return why there is no lower bound; "": there is one."""
    if math.isfinite(o.evidence.lower_bound_mpa()):
        return ""
    if o.case.pour.end_ms is None:
        return NO_END
    if o.case.calibration is None:
        return f"no calibration of mix {o.case.mix.id} is in force"
    return "a required sensor has no credit yet"


def _coldest(tracks: Sequence[SensorTrack], from_ms: Ms, through_ms: Ms) -> tuple[float, str]:
    """Return the coldest reading of a span and whose it is; NaN: there is none. [degC]"""
    found = [(float(c.min()) / 1000.0, s.placement.sensor) for s in tracks if len(c := _within(s, from_ms, through_ms))]
    return min(found) if found else (math.nan, "")


def _within(s: SensorTrack, from_ms: Ms, through_ms: Ms) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return s.raw.milli_c[(s.raw.taken_ms >= from_ms) & (s.raw.taken_ms <= through_ms)]


def _before(o: Observed, name: str, tracks: Sequence[SensorTrack], through_ms: Ms, none: str) -> Row:
    """Return the coldest reading before the strength that stands one freezing."""
    start_ms, limit = o.case.pour.start_ms, LIMITS[name]
    coldest_c, sensor = _coldest(tracks, start_ms, through_ms)
    why = (o.unread(tracks, start_ms, through_ms) or (NO_READINGS if math.isnan(coldest_c) else "")) if tracks else none
    row = held(f"coldest reading, {name}", coldest_c, limit, o.first, why=why, of=sensor)
    # At the limit the pour is locked, or suspected: the row must not say otherwise.
    at_limit = coldest_c <= limit.value
    return replace(
        row,
        limit=f"above {units.shown(limit.value, limit.unit, first=o.first, limit=True)}",
        kept=Kept.NOT_KEPT if at_limit else row.kept,
        value=coldest_c if at_limit else row.value,
    )


def temperatures(o: Observed) -> Iterator[Row]:
    """Yield coldest and hottest, and how far sensors, surface and air are apart."""
    start_ms, end_ms, mm = o.case.pour.start_ms, o.case.pour.end_ms, o.case.bay.thickness_mm
    coldest_c, sensor = _coldest(o.cold, start_ms, o.now_ms)
    holes = o.unread(o.cold, start_ms, o.now_ms) or (NO_READINGS if math.isnan(coldest_c) else "")
    yield Row(
        "coldest since the first concrete",
        f"not known: {holes}" if math.isnan(coldest_c) else _so_far(o, coldest_c, sensor, holes),
        "none of its own: see freezing and cold weather",
        Kept.NOT_KNOWN if holes else Kept.NO_LIMIT,
        None,
        "",
        None if holes else coldest_c,
    )
    yield _kept_warm(o, by_thickness("kept in the cold", mm))
    holes = o.unread(o.believed, start_ms, o.now_ms)
    yield _of_counted(o, "hottest since the first concrete", LIMITS["hottest"], holes, o.counted, hottest)
    newest = o.unread(o.in_place, o.now_ms - HOUR_MS, o.now_ms)
    yield _of_sensors(o, "between sensors now", newest)
    yield _centre_to_surface(o, newest)
    found = surface_from_air_c(o.surface, o.air, o.now_ms)
    why = "" if math.isfinite(found) else "not every sensor at the surface, or no air, has been read in the last hour"
    limit = LIMITS["surface to air when uncovered"]
    yield held("surface to air now (when protection comes off)", found, limit, o.first, why=why)
    if end_ms is None:
        yield held("drop in the last 24 h", math.nan, by_thickness("drop in 24 h", mm), o.first, why=NO_END)
        return
    day = o.unread(o.in_place, max(end_ms, o.now_ms - DAY_MS), o.now_ms)
    limit = by_thickness("drop in 24 h", mm)
    yield _of_counted(o, "drop in the last 24 h", limit, day, o.present, lambda of: steepest(of, end_ms, mm))
    yield from (_after(o, bared, limit) for bared in o.bared)
    if not o.bared:
        why = "neither strip nor uncovering is entered"
        yield held("drop in 24 h after strip or uncovering", math.nan, limit, o.first, why=why)


def _so_far(o: Observed, coldest_c: float, sensor: str, holes: str) -> str:
    shown = f"{units.shown(coldest_c, 'degC', first=o.first, limit=False)} ({sensor})"
    return f"{shown} or less, not known: {holes}" if holes else shown


def _of_counted(
    o: Observed,
    quantity: str,
    limit: Limit,
    holes: str,
    tracks: Sequence[SensorTrack],
    found: Callable[[Sequence[SensorTrack]], Condition],
) -> Row:
    if not tracks:
        return held(quantity, math.nan, limit, o.first, why="no sensor in place has readings that are believed")
    one = found(tracks)
    return held(quantity, one.found_c, limit, o.first, why=holes, of=str(one.sensor))


def _kept_warm(o: Observed, limit: Limit) -> Row:
    quantity, end_ms = "coldest in the first 3 days (in cold weather)", o.case.pour.end_ms
    if end_ms is None:
        return held(quantity, math.nan, limit, o.first, why=NO_END)
    through_ms = min(o.now_ms, end_ms + PROTECTED_MS)
    coldest_c, sensor = _coldest(o.cold, end_ms, through_ms)
    why = o.unread(o.cold, end_ms, through_ms) or (NO_READINGS if math.isnan(coldest_c) else "")
    hours = units.shown(max(0, through_ms - end_ms) / HOUR_MS, "h", limit=False)
    return held(quantity, coldest_c, limit, o.first, why=why, of=f"{sensor}, in {hours}")


def _of_sensors(o: Observed, quantity: str, holes: str) -> Row:
    end_ms, limit = o.case.pour.end_ms, LIMITS["between sensors"]
    after = [s for s in o.present if end_ms is not None and int(s.raw.taken_ms[-1]) > end_ms]
    if end_ms is None or len(after) < 2:
        why = NO_END if end_ms is None else "fewer than two sensors have readings since the end of the pour"
        return held(quantity, math.nan, limit, o.first, why=why)
    return held(quantity, apart(after, end_ms).found_c, limit, o.first, why=holes)


def _centre_to_surface(o: Observed, holes: str) -> Row:
    quantity, limit = "centre to surface now (mass concrete)", LIMITS["centre to surface, mass concrete"]
    newest = {zone: [s.raw.milli_c[-1] / 1000.0 for s in o.present if s.placement.zone is zone] for zone in Zone}
    centre, top = newest[Zone.INTERIOR], newest[Zone.TOP]
    if not centre or not top:
        return held(quantity, math.nan, limit, o.first, why="it takes a sensor in the interior and one at the top")
    found = max(abs(float(a) - float(b)) for a in centre for b in top)
    return held(quantity, found, limit, o.first, why=holes)


def _after(o: Observed, bared: Bared, limit: Limit) -> Row:
    """Return the largest drop in the 24 h after forms or a cover came off, from the reading before on."""
    quantity = f"drop in 24 h after {bared.what}, {site_hour(bared.from_ms, o.zone)}"
    drops = []
    for s in o.counted:
        first = max(0, int(np.searchsorted(s.raw.taken_ms, bared.from_ms, side="right")) - 1)
        last = int(np.searchsorted(s.raw.taken_ms, bared.through_ms, side="right"))
        if last - first > 1:
            drops.append((known_drop_c(s.raw.milli_c[first:last]), s.placement.sensor))
    if not drops:
        return held(quantity, math.nan, limit, o.first, why="no readings since")
    through_ms = min(o.now_ms, bared.through_ms)
    found, sensor = max(drops)
    holes = o.unread(o.believed, bared.from_ms, through_ms)
    return held(quantity, found, limit, o.first, why=holes, of=sensor)
