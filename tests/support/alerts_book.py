"""The `AlertsBook` port over dictionaries: each transaction is whole or leaves nothing, and may die at any arrow."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field, fields, replace
from threading import RLock

from shared.models.acts import Act, Confirm
from shared.models.base import BayId, Json, Ms
from shared.models.decisions import Gate, GateState, LogEntry
from shared.models.messages import URGENT, Delivery, DeliveryState, Due, Message, MessageKind, NewDelivery, NewMessage


class DiedError(BaseException):
    """The process dies here; no `except Exception` may catch it."""


@dataclass
class Rows:
    """What is durable."""

    messages: dict[int, Message] = field(default_factory=dict)
    gates: dict[tuple[str, str], Gate] = field(default_factory=dict)
    deliveries: dict[int, Delivery] = field(default_factory=dict)
    routed: set[int] = field(default_factory=set)
    log: list[LogEntry] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)
    silences: list[tuple[BayId | None, Ms, Ms]] = field(default_factory=list)
    """Bay, or None for the site; from; until."""
    frozen: set[str] = field(default_factory=set)
    """Pours with a freeze hold."""
    own_from: int = 1000
    """What alerts itself writes is numbered above this, apart from the messages of a test."""

    def copied(self) -> Rows:
        """Return a copy that shares nothing that changes."""
        return Rows(*(copy(getattr(self, name)) for name in self.__dataclass_fields__))


def never(_where: str) -> None:
    """Nothing dies."""


class MemoryBook:
    """The `AlertsBook` port over dictionaries: a transaction that raises leaves nothing behind."""

    def __init__(self) -> None:
        self.rows = Rows()
        self.at: Callable[[str], None] = never
        """Called at each arrow, by name; raising `DiedError` there is a crash."""
        self._lock = RLock()

    @contextmanager
    def _transaction(self, name: str) -> Iterator[Rows]:
        with self._lock:
            rows = self.rows.copied()
            yield rows
            self.at(f"{name}: before commit")
            self.rows = rows
            self.at(f"{name}: after commit")

    def put(self, message: Message, *gates: Gate) -> None:
        """Write a message and its gates in one transaction, as cure does."""
        with self._transaction("cure") as rows:
            rows.messages[message.no] = message
            rows.gates |= {(gate.pour, gate.operation): gate for gate in gates}

    def anything_due(self, now: Ms) -> bool:
        with self._lock:
            rows = MemoryRows(self.rows)
            repeats = [d for d in rows.accepted_unconfirmed() if d.delivery.next_ms <= now]
            unrouted = self.rows.messages.keys() - self.rows.routed
            return bool(unrouted or rows.calling() or rows.unsure() or rows.due(now, 1) or repeats)

    def unrouted(self, limit: int) -> Sequence[Message]:
        with self._lock:
            return [m for no, m in sorted(self.rows.messages.items()) if no not in self.rows.routed][:limit]

    def told(self, message: Message) -> Sequence[tuple[str, int]]:
        with self._lock:
            called = (d for d in self.rows.deliveries.values() if d.called_ms is not None)
            found = ((d, self.rows.messages[d.message]) for d in called)
            about = ((d, m) for d, m in found if m.pour == message.pour and message.subject in {"", m.subject})
            return sorted({(d.recipient, d.channel) for d, _ in about})

    def route(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        with self._transaction("route") as rows:
            if message in rows.routed:
                return
            rows.routed.add(message)
            _add(rows, message, deliveries)

    @contextmanager
    def deciding(self) -> Iterator[MemoryRows]:
        with self._transaction("deciding") as rows:
            yield MemoryRows(rows)

    def confirm(self, act: Act, message: int, log: LogEntry) -> int:
        with self._transaction("confirm") as rows:
            told = isinstance(act, Confirm) and act.told is not None
            mine = [d for d in rows.deliveries.values() if d.message == message]
            found = [d for d in mine if _may_be_confirmed(d) or (told and d.state in _UNTOLD)]
            if not found:
                return 0
            for d in found:
                rows.deliveries[d.no] = replace(d, state=DeliveryState.CONFIRMED, lease_until_ms=None, lease_token=None)
            _keep(rows, act, log)
            return len(found)

    def silence(self, act: Act, bay: BayId | None, until: Ms, log: LogEntry) -> None:
        with self._transaction("silence") as rows:
            rows.silences.append((bay, act.at_ms, until))
            _keep(rows, act, log)

    def resend(self, act: Act, message: int, recipient: str | None, log: LogEntry) -> int:
        with self._transaction("resend") as rows:
            mine = [d for d in rows.deliveries.values() if d.message == message and recipient in {None, d.recipient}]
            found = [d for d in mine if d.state in _AT_REST]
            for d in found:
                again = replace(d, state=DeliveryState.QUEUED, attempt=0, was_unsure=True, was_accepted=False)
                rows.deliveries[d.no] = replace(again, next_ms=act.at_ms)
            if found:
                _keep(rows, act, log)
            return len(found)

    def test(self, act: Act, message: NewMessage, log: LogEntry) -> int:
        with self._transaction("test") as rows:
            no = _tell(rows, message)
            assert no is not None
            _keep(rows, act, log)
            return no

    def states(self, message: int) -> dict[tuple[str, int], DeliveryState]:
        """Return where each delivery of a message stands."""
        return {(d.recipient, d.channel): d.state for d in self.rows.deliveries.values() if d.message == message}


_UNTOLD = frozenset({DeliveryState.QUEUED, DeliveryState.WAITING, DeliveryState.UNSURE, DeliveryState.CALLING})
_AT_REST = frozenset({DeliveryState.ACCEPTED, DeliveryState.REFUSED, DeliveryState.ESCALATED})


def _add(rows: Rows, message: int, deliveries: Sequence[NewDelivery]) -> None:
    there = {(d.message, *_to(d)) for d in rows.deliveries.values()}
    for new in deliveries:
        if (message, new.recipient, new.channel) not in there:
            no = len(rows.deliveries) + 1
            rows.deliveries[no] = Delivery(no, message, new.recipient, new.channel, next_ms=new.next_ms)


def _tell(rows: Rows, new: NewMessage) -> int | None:
    if any(_once(m) == _once(new) for m in rows.messages.values()):
        return None
    no = max([*rows.messages, rows.own_from]) + 1
    rows.messages[no] = Message(no, **{f.name: getattr(new, f.name) for f in fields(new)})
    return no


def _once(message: Message | NewMessage) -> tuple[str, str, int, str]:
    return message.pour, message.subject, message.epoch, message.kind


def _keep(rows: Rows, act: Act, log: LogEntry) -> None:
    rows.acts.append(act)
    rows.log.append(log)


def _same(one: Message, other: Message) -> bool:
    return one.pour == other.pour and one.subject == other.subject


def _may_be_confirmed(delivery: Delivery) -> bool:
    repeating = {DeliveryState.CALLING, DeliveryState.WAITING, DeliveryState.UNSURE}
    return delivery.state is DeliveryState.ACCEPTED or (delivery.was_accepted and delivery.state in repeating)


class MemoryRows:
    """The `DeliveryTransaction` port."""

    def __init__(self, rows: Rows) -> None:
        self._rows = rows

    def _dues(self, *states: DeliveryState) -> list[Due]:
        return [self.one(no) for no, d in sorted(self._rows.deliveries.items()) if d.state in states]

    def due(self, now: Ms, limit: int) -> Sequence[Due]:
        waiting = self._dues(DeliveryState.QUEUED, DeliveryState.WAITING)
        waiting.sort(key=lambda d: (d.message.kind not in URGENT, d.message.no, d.delivery.no))
        return [self._with_silence(d, now) for d in waiting if d.delivery.next_ms <= now][:limit]

    def _with_silence(self, due: Due, now: Ms) -> Due:
        running = [bay for bay, begins, ends in self._rows.silences if begins <= now < ends]
        return replace(due, silenced=any(bay in {None, due.message.facts.get("bay")} for bay in running))

    def calling(self) -> Sequence[Due]:
        return self._dues(DeliveryState.CALLING)

    def unsure(self) -> Sequence[Due]:
        return self._dues(DeliveryState.UNSURE)

    def accepted_unconfirmed(self) -> Sequence[Due]:
        insistent = {MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF}
        return [d for d in self._dues(DeliveryState.ACCEPTED) if d.message.kind in insistent]

    def one(self, delivery: int) -> Due:
        row = self._rows.deliveries[delivery]
        message = self._rows.messages[row.message]
        busy = any(
            d.state is DeliveryState.CALLING and d.no != row.no and _to(d) == _to(row)
            for d in self._rows.deliveries.values()
        )
        gates = (g for g in self._rows.gates.values() if g.pour == message.pour)
        shut = message.pour in self._rows.frozen or any(g.state is GateState.WITHDRAWN for g in gates)
        gate = self._rows.gates.get((message.pour, message.subject))
        bays = self._kept_off()
        kept_off = bool(bays) and message.facts.get("bay") in bays
        return Due(row, message, gate, busy, inhibited=shut, kept_off=kept_off)

    def _kept_off(self) -> list[Json]:
        found: list[Json] = []
        for m in self._rows.messages.values():
            gate = self._rows.gates.get((m.pour, m.subject))
            if m.kind is MessageKind.KEEP_OFF and gate is not None and gate.epoch == m.epoch:
                under_way = GateState.UNDER_WAY in {gate.state, gate.before}
                bays = m.facts.get("bays")
                found += bays if under_way and isinstance(bays, list) else []
        return found

    def withdrawals(self, due: Due) -> Sequence[Due]:
        every = (self.one(no) for no in sorted(self._rows.deliveries))
        withdrawn = (d for d in every if d.message.kind is MessageKind.WITHDRAWAL and _same(d.message, due.message))
        return [d for d in withdrawn if _to(d.delivery) == _to(due.delivery)]

    def add(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        _add(self._rows, message, deliveries)

    def rows_of(self, message: int) -> Sequence[Due]:
        return [self.one(no) for no, d in sorted(self._rows.deliveries.items()) if d.message == message]

    def tell(self, message: NewMessage) -> int | None:
        return _tell(self._rows, message)

    def write(self, delivery: Delivery, log: LogEntry | None = None) -> None:
        assert delivery.no in self._rows.deliveries
        self._rows.deliveries[delivery.no] = delivery
        if log is not None:
            self._rows.log.append(log)


def _to(delivery: Delivery) -> tuple[str, int]:
    return delivery.recipient, delivery.channel
