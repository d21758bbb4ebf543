"""The site book as alerts sees it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final

from sqlalchemy import Connection, and_, bindparam, exists, or_, select

from shared.errors import StoreError
from shared.models.acts import Act, Confirm, Silence
from shared.models.base import BayId, Ms
from shared.models.decisions import LogEntry
from shared.models.messages import DeliveryState, Message, NewDelivery, NewMessage
from shared.store import chain
from shared.store import tables as t
from shared.store.database import Database, among
from shared.store.deliveries import HAS_COME, SENDABLE, TO_CONFIRM, UNSETTLED, SqlDeliveries, add_deliveries
from shared.store.kept import keep_act
from shared.store.rows import message_from
from shared.store.told import touch, write_message

_D = t.delivery.c
_M = t.message.c
_REPEATING: Final = tuple(s.value for s in (DeliveryState.CALLING, DeliveryState.WAITING, DeliveryState.UNSURE))
_UNTOLD: Final = tuple(
    s.value for s in (DeliveryState.QUEUED, DeliveryState.WAITING, DeliveryState.UNSURE, DeliveryState.CALLING)
)
"""What the engineer's word by phone closes as well."""
_AT_REST: Final = tuple(s.value for s in (DeliveryState.ACCEPTED, DeliveryState.REFUSED, DeliveryState.ESCALATED))
"""What may be sent once more: not what a person has answered, nor what is no longer true."""
_UNROUTED: Final = select(t.message).where(_M.routed == 0).order_by(_M.no).limit(bindparam("most"))
_ANYTHING: Final = select(
    or_(
        exists().where(_M.routed == 0),
        exists().where(among(_D.state, UNSETTLED)),
        exists().where(among(_D.state, SENDABLE), HAS_COME),
        exists().where(
            _D.message == _M.no, among(_M.kind, TO_CONFIRM), _D.state == DeliveryState.ACCEPTED.value, HAS_COME
        ),
    ).label("anything")
)
_IS_ROUTED: Final = select(_M.routed).where(_M.no == bindparam("number"))
_ROUTED: Final = t.message.update().where(_M.no == bindparam("number")).values(routed=1)
_TOLD: Final = or_(_D.state == DeliveryState.ACCEPTED.value, and_(_D.was_accepted == 1, among(_D.state, _REPEATING)))


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
            add_deliveries(connection, message, deliveries)
            connection.execute(_ROUTED, {"number": message})

    @contextmanager
    def deciding(self) -> Iterator[SqlDeliveries]:
        with self._database.writing() as connection:
            yield SqlDeliveries(connection)

    def confirm(self, act: Act, message: int, log: LogEntry) -> int:
        by_phone = isinstance(act, Confirm) and act.told is not None
        answered = or_(_TOLD, _D.state.in_(_UNTOLD)) if by_phone else _TOLD
        with self._database.writing() as connection:
            confirmed = connection.execute(
                t.delivery.update()
                .where(_D.message == message, answered)
                .values(state=DeliveryState.CONFIRMED.value, lease_until_ms=None, lease_token=None)
            ).rowcount
            if confirmed == 0:
                # Nothing was confirmed, so the act was not accepted: it leaves no trace.
                return 0
            _keep(connection, act, log)
            # A withdrawn gate may be opened again only after this: the pour's next case must show it.
            touch(connection, connection.scalars(select(_M.pour).where(_M.no == message)).all())
            return confirmed

    def silence(self, act: Act, bay: BayId | None, until: Ms, log: LogEntry) -> None:
        why = act.why if isinstance(act, Silence) else ""
        row = {"bay": bay, "from_ms": act.at_ms, "until_ms": until, "who": act.who, "why": why}
        with self._database.writing() as connection:
            connection.execute(t.silence.insert(), row)
            _keep(connection, act, log)

    def resend(self, act: Act, message: int, recipient: str | None, log: LogEntry) -> int:
        mine = [_D.message == message, _D.state.in_(_AT_REST)]
        if recipient is not None:
            mine.append(_D.recipient == recipient)
        # When it was called and first accepted stays: who once had a release must still be told of its withdrawal.
        # But only the repeat can be confirmed: a release may come before it, unseen by a row that is queued.
        again = {
            "state": DeliveryState.QUEUED.value,
            "attempt": 0,
            "next_ms": act.at_ms,
            "was_unsure": 1,
            "was_accepted": 0,
        }
        with self._database.writing() as connection:
            queued = connection.execute(t.delivery.update().where(*mine).values(**again)).rowcount
            if queued > 0:
                _keep(connection, act, log)
            return queued

    def test(self, act: Act, message: NewMessage, log: LogEntry) -> int:
        with self._database.writing() as connection:
            number = write_message(connection, message)
            if number is None:
                raise StoreError("a test of this recipient was written in the same moment: try again")
            _keep(connection, act, log)
            return number

    def _is_routed(self, connection: Connection, message: int) -> bool:
        routed = connection.scalar(_IS_ROUTED, {"number": message})
        if routed is None:
            raise StoreError(f"there is no message {message}")
        return bool(routed)


def _keep(connection: Connection, act: Act, log: LogEntry) -> None:
    keep_act(connection, act)
    chain.append(connection, [log])
