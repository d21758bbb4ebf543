"""The site book as ingest sees it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Connection, RowMapping, bindparam, func, or_, select

from shared.models.base import HOUR_MS, LoggerId, Ms, PourId, SensorId
from shared.models.decisions import GateState, Placement
from shared.models.readings import Arrival, Conflict, Heard, Reason, Refused
from shared.ports import NewArrivals
from shared.sequence import Followed
from shared.store import sequences
from shared.store import tables as t
from shared.store.codec import digest_of
from shared.store.database import Database, inserting, named_at_once
from shared.store.rows import arrival_from, placement_from

FRESH_MS: Final = HOUR_MS
"""A buffer of longer tells of hours by which others decided without it."""
# Built once: making a statement costs more than running it.
_ARRIVALS: Final = select(t.arrival).where(t.arrival.c.sensor.in_(bindparam("sensors", expanding=True)))
_NEW_ARRIVAL: Final = inserting(t.arrival)
_WRITE_ARRIVAL: Final = _NEW_ARRIVAL.on_conflict_do_update(
    index_elements=["sensor"], set_={c.name: _NEW_ARRIVAL.excluded[c.name] for c in t.arrival.c}
)
_ARRIVAL_COLUMNS: Final = tuple(c.name for c in t.arrival.c)
_POURS: Final = (
    select(t.placement.c.sensor, t.placement.c.from_ms, t.placement.c.to_ms, t.pour.c.id, t.pour.c.closed_ms)
    .join(t.pour, t.pour.c.bay == t.placement.c.bay)
    .where(
        t.placement.c.sensor.in_(bindparam("sensors", expanding=True)),
        or_(t.pour.c.closed_ms.is_(None), t.pour.c.closed_ms >= bindparam("oldest")),
    )
)
_MAKE_DUE: Final = t.pour_state.update().where(t.pour_state.c.pour == bindparam("of_pour")).values(next_due_ms=0)
_GATES: Final = select(t.gate.c.pour).where(t.gate.c.pour == bindparam("of_pour"))
_MAKE_WAITED_FOR_DUE: Final = _MAKE_DUE.where(
    or_(~_GATES.exists(), _GATES.where(t.gate.c.state != GateState.DONE.value).exists())
)
"""Nobody waits for a pour of which all is done: what only goes on there is looked at an hour apart."""
_DOUBTED: Final = t.pour.update().where(t.pour.c.id == bindparam("of_pour")).values(touched=t.pour.c.touched + 1)
_PLACEMENTS: Final = select(t.placement).order_by(t.placement.c.no)
_PLACED: Final = (
    select(t.placement).where(t.placement.c.sensor.in_(bindparam("sensors", expanding=True))).order_by(t.placement.c.no)
)
_CHANNELS: Final = (*map(str, range(100)), *(f"0{n}" for n in range(10)))
"""All that a sensor may be of its logger: names are asked for, because databases do not order text alike."""
_NEW_CONFLICT: Final = inserting(t.conflict).on_conflict_do_nothing().returning(t.conflict.c.no)
_AHEAD: Final = select(t.refused.c.sensor, t.refused.c.taken_ms).where(
    t.refused.c.sensor.in_(bindparam("sensors", expanding=True)),
    t.refused.c.taken_ms.between(bindparam("oldest"), bindparam("newest")),
    t.refused.c.reason == Reason.CLOCK_FUTURE.value,
)
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
            return [placement_from(row) for row in connection.execute(_PLACEMENTS).mappings()]

    def placed(self, sensors: Collection[SensorId]) -> Sequence[Placement]:
        with self._database.reading() as connection:
            return [placement_from(row) for row in _placed(connection, sensors)]

    def placed_loggers(self, loggers: Collection[LoggerId]) -> Collection[LoggerId]:
        names = [f"{logger}.{channel}" for logger in loggers for channel in _CHANNELS]
        with self._database.reading() as connection:
            return {LoggerId(row["sensor"].partition(".")[0]) for row in _placed(connection, names)}

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        with self._database.reading() as connection:
            return _arrivals(connection, sensors)

    def refused_ahead(self, keys: Collection[tuple[SensorId, Ms]]) -> Collection[tuple[SensorId, Ms]]:
        if not keys:
            return set()
        hours = [taken_ms for _, taken_ms in keys]
        span = {"oldest": min(hours), "newest": max(hours)}
        with self._database.reading() as connection:
            found = {
                (SensorId(sensor), taken_ms)
                for some in named_at_once({sensor for sensor, _ in keys})
                for sensor, taken_ms in connection.execute(_AHEAD, {"sensors": some, **span})
            }
        return found.intersection(keys)

    def followed(self, loggers: Collection[LoggerId]) -> Mapping[LoggerId, Followed]:
        with self._database.reading() as connection:
            return sequences.of(connection, loggers)

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        with self._database.writing() as connection:
            late, going_on = _noted(connection, arrivals)
            new = [c for c in conflicts if _note_conflict(connection, c)]
            doubted = _pours(connection, [(c.sensor, c.taken_ms, c.taken_ms) for c in new])
            for one in refused:
                _note_refused(connection, one)
            for said in heard:
                _note_heard(connection, said)
            sequences.note(connection, heard)
            _wake(connection, _of(connection, late), _of(connection, going_on), doubted)


def _placed(connection: Connection, sensors: Iterable[str]) -> Iterator[RowMapping]:
    for some in named_at_once(sensors):
        yield from connection.execute(_PLACED, {"sensors": some}).mappings()


def _arrivals(connection: Connection, sensors: Iterable[SensorId]) -> dict[SensorId, Arrival]:
    return {
        arrival.sensor: arrival
        for some in named_at_once(sensors)
        for arrival in map(arrival_from, connection.execute(_ARRIVALS, {"sensors": some}).mappings())
    }


def _noted(connection: Connection, arrivals: Sequence[NewArrivals]) -> tuple[list[NewArrivals], list[NewArrivals]]:
    """Write down what came of each sensor, in a few statements for all of them; return what is news, in two parts:
    what comes late or for the first time, and what only goes on.
    """
    known = _arrivals(connection, (new.sensor for new in arrivals))
    late, going_on = list[NewArrivals](), list[NewArrivals]()
    for new in arrivals:
        old = known.get(new.sensor)
        known[new.sensor], moved = _grown(old, new)
        if moved:
            (going_on if _goes_on(old, new) else late).append(new)
    if known:
        connection.execute(_WRITE_ARRIVAL, [_arrival_row(known[sensor]) for sensor in sorted(known)])
    return late, going_on


def _arrival_row(arrival: Arrival) -> dict[str, Any]:
    # Not `asdict`, which copies each value deeply: a tenth of what a small batch costs.
    return {name: getattr(arrival, name) for name in _ARRIVAL_COLUMNS}


def _goes_on(old: Arrival | None, new: NewArrivals) -> bool:
    """Return whether what came is fresh, and says nothing of hours of which the sensor was heard before."""
    return old is not None and new.oldest_ms > old.newest_ms and new.received_ms - new.oldest_ms <= FRESH_MS


def _grown(old: Arrival | None, new: NewArrivals) -> tuple[Arrival, bool]:
    """Return what has come of a sensor by now, and whether that is news."""
    if old is None:
        return Arrival(new.sensor, 1, new.newest_ms, new.received_ms, 1), True
    # A reading newer than all that was noted is news even if the store knew it: its first note was lost in a crash.
    moved = new.changed > 0 or new.newest_ms > old.newest_ms
    revision = old.revision + int(moved)
    grown = Arrival(
        new.sensor,
        revision,
        max(old.newest_ms, new.newest_ms),
        max(old.newest_received_ms, new.received_ms),
        revision if moved and new.oldest_ms <= old.newest_ms else old.rewritten,
    )
    return grown, moved


def _of(connection: Connection, news: Sequence[NewArrivals]) -> set[PourId]:
    return _pours(connection, [(new.sensor, new.oldest_ms, new.newest_ms) for new in news])


def _pours(connection: Connection, spans: Sequence[tuple[SensorId, Ms, Ms]]) -> set[PourId]:
    """Return the pours that readings of these sensors, each from the one hour to the other, may belong to."""
    if not spans:
        return set()
    asked: dict[SensorId, list[tuple[Ms, Ms]]] = {}
    for sensor, *span in spans:
        asked.setdefault(sensor, []).append((span[0], span[1]))
    oldest = min(begin for _, begin, _ in spans)
    return {
        PourId(row.id)
        for some in named_at_once(asked)
        for row in connection.execute(_POURS, {"sensors": some, "oldest": oldest})
        for begin, end in asked[SensorId(row.sensor)]
        if row.from_ms <= end
        and (row.to_ms is None or row.to_ms >= begin)
        and (row.closed_ms is None or row.closed_ms >= begin)
    }


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


def _wake(connection: Connection, late: set[PourId], going_on: set[PourId], doubted: set[PourId]) -> None:
    # What was done may show itself as done too early: nothing late waits.
    at_once = late | doubted
    for pour in sorted(at_once | going_on):
        connection.execute(_MAKE_DUE if pour in at_once else _MAKE_WAITED_FOR_DUE, {"of_pour": pour})
    # A conflict may leave every stored value as it was, so no revision tells of it.
    for pour in sorted(doubted):
        connection.execute(_DOUBTED, {"of_pour": pour})
