"""Where each sensor lies, from ... to ...: one table, changed by acts and by changes of the site file.

The file is held against the file accepted before it, never against the table: what somebody entered stays as long as
the sensor's own line in the file stays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from sqlalchemy import Connection, RowMapping, bindparam, select

from shared.models.base import Ms, PourId, SensorId
from shared.models.decisions import Placement
from shared.models.setup import SiteFile
from shared.store import tables as t
from shared.store.rows import placement_from, placement_to

_P: Final = t.placement.c
_OF_SENSOR: Final = select(t.placement).where(_P.sensor == bindparam("of_sensor")).order_by(_P.no)
_ANY: Final = select(_P.no).limit(1)
_ROW: Final = t.placement.update().where(_P.no == bindparam("of_no"))


def _wanted(site: SiteFile) -> Mapping[SensorId, Placement]:
    """Return what a site file says."""
    return {
        s.sensor_id: Placement(
            s.sensor_id, b.bay_id, s.zone, s.depth_mm, s.interval_s or site.site.interval_s, s.required
        )
        for b in site.bay
        for s in b.sensors
    }


def _rows(connection: Connection, sensor: SensorId) -> Sequence[RowMapping]:
    return connection.execute(_OF_SENSOR, {"of_sensor": sensor}).mappings().all()


def placements_of(connection: Connection, sensor: SensorId) -> list[Placement]:
    """Return the placements of a sensor, in the order in which they were made."""
    return [placement_from(row) for row in _rows(connection, sensor)]


def place_by_file(connection: Connection, before: SiteFile | None, site: SiteFile, since: Ms) -> None:
    """Carry out what a site file changes of the one before it.

    Args:
        connection: in a transaction.
        before: the file that was in force; None: this is the first.
        site: the file.
        since: from when what is new in it holds.
    """
    was, wanted = {} if before is None else _wanted(before), _wanted(site)
    if before is None and wanted and connection.execute(_ANY).first() is None:
        # At once: of a hundred thousand sensors one by one takes minutes.
        connection.execute(t.placement.insert(), [placement_to(replace(p, from_ms=since)) for p in wanted.values()])
        return
    for sensor in dict.fromkeys((*wanted, *was)):
        old, new = was.get(sensor), wanted.get(sensor)
        if old != new:
            known = placements_of(connection, sensor)
            change(connection, known, _by_file(known, old, new, since))


def _by_file(known: Sequence[Placement], old: Placement | None, new: Placement | None, since: Ms) -> list[Placement]:
    """Return a sensor's placements after its line in the file has changed."""
    ended, now = [p for p in known if p.to_ms is not None], next((p for p in known if p.to_ms is None), None)
    if new is None:
        # Somebody entered that it lies in another bay by now: the line that is gone said nothing of that.
        if now is None or old is None or now.bay != old.bay:
            return list(known)
        return [*ended, _ended(now, since)]
    if now is not None and _there(now) == _there(new):
        changed = replace(now, depth_mm=new.depth_mm, interval_s=new.interval_s, required=new.required)
        return [*ended, changed]
    if old is not None and _there(old) == _there(new):
        # It was taken out, or moved, by an act; the line still names the old place.
        return list(known)
    return [*ended, *([] if now is None else [_ended(now, since)]), replace(new, from_ms=since)]


def _there(placement: Placement) -> tuple[str, str]:
    return placement.bay, placement.zone


def _ended(placement: Placement, at_ms: Ms) -> Placement:
    return replace(placement, to_ms=max(at_ms, placement.from_ms))


def change(connection: Connection, before: Sequence[Placement], after: Sequence[Placement]) -> bool:
    """Write a sensor's placements in place of those before, row by row; what is added comes last.

    Returns False, with nothing written, when they are not those before any more. No row is ever taken away.
    """
    sensors = {p.sensor for p in (*before, *after)}
    rows = [row for sensor in sorted(sensors) for row in _rows(connection, sensor)]
    if [placement_from(row) for row in rows] != list(before) or len(after) < len(before):
        return False
    for row, new in zip(rows, after, strict=False):
        if new != placement_from(row):
            connection.execute(_ROW.values(**placement_to(new)), {"of_no": row["no"]})
    for new in after[len(before) :]:
        connection.execute(t.placement.insert().values(**placement_to(new)))
    return True


def open_pours_in(connection: Connection, placements: Sequence[Placement]) -> list[PourId]:
    """Return the open pours in the bays of placements."""
    bays = sorted({p.bay for p in placements})
    found = select(t.pour.c.id).where(t.pour.c.bay.in_(bays), t.pour.c.closed_ms.is_(None))
    return [PourId(pour) for pour in connection.scalars(found)]
