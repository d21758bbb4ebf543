"""What both the rounds and the board read of a pour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from typing import Any, Final

from sqlalchemy import BindParameter, Connection, Row, RowMapping, Select, and_, bindparam, exists, func, or_, select

from shared.errors import StoreError
from shared.models.base import STRIP, BayId, Operation, PourId, SensorId
from shared.models.decisions import Beside, Gate, GateState, Hold, Placement, Pour, PourState
from shared.models.messages import DeliveryState, MessageKind
from shared.models.readings import Arrival
from shared.store import tables as t
from shared.store.accepted import NEWEST, Accepted
from shared.store.rows import arrival_from, gate_from, hold_from, placement_from, pour_from, state_from
from shared.store.rows_site import beside_from


@dataclass(frozen=True, slots=True)
class Head:
    """A pour, what cure keeps of it, and the counts that tell whether anything about it has moved."""

    pour: Pour
    touched: int
    state: PourState
    setting: int | None
    """Newest version of the set-up; None: there is none."""
    revision: int
    """Sum of the revisions of its sensors."""


# Built once, and few: making a statement costs more than running it, and running several more than running one.
PLACED: Final = and_(
    t.placement.c.bay == t.pour.c.bay,
    or_(t.placement.c.to_ms.is_(None), t.placement.c.to_ms > t.pour.c.start_ms),
    or_(t.pour.c.closed_ms.is_(None), t.placement.c.from_ms < t.pour.c.closed_ms),
)
"""A placement in the pour's bay that overlaps [start, closed)."""


def _heads() -> Select[Any]:
    sensors = select(t.placement.c.sensor).where(PLACED).correlate(t.pour)
    revision = select(func.coalesce(func.sum(t.arrival.c.revision), 0)).where(t.arrival.c.sensor.in_(sensors))
    return select(
        t.pour,
        *(column for column in t.pour_state.c if column.name != "pour"),
        NEWEST.scalar_subquery().label("setting"),
        revision.correlate(t.pour).scalar_subquery().label("revision"),
    ).join(t.pour_state, t.pour_state.c.pour == t.pour.c.id)


_OF_POUR: Final[BindParameter[str]] = bindparam("of_pour")
_HEAD: Final = _heads().where(t.pour.c.id == _OF_POUR)
_OPEN: Final = _heads().where(t.pour.c.closed_ms.is_(None)).order_by(t.pour.c.bay, t.pour.c.id)
_GATES: Final = select(t.gate).where(t.gate.c.pour == _OF_POUR).order_by(t.gate.c.operation)
_HOLDS: Final = select(t.hold).where(t.hold.c.pour == _OF_POUR).order_by(t.hold.c.kind)
_IS_OPEN: Final = t.pour.c.closed_ms.is_(None)
_OPEN_GATES, _OPEN_HOLDS = (
    select(of).join(t.pour, t.pour.c.id == of.c.pour).where(_IS_OPEN).order_by(of.c.pour, by)
    for of, by in ((t.gate, t.gate.c.operation), (t.hold, t.hold.c.kind))
)
_PLACEMENTS: Final = (
    select(t.placement, *(column for column in t.arrival.c if column.name != "sensor"))
    .join(t.pour, PLACED)
    .outerjoin(t.arrival, t.arrival.c.sensor == t.placement.c.sensor)
    .where(t.pour.c.id == _OF_POUR)
    .order_by(t.placement.c.no)
)
_NEAR: Final = (
    select(t.pour.c.id, t.pour.c.bay, t.pour.c.start_ms, t.pour.c.end_ms, t.gate.c.state.label("strip"))
    .outerjoin(t.gate, and_(t.gate.c.pour == t.pour.c.id, t.gate.c.operation == STRIP))
    .where(t.pour.c.closed_ms.is_(None), t.pour.c.bay.in_(bindparam("bays", expanding=True)))
    .order_by(t.pour.c.bay)
)
_CONFIRMED: Final = select(
    exists()
    .where(
        t.message.c.no == t.delivery.c.message,
        t.message.c.pour == _OF_POUR,
        t.message.c.subject == bindparam("of_operation"),
        t.message.c.epoch == bindparam("of_epoch"),
        t.message.c.kind == MessageKind.WITHDRAWAL.value,
        t.delivery.c.state == DeliveryState.CONFIRMED.value,
    )
    .label("confirmed")
)


@dataclass(frozen=True, slots=True)
class OpenRows:
    """Rows of open pours: heads by bay, gates and holds by pour."""

    heads: Sequence[Row[Any]]
    gates: Mapping[str, tuple[Row[Any], ...]]
    holds: Mapping[str, tuple[Row[Any], ...]]


def named(row: Row[Any]) -> RowMapping:
    """Return a row by the names of its columns."""
    return row._mapping  # noqa: SLF001 - public, in spite of its name


def head_from(row: RowMapping) -> Head:
    """Return the head of a row."""
    return Head(pour_from(row), row["touched"], state_from(row), row["setting"], int(row["revision"]))


def head_of(connection: Connection, pour: PourId) -> Head:
    """Return the head of a pour. Raises `StoreError` for an unknown one."""
    row = connection.execute(_HEAD, {"of_pour": pour}).mappings().first()
    if row is None:
        raise StoreError(f"there is no pour {pour}")
    return head_from(row)


def gates_of(connection: Connection, pour: PourId) -> dict[Operation, Gate]:
    """Return the gates of a pour."""
    rows = connection.execute(_GATES, {"of_pour": pour}).mappings()
    return {gate.operation: gate for gate in map(gate_from, rows)}


def holds_of(connection: Connection, pour: PourId) -> tuple[Hold, ...]:
    """Return the open holds of a pour."""
    rows = connection.execute(_HOLDS, {"of_pour": pour}).mappings()
    return tuple(map(hold_from, rows))


def open_rows(connection: Connection) -> OpenRows:
    """Return the rows of every open pour as they lie there: of all in three questions, however many there are."""
    gates, holds = (
        {pour: tuple(rows) for pour, rows in groupby(connection.execute(asked).all(), key=attrgetter("pour"))}
        for asked in (_OPEN_GATES, _OPEN_HOLDS)
    )
    return OpenRows(connection.execute(_OPEN).all(), gates, holds)


def placements_of(connection: Connection, pour: PourId) -> tuple[tuple[Placement, ...], dict[SensorId, Arrival]]:
    """Return the placements in the pour's bay while it was there, and what has arrived of their sensors."""
    rows: Sequence[RowMapping] = connection.execute(_PLACEMENTS, {"of_pour": pour}).mappings().all()
    arrivals = [arrival_from(row) for row in rows if row["revision"] is not None]
    return tuple(map(placement_from, rows)), {a.sensor: a for a in arrivals}


@dataclass(frozen=True, slots=True)
class Near:
    """What goes on in the bays round one."""

    beside: tuple[Beside, ...] = ()
    """Open pours that share a joist or joint with it."""
    stripping: tuple[BayId, ...] = ()
    """Neighbouring or lower bays whose open pour has a strip under way."""


def near(connection: Connection, accepted: Accepted, bay: BayId) -> Near:
    """Return what goes on round a bay."""
    bays, against = accepted.beside.get(bay, frozenset()), accepted.against.get(bay, frozenset())
    if not bays:
        return Near()
    rows = connection.execute(_NEAR, {"bays": sorted(bays)}).mappings().all()
    return Near(
        tuple(beside_from(row) for row in rows if row["bay"] in against),
        tuple(BayId(row["bay"]) for row in rows if row["strip"] == GateState.UNDER_WAY.value),
    )


def withdrawal_confirmed(connection: Connection, gate: Gate) -> bool:
    """Return whether a person confirmed the withdrawal of the gate's epoch."""
    of = {"of_pour": gate.pour, "of_operation": gate.operation, "of_epoch": gate.epoch}
    return bool(connection.scalar(_CONFIRMED, of))
