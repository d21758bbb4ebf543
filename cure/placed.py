"""A sensor placed, moved or taken out by an act: what becomes of its placements. Pure.

Each placement has a begin and an end; readings outside belong to no bay. A change begins at the hour at which it is
entered, so that what a sensor has earned elsewhere never counts here. What takes a required sensor from its bay and
zone needs two persons; once the pour has a reading, `cure.lowering` holds it for the engineer as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from cure.bay import AIR_ZONES
from cure.roles import is_second
from shared.errors import ActRefusedError
from shared.models.act_base import instant, ms
from shared.models.acts_loggers import PlaceSensor, RemoveSensor
from shared.models.base import DAY_MS, BayId, Json, Ms, SensorId
from shared.models.decisions import Placement, Pour, PourState
from shared.models.requirement import DESK
from shared.models.setup import SiteFile
from shared.site_checks import SLOWEST_REQUIRED_S

EARLIEST_MS: Final = 14 * DAY_MS
"""How far back a placement may be entered: older readings are refused anyway (`ingest.screening`)."""


def now_of(known: Sequence[Placement]) -> Placement | None:
    """Return where a sensor lies; None: in no bay."""
    return next((p for p in known if p.to_ms is None), None)


def placed(
    act: PlaceSensor, site: SiteFile, known: Sequence[Placement], pour: Pour | None, now_ms: Ms
) -> list[Placement]:
    """Return a sensor's placements after it was placed.

    Args:
        act: what was entered; its bay is one of the site's.
        site: the site file.
        known: its placements, oldest first.
        pour: open in the bay.
        now_ms: site time.

    Raises:
        ActRefusedError: it cannot be accepted, and how to mend it.
    """
    new, was = _entered(act, site, pour, now_ms), now_of(known)
    _check_form(new, site)
    if was is not None and act.happened is None and _judged(was) == _judged(new):
        corrected = replace(was, depth_mm=new.depth_mm, position=new.position)
        if corrected == was:
            raise ActRefusedError(f"{act.sensor} lies there already, since {instant(was.from_ms).isoformat()}")
        return [*(p for p in known if p is not was), replace(corrected, by=act.who)]
    _check_hours(act, site, known, new, now_ms)
    if was is None:
        return [*known, new]
    if _is_required(was) and not (_is_required(new) and (was.bay, was.zone) == (new.bay, new.zone)):
        _check_two(act, site, was)
    return [*(p for p in known if p is not was), _ended(was, new.from_ms), new]


def removed(act: RemoveSensor, site: SiteFile, known: Sequence[Placement], now_ms: Ms) -> list[Placement]:
    """Return a sensor's placements after it was taken out of its bay.

    Raises:
        ActRefusedError: it cannot be accepted, and how to mend it.
    """
    was = now_of(known)
    if was is None:
        raise ActRefusedError(f"{act.sensor} lies in no bay: `slabhour logger list` shows where each sensor lies")
    if _is_required(was):
        _check_two(act, site, was)
    return [*(p for p in known if p is not was), _ended(was, now_ms)]


def _entered(act: PlaceSensor, site: SiteFile, pour: Pour | None, now_ms: Ms) -> Placement:
    from_ms = now_ms if act.happened is None else ms(act.happened)
    # What comes after the last concrete cannot speak for the hours before it.
    in_time = pour is None or pour.end_ms is None or from_ms <= pour.end_ms
    required = act.zone not in AIR_ZONES and (in_time if act.required is None else act.required)
    interval_s = act.interval_s or site.site.interval_s
    return Placement(
        SensorId(act.sensor),
        BayId(act.bay),
        act.zone,
        act.depth_mm,
        interval_s,
        required,
        from_ms,
        position=act.position,
        by=act.who,
    )


def _check_form(new: Placement, site: SiteFile) -> None:
    thick_mm = site.bay_named(new.bay).thickness_mm
    if new.zone not in AIR_ZONES and new.depth_mm is not None and new.depth_mm > thick_mm:
        raise ActRefusedError(f"{new.bay} is {thick_mm} mm thick: nothing lies {new.depth_mm} mm deep in it")
    if new.required and new.interval_s > SLOWEST_REQUIRED_S:
        raise ActRefusedError(
            f"a required sensor measures at least every {SLOWEST_REQUIRED_S} s, not every {new.interval_s} s: "
            "set the logger to less, or place it as not required"
        )


def _check_hours(act: PlaceSensor, site: SiteFile, known: Sequence[Placement], new: Placement, now_ms: Ms) -> None:
    if not now_ms - EARLIEST_MS <= new.from_ms <= now_ms:
        raise ActRefusedError("a sensor is placed neither in the future nor more than 14 days ago")
    if act.happened is not None and not is_second(site, act, act.second_person, DESK):
        raise ActRefusedError(
            "an earlier hour counts what was read since: it takes a second person (superintendent, qc, engineer), "
            "--second-person; or leave the hour out, and it begins now"
        )
    for p in known:
        if p.to_ms is not None and p.to_ms > new.from_ms:
            raise ActRefusedError(f"{p.sensor} lay in {p.bay} until {instant(p.to_ms).isoformat()}: say a later hour")


def _check_two(act: PlaceSensor | RemoveSensor, site: SiteFile, was: Placement) -> None:
    if not is_second(site, act, act.second_person, DESK):
        raise ActRefusedError(
            f"{was.sensor} is required in {was.bay}, {was.zone}: taking it from there needs a second person "
            "(superintendent, qc, engineer), --second-person"
        )
    if act.why is None:
        raise ActRefusedError(f"{was.sensor} is required in {was.bay}, {was.zone}: say why, --why")


def _is_required(placement: Placement) -> bool:
    return placement.required and placement.zone not in AIR_ZONES


def _judged(placement: Placement) -> tuple[Json, ...]:
    """Return what a pour is judged by; the rest is a note, and is corrected in its place."""
    return placement.bay, placement.zone, placement.interval_s, placement.required


def _ended(placement: Placement, at_ms: Ms) -> Placement:
    return replace(placement, to_ms=max(at_ms, placement.from_ms))


def as_placed(state: PourState, placements: Sequence[Placement]) -> PourState:
    """Return what cure keeps of a pour without what a person answered for a sensor before it was placed as it is now.

    "It lies in the concrete" was said of another place.
    """
    now = {p.sensor: p.from_ms for p in placements if p.to_ms is None}
    then: Mapping[str, Ms] = state.memory.get("placed", {})
    moved = {sensor for sensor, from_ms in now.items() if then.get(sensor, from_ms) != from_ms}
    known = state.memory.get("doubtful", {})
    doubtful = {s: dict.fromkeys(causes, False) if s in moved else causes for s, causes in known.items()}
    memory = {**state.memory, "placed": now, **({"doubtful": doubtful} if known else {})}
    return state if memory == state.memory else replace(state, memory=memory)
