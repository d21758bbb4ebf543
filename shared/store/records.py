"""Which pours are finished, and since when: what the keeping of their readings goes by."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from sqlalchemy import Connection, case, func, select

from shared.models.base import Ms, PourId, SensorId
from shared.models.decisions import GateState
from shared.ports import PourRecord
from shared.store import starts
from shared.store import tables as t
from shared.store.cases import PLACED
from shared.store.rows import pour_from

_POURS: Final = select(t.pour).order_by(t.pour.c.start_ms, t.pour.c.id)
_SENSORS: Final = select(t.pour.c.id, t.placement.c.sensor).join(t.placement, PLACED)
_GATES: Final = select(
    t.gate.c.pour,
    func.max(t.gate.c.changed_ms),
    func.sum(case((t.gate.c.state != GateState.DONE.value, 1), else_=0)),
).group_by(t.gate.c.pour)
_HELD: Final = select(t.hold.c.pour).distinct()


def all_of(connection: Connection) -> list[PourRecord]:
    """Return every pour with its sensors, in the order in which they began."""
    sensors: dict[str, set[SensorId]] = {}
    for pour, sensor in connection.execute(_SENSORS):
        sensors.setdefault(pour, set()).add(SensorId(sensor))
    held, void = set(connection.scalars(_HELD)), starts.void(connection)
    done = {pour: at_ms for pour, at_ms, undone in connection.execute(_GATES) if undone == 0 and pour not in held}
    found = []
    for pour in map(pour_from, connection.execute(_POURS).mappings()):
        at_ms, end_ms = done.get(pour.id), pour.end_ms
        # Without an end nobody knows what it was judged by. When it was closed does not count: its record closes it.
        finished = None if at_ms is None or end_ms is None else max(at_ms, end_ms)
        # Of one whose start was taken back nothing more comes either.
        finished = void.get(pour.id, finished)
        found.append(PourRecord(pour, frozenset(sensors.get(pour.id, ())), finished))
    return found


def close(connection: Connection, pours: Collection[PourId], at_ms: Ms) -> None:
    """Close pours that are open; nothing judges them any more."""
    open_ones = t.pour.update().where(t.pour.c.id.in_(sorted(pours)), t.pour.c.closed_ms.is_(None))
    connection.execute(open_ones.values(closed_ms=at_ms, touched=t.pour.c.touched + 1))
