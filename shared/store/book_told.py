"""The site book as a reader of long lists sees it: a page at a time."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, bindparam, exists, func, or_, select

from shared.models.base import Operation, PourId
from shared.models.decisions import Gate, Hold
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.models.readings import Refusal
from shared.ports.told import Decided, Which
from shared.store import tables as t
from shared.store.book_refused import REFUSALS
from shared.store.database import Database, named_at_once
from shared.store.rows import delivery_from, gate_from, hold_from, message_from, refusal_from

_M: Final = t.message.c
_MESSAGE: Final = select(t.message).where(_M.no == bindparam("of_no"))
_DELIVERIES: Final = (
    select(t.delivery).where(t.delivery.c.message.in_(bindparam("messages", expanding=True))).order_by(t.delivery.c.no)
)
_GATES, _HOLDS = (
    select(of).where(of.c.pour.in_(bindparam("pours", expanding=True))).order_by(of.c.pour, by)
    for of, by in ((t.gate, t.gate.c.operation), (t.hold, t.hold.c.kind))
)
_IN_STATE: Final = select(t.delivery.c.state, func.count()).group_by(t.delivery.c.state)
_STANDING: Final = t.refusal_decided.c.refused.is_(None)
_STAND: Final = (
    select(func.count())
    .select_from(t.refused.outerjoin(t.refusal_decided, t.refusal_decided.c.refused == t.refused.c.no))
    .where(_STANDING)
)
_NEWEST_STANDING: Final = (
    REFUSALS.where(_STANDING).order_by(None).order_by(t.refused.c.no.desc()).limit(bindparam("most"))
)


def _of(which: Which) -> list[ColumnElement[bool]]:
    """Return what a message must be."""
    found = [
        func.json_extract(_M.facts, f"$.{name}") == of for name in ("bay", "floor") if (of := getattr(which, name))
    ]
    if which.kinds:
        found.append(_M.kind.in_(sorted(kind.value for kind in which.kinds)))
    if which.pour:
        found.append(_M.pour == which.pour)
    if which.before:
        found.append(_M.no < which.before)
    if which.pours:
        found.append(_M.pour.in_(sorted(which.pours)))
    if which.from_ms:
        found.append(_M.at_ms >= which.from_ms)
    if which.to_ms:
        found.append(_M.at_ms < which.to_ms)
    return found


def _newest(of: Sequence[ColumnElement[bool]], limit: int) -> Select[Any]:
    return select(t.message).where(*of).order_by(_M.no.desc()).limit(limit)


class SqlToldBook:
    """The `ToldBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def newest_messages(self, which: Which, limit: int) -> Sequence[Message]:
        with self._database.reading() as connection:
            return [message_from(row) for row in connection.execute(_newest(_of(which), limit)).mappings()]

    def next_messages(self, which: Which, after: int, limit: int) -> Sequence[Message]:
        asked = select(t.message).where(*_of(which), _M.no > after).order_by(_M.no).limit(limit)
        with self._database.reading() as connection:
            return [message_from(row) for row in connection.execute(asked).mappings()]

    def count_messages(self, which: Which) -> int:
        with self._database.reading() as connection:
            return connection.scalar(select(func.count()).select_from(t.message).where(*_of(which))) or 0

    def message(self, no: int) -> Message | None:
        with self._database.reading() as connection:
            row = connection.execute(_MESSAGE, {"of_no": no}).mappings().first()
            return None if row is None else message_from(row)

    def deliveries_of(self, messages: Collection[int]) -> Sequence[Delivery]:
        if not messages:
            return []
        with self._database.reading() as connection:
            rows = connection.execute(_DELIVERIES, {"messages": sorted(messages)}).mappings()
            return [delivery_from(row) for row in rows]

    def count_deliveries(self) -> Mapping[DeliveryState, int]:
        with self._database.reading() as connection:
            return {DeliveryState(state): many for state, many in connection.execute(_IN_STATE)}

    def waiting_messages(
        self, which: Which, answered: Collection[MessageKind], failed: Collection[DeliveryState], limit: int
    ) -> Sequence[Message]:
        kinds, states = [kind.value for kind in answered], [state.value for state in failed]
        confirmed = exists().where(t.delivery.c.message == _M.no, t.delivery.c.state == DeliveryState.CONFIRMED.value)
        wants = select(t.delivery.c.message).where(t.delivery.c.state.in_(states))
        waits = or_(
            and_(_M.kind.in_(kinds), ~confirmed),
            and_(_M.kind.not_in(kinds), _M.no.in_(wants)),
        )
        with self._database.reading() as connection:
            return [message_from(row) for row in connection.execute(_newest([*_of(which), waits], limit)).mappings()]

    def decided(self, pours: Collection[PourId]) -> Mapping[PourId, Decided]:
        gates: dict[PourId, dict[Operation, Gate]] = {pour: {} for pour in pours}
        holds: dict[PourId, list[Hold]] = {pour: [] for pour in pours}
        with self._database.reading() as connection:
            for some in named_at_once(pours):
                for gate in map(gate_from, connection.execute(_GATES, {"pours": some}).mappings()):
                    gates[gate.pour][gate.operation] = gate
                for row in connection.execute(_HOLDS, {"pours": some}).mappings():
                    holds[PourId(row["pour"])].append(hold_from(row))
        return {pour: Decided(gates[pour], tuple(holds[pour])) for pour in gates}

    def standing_refusals(self, limit: int) -> tuple[int, Sequence[Refusal]]:
        with self._database.reading() as connection:
            rows = connection.execute(_NEWEST_STANDING, {"most": limit}).mappings()
            return connection.scalar(_STAND) or 0, [refusal_from(row) for row in rows]
