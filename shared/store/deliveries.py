"""Deliveries as rows: the transaction in which a dispatcher decides."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, and_, bindparam, case, exists, false, or_, select

from shared.errors import StoreError
from shared.models.base import Json, Ms
from shared.models.decisions import GateState, HoldKind, LogEntry
from shared.models.messages import URGENT, Delivery, DeliveryState, Due, MessageKind, NewDelivery, NewMessage
from shared.store import chain
from shared.store import tables as t
from shared.store.codec import parsed
from shared.store.database import among, inserting
from shared.store.rows import delivery_from, delivery_to, gate_from, message_from
from shared.store.starts import IS_VOID
from shared.store.told import write_message

_D = t.delivery.c
_M = t.message.c
_URGENT_FIRST = case((among(_M.kind, sorted(kind.value for kind in URGENT)), 0), else_=1)
TO_CONFIRM = (MessageKind.WITHDRAWAL.value, MessageKind.KEEP_OFF.value)

SENDABLE: Final = (DeliveryState.QUEUED.value, DeliveryState.WAITING.value)
HAS_COME: Final = _D.next_ms <= bindparam("now")
UNSETTLED: Final = (DeliveryState.CALLING.value, DeliveryState.UNSURE.value)


_PARTS: Final = {"delivery": t.delivery, "message": t.message, "gate": t.gate}
_LABELS: Final = {part: {c.name: f"{part}_{c.name}" for c in table.c} for part, table in _PARTS.items()}
"""What a column of a part is called in a joined row."""


def _part(row: RowMapping, part: str) -> Any:
    return {name: row[label] for name, label in _LABELS[part].items()}


def _of_pour_shut() -> ColumnElement[bool]:
    gate = t.gate.alias()
    return or_(
        exists().where(gate.c.pour == _M.pour, gate.c.state == GateState.WITHDRAWN.value),
        exists().where(
            t.hold.c.pour == _M.pour,
            among(t.hold.c.kind, (HoldKind.FREEZE_SUSPECTED.value, HoldKind.FREEZE_LOCKED.value)),
        ),
        exists().where(t.pour.c.id == _M.pour, t.pour.c.closed_ms.is_not(None), IS_VOID),
    )


_GATE: Final = t.gate.c
_KEEP_OFFS: Final = (
    select(_M.facts)
    .join(t.gate, and_(_GATE.pour == _M.pour, _GATE.operation == _M.subject, _GATE.epoch == _M.epoch))
    .where(
        _M.kind == MessageKind.KEEP_OFF.value,
        or_(
            _GATE.state == GateState.UNDER_WAY.value,
            and_(_GATE.state == GateState.SUSPENDED.value, _GATE.before == GateState.UNDER_WAY.value),
        ),
    )
)


# Correlated by name: two levels up it would be any message, so that a silence of one bay would cover every bay.
_BAY: Final = select(t.pour.c.bay).where(t.pour.c.id == _M.pour).correlate(t.message).scalar_subquery()
_SILENCED: Final = exists().where(
    t.silence.c.from_ms <= bindparam("now"),
    t.silence.c.until_ms > bindparam("now"),
    or_(t.silence.c.bay.is_(None), t.silence.c.bay == _BAY),
)


def _due_query(silenced: ColumnElement[bool]) -> Select[Any]:
    other = t.delivery.alias()
    busy = exists().where(
        other.c.no != _D.no,
        other.c.recipient == _D.recipient,
        other.c.channel == _D.channel,
        other.c.state == DeliveryState.CALLING.value,
    )
    return (
        select(
            *(table.c[name].label(label) for part, table in _PARTS.items() for name, label in _LABELS[part].items()),
            busy.label("busy"),
            silenced.label("silenced"),
            _of_pour_shut().label("inhibited"),
        )
        .select_from(t.delivery)
        .join(t.message, _M.no == _D.message)
        .outerjoin(t.gate, and_(t.gate.c.pour == _M.pour, t.gate.c.operation == _M.subject))
    )


def _due_from(row: RowMapping, kept_off: Collection[Json]) -> Due:
    message = message_from(_part(row, "message"))
    return Due(
        delivery=delivery_from(_part(row, "delivery")),
        message=message,
        gate=None if row["gate_pour"] is None else gate_from(_part(row, "gate")),
        busy=bool(row["busy"]),
        silenced=bool(row["silenced"]),
        inhibited=bool(row["inhibited"]),
        kept_off=message.facts.get("bay") in kept_off,
    )


# Built once: making a statement costs more than running it.
_ROWS: Final = _due_query(false())
_DUE: Final = (
    _due_query(_SILENCED)
    .where(among(_D.state, SENDABLE), HAS_COME)
    .order_by(_URGENT_FIRST, _M.no, _D.no)
    .limit(bindparam("most"))
)
_IN_STATE: Final = _ROWS.where(_D.state == bindparam("in_state")).order_by(_D.no)
_UNCONFIRMED: Final = _ROWS.where(_D.state == DeliveryState.ACCEPTED.value, among(_M.kind, TO_CONFIRM)).order_by(_D.no)
_ONE: Final = _ROWS.where(_D.no == bindparam("number"))
_WITHDRAWALS: Final = _ROWS.where(
    _M.kind == MessageKind.WITHDRAWAL.value,
    _M.pour == bindparam("of_pour"),
    _M.subject == bindparam("of_subject"),
    _D.recipient == bindparam("to_recipient"),
    _D.channel == bindparam("by_channel"),
).order_by(_D.no)
_OF_MESSAGE: Final = _ROWS.where(_M.no == bindparam("number")).order_by(_D.no)
_WRITE: Final = t.delivery.update().where(_D.no == bindparam("number"))
_NEW: Final = inserting(t.delivery).on_conflict_do_nothing()


def add_deliveries(connection: Connection, message: int, deliveries: Sequence[NewDelivery]) -> None:
    """Write deliveries of a message; those that are there stay as they are."""
    for new in deliveries:
        row = Delivery(0, message, new.recipient, new.channel, next_ms=new.next_ms)
        connection.execute(_NEW, delivery_to(row))


class SqlDeliveries:
    """The `DeliveryTransaction` port: lives inside one write transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._kept_off: list[Json] | None = None
        """The bays kept off, as this transaction has looked them up; its own steps change no gate."""

    def due(self, now: Ms, limit: int) -> Sequence[Due]:
        return self._found(_DUE, now=now, most=limit)

    def calling(self) -> Sequence[Due]:
        return self._found(_IN_STATE, in_state=DeliveryState.CALLING.value)

    def unsure(self) -> Sequence[Due]:
        return self._found(_IN_STATE, in_state=DeliveryState.UNSURE.value)

    def accepted_unconfirmed(self) -> Sequence[Due]:
        return self._found(_UNCONFIRMED)

    def one(self, delivery: int) -> Due:
        found = self._found(_ONE, number=delivery)
        if not found:
            raise StoreError(f"there is no delivery {delivery}")
        return found[0]

    def withdrawals(self, due: Due) -> Sequence[Due]:
        return self._found(
            _WITHDRAWALS,
            of_pour=due.message.pour,
            of_subject=due.message.subject,
            to_recipient=due.delivery.recipient,
            by_channel=due.delivery.channel,
        )

    def add(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        add_deliveries(self._connection, message, deliveries)

    def rows_of(self, message: int) -> Sequence[Due]:
        return self._found(_OF_MESSAGE, number=message)

    def tell(self, message: NewMessage) -> int | None:
        self._kept_off = None
        return write_message(self._connection, message)

    def write(self, delivery: Delivery, log: LogEntry | None = None) -> None:
        written = self._connection.execute(_WRITE, {"number": delivery.no, **delivery_to(delivery)})
        if written.rowcount != 1:
            raise StoreError(f"there is no delivery {delivery.no}")
        if log is not None:
            chain.append(self._connection, [log])

    def _found(self, query: Select[Any], **values: Any) -> list[Due]:
        rows = self._connection.execute(query, values).mappings().all()
        return [_due_from(row, self._bays_kept_off()) for row in rows]

    def _bays_kept_off(self) -> list[Json]:
        """Return the bays that a keep-off names whose strip is under way."""
        if self._kept_off is None:
            self._kept_off = self._look_up_kept_off()
        return self._kept_off

    def _look_up_kept_off(self) -> list[Json]:
        return [bay for facts in self._connection.scalars(_KEEP_OFFS) for bay in parsed(facts).get("bays", ())]
