"""What both the rounds and the board read of a pour."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, func, or_, select

from shared.errors import StoreError
from shared.models.base import STRIP, BayId, Operation, PourId
from shared.models.decisions import Gate, GateState, Hold, Placement, Pour, PourState
from shared.models.messages import DeliveryState, MessageKind
from shared.store import tables as t
from shared.store.accepted import Settings
from shared.store.rows import gate_from, hold_from, placement_from, pour_from, state_from


def pour_and_touched(connection: Connection, pour: PourId) -> tuple[Pour, int]:
    """Return the pour with its count of acts. Raises `StoreError` for an unknown one."""
    row = connection.execute(select(t.pour).where(t.pour.c.id == pour)).mappings().first()
    if row is None:
        raise StoreError(f"there is no pour {pour}")
    return pour_from(row), row["touched"]


def gates_of(connection: Connection, pour: PourId) -> dict[Operation, Gate]:
    """Return the gates of a pour."""
    rows = connection.execute(select(t.gate).where(t.gate.c.pour == pour).order_by(t.gate.c.operation)).mappings()
    return {gate.operation: gate for gate in map(gate_from, rows)}


def holds_of(connection: Connection, pour: PourId) -> tuple[Hold, ...]:
    """Return the open holds of a pour."""
    rows = connection.execute(select(t.hold).where(t.hold.c.pour == pour).order_by(t.hold.c.kind)).mappings()
    return tuple(map(hold_from, rows))


def state_of(connection: Connection, pour: PourId) -> PourState:
    """Return what cure keeps of a pour."""
    return state_from(connection.execute(select(t.pour_state).where(t.pour_state.c.pour == pour)).mappings().one())


def placements_of(connection: Connection, pour: Pour) -> tuple[Placement, ...]:
    """Return the placements of the pour's bay that overlap [start, closed)."""
    p = t.placement.c
    query = select(t.placement).where(p.bay == pour.bay, or_(p.to_ms.is_(None), p.to_ms > pour.start_ms))
    if pour.closed_ms is not None:
        query = query.where(p.from_ms < pour.closed_ms)
    return tuple(map(placement_from, connection.execute(query.order_by(p.no)).mappings()))


def input_revision(connection: Connection, placements: Sequence[Placement]) -> int:
    """Return the sum of the sensors' revisions."""
    sensors = sorted({p.sensor for p in placements})
    total = connection.scalar(
        select(func.coalesce(func.sum(t.arrival.c.revision), 0)).where(t.arrival.c.sensor.in_(sensors))
    )
    return int(total or 0)


def stripping_beside(connection: Connection, settings: Settings, bay: BayId) -> tuple[BayId, ...]:
    """Return the neighbouring or lower bays whose open pour has a strip under way."""
    beside = settings.in_force(connection).beside.get(bay, frozenset())
    if not beside:
        return ()
    found = connection.scalars(
        select(t.pour.c.bay)
        .join(t.gate, t.gate.c.pour == t.pour.c.id)
        .where(
            t.pour.c.closed_ms.is_(None),
            t.pour.c.bay.in_(sorted(beside)),
            t.gate.c.operation == STRIP,
            t.gate.c.state == GateState.UNDER_WAY.value,
        )
        .order_by(t.pour.c.bay)
    )
    return tuple(BayId(b) for b in found)


def withdrawal_confirmed(connection: Connection, gate: Gate) -> bool:
    """Return whether a person confirmed the withdrawal of the gate's epoch."""
    found = connection.scalar(
        select(t.delivery.c.no)
        .join(t.message, t.message.c.no == t.delivery.c.message)
        .where(
            t.message.c.pour == gate.pour,
            t.message.c.subject == gate.operation,
            t.message.c.epoch == gate.epoch,
            t.message.c.kind == MessageKind.WITHDRAWAL.value,
            t.delivery.c.state == DeliveryState.CONFIRMED.value,
        )
        .limit(1)
    )
    return found is not None
