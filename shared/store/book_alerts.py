"""The site book as alerts sees it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final

from sqlalchemy import Connection, RowMapping, Select, and_, bindparam, case, exists, or_, select

from shared.errors import StoreError
from shared.models.acts import Act
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.messages import (
    URGENT,
    Delivery,
    DeliveryState,
    Due,
    Message,
    MessageKind,
    NewDelivery,
)
from shared.store import chain
from shared.store import tables as t
from shared.store.book_cure import keep_act
from shared.store.database import Database, inserting
from shared.store.rows import delivery_from, delivery_to, gate_from, message_from

_D = t.delivery.c
_M = t.message.c
_URGENT_FIRST = case((_M.kind.in_(sorted(kind.value for kind in URGENT)), 0), else_=1)
_TO_CONFIRM = (MessageKind.WITHDRAWAL.value, MessageKind.KEEP_OFF.value)

_SENDABLE: Final = (DeliveryState.QUEUED.value, DeliveryState.WAITING.value)
_HAS_COME: Final = _D.next_ms <= bindparam("now")
_UNSETTLED: Final = (DeliveryState.CALLING.value, DeliveryState.UNSURE.value)
_REPEATING: Final = tuple(s.value for s in (DeliveryState.CALLING, DeliveryState.WAITING, DeliveryState.UNSURE))
_TOLD: Final = or_(_D.state == DeliveryState.ACCEPTED.value, and_(_D.was_accepted == 1, _D.state.in_(_REPEATING)))
"""Accepted, or accepted before and being repeated: what a person may confirm."""


_PARTS: Final = {"delivery": t.delivery, "message": t.message, "gate": t.gate}
_LABELS: Final = {part: {c.name: f"{part}_{c.name}" for c in table.c} for part, table in _PARTS.items()}
"""What a column of a part is called in a joined row."""


def _part(row: RowMapping, part: str) -> Any:
    return {name: row[label] for name, label in _LABELS[part].items()}


def _due_query() -> Select[Any]:
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
        )
        .select_from(t.delivery)
        .join(t.message, _M.no == _D.message)
        .outerjoin(t.gate, and_(t.gate.c.pour == _M.pour, t.gate.c.operation == _M.subject))
    )


def _due_from(row: RowMapping) -> Due:
    return Due(
        delivery=delivery_from(_part(row, "delivery")),
        message=message_from(_part(row, "message")),
        gate=None if row["gate_pour"] is None else gate_from(_part(row, "gate")),
        busy=bool(row["busy"]),
    )


# Built once: making a statement costs more than running it.
_ROWS: Final = _due_query()
_DUE: Final = (
    _ROWS.where(_D.state.in_(_SENDABLE), _HAS_COME).order_by(_URGENT_FIRST, _M.no, _D.no).limit(bindparam("most"))
)
_IN_STATE: Final = _ROWS.where(_D.state == bindparam("in_state")).order_by(_D.no)
_UNCONFIRMED: Final = _ROWS.where(_D.state == DeliveryState.ACCEPTED.value, _M.kind.in_(_TO_CONFIRM)).order_by(_D.no)
_ONE: Final = _ROWS.where(_D.no == bindparam("number"))
_WITHDRAWALS: Final = _ROWS.where(
    _M.kind == MessageKind.WITHDRAWAL.value,
    _M.pour == bindparam("of_pour"),
    _M.subject == bindparam("of_subject"),
    _D.recipient == bindparam("to_recipient"),
    _D.channel == bindparam("by_channel"),
).order_by(_D.no)
_WRITE: Final = t.delivery.update().where(_D.no == bindparam("number"))
_UNROUTED: Final = select(t.message).where(_M.routed == 0).order_by(_M.no).limit(bindparam("most"))
_ANYTHING: Final = select(
    or_(
        exists().where(_M.routed == 0),
        exists().where(_D.state.in_(_UNSETTLED)),
        exists().where(_D.state.in_(_SENDABLE), _HAS_COME),
        exists().where(
            _D.message == _M.no, _M.kind.in_(_TO_CONFIRM), _D.state == DeliveryState.ACCEPTED.value, _HAS_COME
        ),
    ).label("anything")
)
_IS_ROUTED: Final = select(_M.routed).where(_M.no == bindparam("number"))
_ROUTED: Final = t.message.update().where(_M.no == bindparam("number")).values(routed=1)
_NEW: Final = inserting(t.delivery).on_conflict_do_nothing()


class SqlDeliveries:
    """The `DeliveryTransaction` port: lives inside one write transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

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

    def write(self, delivery: Delivery, log: LogEntry | None = None) -> None:
        written = self._connection.execute(_WRITE, {"number": delivery.no, **delivery_to(delivery)})
        if written.rowcount != 1:
            raise StoreError(f"there is no delivery {delivery.no}")
        if log is not None:
            chain.append(self._connection, [log])

    def _found(self, query: Select[Any], **values: Any) -> list[Due]:
        return [_due_from(row) for row in self._connection.execute(query, values).mappings()]


class SqlAlertsBook:
    """The `AlertsBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def anything_due(self, now: Ms) -> bool:
        with self._database.reading() as connection:
            return bool(connection.scalar(_ANYTHING, {"now": now}))

    def unrouted(self, limit: int) -> Sequence[Message]:
        with self._database.reading() as connection:
            rows = connection.execute(_UNROUTED, {"most": limit}).mappings()
            return [message_from(row) for row in rows]

    def told(self, message: Message) -> Sequence[tuple[str, int]]:
        # Called at least once, whatever came of it: an attempt that failed for us may have arrived for them.
        called = or_(_D.called_ms.is_not(None), _D.attempt > 0, _D.state == DeliveryState.CALLING.value)
        query = select(_D.recipient, _D.channel).join(t.message, _M.no == _D.message).where(called)
        query = query.where(_M.pour == message.pour)
        if message.subject:
            query = query.where(_M.subject == message.subject)
        with self._database.reading() as connection:
            rows = connection.execute(query.distinct().order_by(_D.recipient, _D.channel))
            return [(recipient, channel) for recipient, channel in rows]

    def route(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        with self._database.writing() as connection:
            if self._is_routed(connection, message):
                return
            for new in deliveries:
                row = Delivery(0, message, new.recipient, new.channel, next_ms=new.next_ms)
                connection.execute(_NEW, delivery_to(row))
            connection.execute(_ROUTED, {"number": message})

    @contextmanager
    def deciding(self) -> Iterator[SqlDeliveries]:
        with self._database.writing() as connection:
            yield SqlDeliveries(connection)

    def confirm(self, act: Act, message: int, log: LogEntry) -> int:
        with self._database.writing() as connection:
            confirmed = connection.execute(
                t.delivery.update()
                .where(_D.message == message, _TOLD)
                .values(state=DeliveryState.CONFIRMED.value, lease_until_ms=None, lease_token=None)
            ).rowcount
            if confirmed == 0:
                # Nothing was confirmed, so the act was not accepted: it leaves no trace.
                return 0
            keep_act(connection, act)
            chain.append(connection, [log])
            # A withdrawn gate may be opened again only after this: the pour's next case must show it.
            pour = select(_M.pour).where(_M.no == message).scalar_subquery()
            connection.execute(t.pour.update().where(t.pour.c.id == pour).values(touched=t.pour.c.touched + 1))
            connection.execute(t.pour_state.update().where(t.pour_state.c.pour == pour).values(next_due_ms=0))
            return confirmed

    def _is_routed(self, connection: Connection, message: int) -> bool:
        routed = connection.scalar(_IS_ROUTED, {"number": message})
        if routed is None:
            raise StoreError(f"there is no message {message}")
        return bool(routed)
