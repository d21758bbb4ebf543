"""The site book as ingest sees it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final

from sqlalchemy import Connection, bindparam, func, or_, select

from shared.models.base import Ms, PourId, SensorId
from shared.models.decisions import Placement
from shared.models.readings import Arrival, Conflict, Heard, Reason, Refused
from shared.ports import NewArrivals
from shared.store import tables as t
from shared.store.codec import digest_of
from shared.store.database import Database, inserting
from shared.store.rows import arrival_from, placement_from

# Built once: making a statement costs more than running it.
_ARRIVAL: Final = select(t.arrival).where(t.arrival.c.sensor == bindparam("of_sensor"))
_NEW_ARRIVAL: Final = inserting(t.arrival)
_WRITE_ARRIVAL: Final = _NEW_ARRIVAL.on_conflict_do_update(
    index_elements=["sensor"], set_={c.name: _NEW_ARRIVAL.excluded[c.name] for c in t.arrival.c}
)
_POURS: Final = (
    select(t.pour.c.id)
    .join(t.placement, t.placement.c.bay == t.pour.c.bay)
    .where(
        t.placement.c.sensor == bindparam("of_sensor"),
        t.placement.c.from_ms <= bindparam("newest"),
        or_(t.placement.c.to_ms.is_(None), t.placement.c.to_ms >= bindparam("oldest")),
        or_(t.pour.c.closed_ms.is_(None), t.pour.c.closed_ms >= bindparam("oldest")),
    )
)
_MAKE_DUE: Final = t.pour_state.update().where(t.pour_state.c.pour == bindparam("of_pour")).values(next_due_ms=0)
_DOUBTED: Final = t.pour.update().where(t.pour.c.id == bindparam("of_pour")).values(touched=t.pour.c.touched + 1)
_PLACEMENTS: Final = select(t.placement).order_by(t.placement.c.no)
_NEW_CONFLICT: Final = inserting(t.conflict).on_conflict_do_nothing().returning(t.conflict.c.no)
_AHEAD: Final = select(t.refused.c.taken_ms).where(
    t.refused.c.sensor == bindparam("of_sensor"), t.refused.c.reason == Reason.CLOCK_FUTURE.value
)
_ANY_AHEAD: Final = select(
    _AHEAD.where(t.refused.c.taken_ms.between(bindparam("oldest"), bindparam("newest"))).exists()
)
_THESE_AHEAD: Final = _AHEAD.where(t.refused.c.taken_ms.in_(bindparam("hours", expanding=True)))
_HOURS: Final = 5_000
"""As many as one statement may name, with room to spare (SQLite: 32 766)."""
_NEW_REFUSED: Final = inserting(t.refused).on_conflict_do_nothing()
_SAID: Final = inserting(t.heard)
_WRITE_HEARD: Final = _SAID.on_conflict_do_update(
    index_elements=["logger"],
    # What a logger does not repeat in each message stays as it last said it.
    set_={
        "heard_ms": _SAID.excluded.heard_ms,
        **{
            name: func.coalesce(_SAID.excluded[name], t.heard.c[name])
            for name in ("boot", "sequence", "battery_percent", "signal_db")
        },
    },
    where=t.heard.c.heard_ms <= _SAID.excluded.heard_ms,
)


class SqlIngestBook:
    """The `IngestBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def placements(self) -> Sequence[Placement]:
        with self._database.reading() as connection:
            rows = connection.execute(_PLACEMENTS).mappings()
            return [placement_from(row) for row in rows]

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        with self._database.reading() as connection:
            found = (_arrival(connection, sensor) for sensor in sorted(set(sensors)))
            return {a.sensor: a for a in found if a is not None}

    def refused_ahead(self, keys: Collection[tuple[SensorId, Ms]]) -> Collection[tuple[SensorId, Ms]]:
        hours: dict[SensorId, set[Ms]] = {}
        for sensor, taken_ms in keys:
            hours.setdefault(sensor, set()).add(taken_ms)
        with self._database.reading() as connection:
            return {(sensor, ahead) for sensor, asked in hours.items() for ahead in _ahead(connection, sensor, asked)}

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        with self._database.writing() as connection:
            moved: set[PourId] = set()
            for arrival in arrivals:
                if _note_arrival(connection, arrival):
                    moved |= _pours(connection, arrival.sensor, arrival.oldest_ms, arrival.newest_ms)
            doubted: set[PourId] = set()
            for conflict in conflicts:
                if _note_conflict(connection, conflict):
                    doubted |= _pours(connection, conflict.sensor, conflict.taken_ms, conflict.taken_ms)
            for one in refused:
                _note_refused(connection, one)
            for said in heard:
                _note_heard(connection, said)
            _wake(connection, moved, doubted)


def _ahead(connection: Connection, sensor: SensorId, asked: set[Ms]) -> Iterator[Ms]:
    """Yield those of a sensor's hours that once lay ahead."""
    # Hardly ever any: asked first, for a file brings many thousands.
    if connection.scalar(_ANY_AHEAD, {"of_sensor": sensor, "oldest": min(asked), "newest": max(asked)}):
        left = sorted(asked)
        while left:
            yield from connection.scalars(_THESE_AHEAD, {"of_sensor": sensor, "hours": left[:_HOURS]})
            del left[:_HOURS]


def _arrival(connection: Connection, sensor: SensorId) -> Arrival | None:
    row = connection.execute(_ARRIVAL, {"of_sensor": sensor}).mappings().first()
    return None if row is None else arrival_from(row)


def _note_arrival(connection: Connection, new: NewArrivals) -> bool:
    old = _arrival(connection, new.sensor)
    # A reading newer than all that was noted is news even if the store knew it: its first note was lost in a crash.
    moved = new.changed > 0 or old is None or new.newest_ms > old.newest_ms
    if old is None:
        values = {"revision": 1, "newest_ms": new.newest_ms, "newest_received_ms": new.received_ms, "rewritten": 1}
    else:
        revision = old.revision + int(moved)
        values = {
            "revision": revision,
            "newest_ms": max(old.newest_ms, new.newest_ms),
            "newest_received_ms": max(old.newest_received_ms, new.received_ms),
            "rewritten": revision if moved and new.oldest_ms <= old.newest_ms else old.rewritten,
        }
    connection.execute(_WRITE_ARRIVAL, {"sensor": new.sensor, **values})
    return moved


def _pours(connection: Connection, sensor: SensorId, oldest: Ms, newest: Ms) -> set[PourId]:
    """Return the pours that readings of a sensor from `oldest` to `newest` may belong to."""
    found = connection.scalars(_POURS, {"of_sensor": sensor, "oldest": oldest, "newest": newest})
    return {PourId(pour) for pour in found}


def _note_conflict(connection: Connection, conflict: Conflict) -> bool:
    row = {
        "sensor": conflict.sensor,
        "taken_ms": conflict.taken_ms,
        "kept_milli_c": conflict.kept_milli_c,
        "other_milli_c": conflict.other_milli_c,
        "received_ms": conflict.received_ms,
    }
    return connection.execute(_NEW_CONFLICT, row).first() is not None


def _note_refused(connection: Connection, refused: Refused) -> None:
    digest = digest_of([refused.topic, refused.payload.hex(), refused.reason.value, refused.detail])
    row = {
        "digest": digest,
        "received_ms": refused.received_ms,
        "topic": refused.topic,
        "payload": refused.payload,
        "reason": refused.reason.value,
        "detail": refused.detail,
        "sensor": refused.sensor,
        "taken_ms": refused.taken_ms,
    }
    connection.execute(_NEW_REFUSED, row)


def _note_heard(connection: Connection, heard: Heard) -> None:
    row = {
        "logger": heard.logger,
        "heard_ms": heard.heard_ms,
        "boot": heard.boot,
        "sequence": heard.sequence,
        "battery_percent": heard.battery_percent,
        "signal_db": heard.signal_db,
    }
    connection.execute(_WRITE_HEARD, row)


def _wake(connection: Connection, moved: set[PourId], doubted: set[PourId]) -> None:
    for pour in sorted(moved | doubted):
        connection.execute(_MAKE_DUE, {"of_pour": pour})
    # A conflict may leave every stored value as it was, so no revision tells of it.
    for pour in sorted(doubted):
        connection.execute(_DOUBTED, {"of_pour": pour})
