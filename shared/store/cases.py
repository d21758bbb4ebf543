"""What both the rounds and the board read of a pour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlalchemy import BigInteger, BindParameter, Connection, bindparam, func, or_, select

from shared.errors import StoreError
from shared.models.base import STRIP, BayId, Operation, PourId
from shared.models.decisions import Gate, GateState, Hold, Placement, Pour, PourState
from shared.models.messages import DeliveryState, MessageKind
from shared.store import tables as t
from shared.store.accepted import Settings
from shared.store.rows import gate_from, hold_from, placement_from, pour_from, state_from

# Built once: making a statement costs more than running it.
_OF_POUR: Final[BindParameter[str]] = bindparam("of_pour")
_POUR: Final = select(t.pour).where(t.pour.c.id == _OF_POUR)
_GATES: Final = select(t.gate).where(t.gate.c.pour == _OF_POUR).order_by(t.gate.c.operation)
_HOLDS: Final = select(t.hold).where(t.hold.c.pour == _OF_POUR).order_by(t.hold.c.kind)
_STATE: Final = select(t.pour_state).where(t.pour_state.c.pour == _OF_POUR)
_PLACEMENTS: Final = (
    select(t.placement)
    .where(
        t.placement.c.bay == bindparam("in_bay"),
        or_(t.placement.c.to_ms.is_(None), t.placement.c.to_ms > bindparam("start_ms")),
        or_(bindparam("closed_ms", type_=BigInteger).is_(None), t.placement.c.from_ms < bindparam("closed_ms")),
    )
    .order_by(t.placement.c.no)
)
_REVISION: Final = select(func.coalesce(func.sum(t.arrival.c.revision), 0)).where(
    t.arrival.c.sensor.in_(bindparam("sensors", expanding=True))
)
_STRIPPING: Final = (
    select(t.pour.c.bay)
    .join(t.gate, t.gate.c.pour == t.pour.c.id)
    .where(
        t.pour.c.closed_ms.is_(None),
        t.pour.c.bay.in_(bindparam("bays", expanding=True)),
        t.gate.c.operation == STRIP,
        t.gate.c.state == GateState.UNDER_WAY.value,
    )
    .order_by(t.pour.c.bay)
)


def pour_and_touched(connection: Connection, pour: PourId) -> tuple[Pour, int]:
    """Return the pour with its count of acts. Raises `StoreError` for an unknown one."""
    row = connection.execute(_POUR, {"of_pour": pour}).mappings().first()
    if row is None:
        raise StoreError(f"there is no pour {pour}")
    return pour_from(row), row["touched"]


def gates_of(connection: Connection, pour: PourId) -> dict[Operation, Gate]:
    """Return the gates of a pour."""
    rows = connection.execute(_GATES, {"of_pour": pour}).mappings()
    return {gate.operation: gate for gate in map(gate_from, rows)}


def holds_of(connection: Connection, pour: PourId) -> tuple[Hold, ...]:
    """Return the open holds of a pour."""
    rows = connection.execute(_HOLDS, {"of_pour": pour}).mappings()
    return tuple(map(hold_from, rows))


def state_of(connection: Connection, pour: PourId) -> PourState:
    """Return what cure keeps of a pour."""
    return state_from(connection.execute(_STATE, {"of_pour": pour}).mappings().one())


def placements_of(connection: Connection, pour: Pour) -> tuple[Placement, ...]:
    """Return the placements of the pour's bay that overlap [start, closed)."""
    values = {"in_bay": pour.bay, "start_ms": pour.start_ms, "closed_ms": pour.closed_ms}
    return tuple(map(placement_from, connection.execute(_PLACEMENTS, values).mappings()))


def input_revision(connection: Connection, placements: Sequence[Placement]) -> int:
    """Return the sum of the sensors' revisions."""
    sensors = sorted({p.sensor for p in placements})
    return int(connection.scalar(_REVISION, {"sensors": sensors}) or 0)


def stripping_beside(connection: Connection, settings: Settings, bay: BayId) -> tuple[BayId, ...]:
    """Return the neighbouring or lower bays whose open pour has a strip under way."""
    beside = settings.in_force(connection).beside.get(bay, frozenset())
    if not beside:
        return ()
    found = connection.scalars(_STRIPPING, {"bays": sorted(beside)})
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
