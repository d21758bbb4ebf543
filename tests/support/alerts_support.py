"""An alerts book in memory, transports that fail on order, and the messages that the tests send."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field, replace
from threading import RLock
from typing import Any, Final

from store_support import POUR, T0, make_setup, make_site

from shared.clock import SimulatedClock
from shared.models.acts import Act
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, PourId
from shared.models.decisions import Gate, GateState, LogEntry
from shared.models.messages import (
    PERMITS,
    URGENT,
    Delivery,
    DeliveryState,
    Due,
    Message,
    MessageKind,
    NewDelivery,
    Outcome,
    OutcomeKind,
    Text,
)
from shared.models.setup import Address, InboxFile, Setup, SiteFile

FACTS: Final[dict[str, Any]] = {
    "site": "Millrace House",
    "site_id": "millrace",
    "zone": "America/Halifax",
    "units": "SI",
    "floor": "2",
    "bay": "2-b1",
    "pour": POUR,
    "operation": "strip",
    "exclusions": "grid 7 edge, stair opening",
    "hour_ms": T0,
    "findings": ["counted hours: 24.2 h, needs 24.0 h - met"],
    "not_released": ["walk", "load"],
    "roles": ["qc", "engineer"],
    "sign_offs": 1,
    "sign_command": f"slabhour sign --who YOU {POUR} strip",
    "signers": ["qc"],
    "load_kpa": 1.0,
    "plan_ms": T0,
    "expected_ms": T0 + 5 * HOUR_MS,
    "counted_h": 11.5,
    "clock_h": 20.25,
    "limit_c": 5.0,
    "coldest_c": 3.14,
    "cause": "concrete below 5 degC since 02:00",
    "hold": "conflicting readings",
    "reason": "two values for 07:15",
    "owner": "qc",
    "how": "say which reading is right",
    "sensor": "lg-01.1",
    "newest_ms": T0 - HOUR_MS,
    "required": True,
    "done": False,
    "bays": ["2-b1", "2-b2"],
    "hours_early": 3.25,
}


def make_told(
    kind: MessageKind = MessageKind.RELEASED,
    no: int = 41,
    *,
    subject: str = STRIP,
    epoch: int = 1,
    at_ms: Ms = T0,
    hours_valid: int = 9,
    **facts: Any,
) -> Message:
    """Return a stored message with every fact that a kind may have."""
    until = at_ms + hours_valid * HOUR_MS if kind in PERMITS else None
    said = {**FACTS, "operation": subject, "hour_ms": at_ms, **facts}
    return Message(no, kind, PourId(str(said["pour"])), subject, epoch, at_ms, until, said)


def make_gate(state: GateState, epoch: int = 1, operation: str = STRIP, before: GateState | None = None) -> Gate:
    """Return the gate of the first pour's operation."""
    return Gate(PourId(POUR), Operation(operation), state, epoch, before=before)


def make_row(message: Message, **changes: Any) -> Delivery:
    """Return a delivery of a message to the superintendent's inbox."""
    return Delivery(**{"no": message.no * 10, "message": message.no, "recipient": "super", "channel": 0, **changes})


def make_due(
    message: Message, gate: Gate | None = None, *, busy: bool = False, row: Delivery | None = None, **changes: Any
) -> Due:
    """Return a delivery with what decides whether it may go."""
    return Due(make_row(message, **changes) if row is None else row, message, gate, busy)


def alerts_setup(folder: str = ".", **changes: Any) -> Setup:
    """Return a site with one person a role, all at an inbox of their own, the crew at two."""
    people: list[dict[str, Any]] = [
        {"id": role, "role": role, "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": f"{role}.jsonl"}]}
        for role in ("crew", "superintendent", "qc", "engineer", "installer")
    ]
    people[0]["channels"].append({"kind": "inbox", "file": "crew-two.jsonl"})
    site: SiteFile = make_site(**{"recipient": people, **changes})
    return make_setup(site, folder=folder)


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

    def copied(self) -> Rows:
        """Return a copy that shares nothing that changes."""
        return Rows(*(copy(getattr(self, name)) for name in self.__dataclass_fields__))


def _never(_where: str) -> None:
    """Nothing dies."""


class MemoryBook:
    """The `AlertsBook` port over dictionaries: a transaction that raises leaves nothing behind."""

    def __init__(self) -> None:
        self.rows = Rows()
        self.at: Callable[[str], None] = _never
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

    def unrouted(self, limit: int) -> Sequence[Message]:
        with self._lock:
            return [m for no, m in sorted(self.rows.messages.items()) if no not in self.rows.routed][:limit]

    def told(self, message: Message) -> Sequence[tuple[str, int]]:
        with self._lock:
            called = (d for d in self.rows.deliveries.values() if d.called_ms is not None)
            same = ((d, self.rows.messages[d.message]) for d in called)
            return sorted({(d.recipient, d.channel) for d, m in same if _same(m, message)})

    def route(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        with self._transaction("route") as rows:
            if message in rows.routed:
                return
            rows.routed.add(message)
            for new in deliveries:
                no = len(rows.deliveries) + 1
                rows.deliveries[no] = Delivery(no, message, new.recipient, new.channel, next_ms=new.next_ms)

    @contextmanager
    def deciding(self) -> Iterator[MemoryRows]:
        with self._transaction("deciding") as rows:
            yield MemoryRows(rows)

    def confirm(self, act: Act, message: int, log: LogEntry) -> int:
        with self._transaction("confirm") as rows:
            found = [d for d in rows.deliveries.values() if _is(d, message, DeliveryState.ACCEPTED)]
            for delivery in found:
                rows.deliveries[delivery.no] = replace(delivery, state=DeliveryState.CONFIRMED)
            rows.acts.append(act)
            rows.log.append(log)
            return len(found)

    def states(self, message: int) -> dict[tuple[str, int], DeliveryState]:
        """Return where each delivery of a message stands."""
        return {(d.recipient, d.channel): d.state for d in self.rows.deliveries.values() if d.message == message}


def _same(one: Message, other: Message) -> bool:
    return one.pour == other.pour and one.subject == other.subject


def _is(delivery: Delivery, message: int, state: DeliveryState) -> bool:
    return delivery.message == message and delivery.state is state


class MemoryRows:
    """The `DeliveryTransaction` port."""

    def __init__(self, rows: Rows) -> None:
        self._rows = rows

    def _dues(self, *states: DeliveryState) -> list[Due]:
        found = [self.one(no) for no, d in sorted(self._rows.deliveries.items()) if d.state in states]
        return sorted(found, key=lambda d: (d.message.kind not in URGENT, d.message.no, d.delivery.no))

    def due(self, now: Ms, limit: int) -> Sequence[Due]:
        waiting = self._dues(DeliveryState.QUEUED, DeliveryState.WAITING)
        return [d for d in waiting if d.delivery.next_ms <= now][:limit]

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
        return Due(row, message, self._rows.gates.get((message.pour, message.subject)), busy)

    def withdrawals(self, due: Due) -> Sequence[Due]:
        every = (self.one(no) for no in sorted(self._rows.deliveries))
        withdrawn = (d for d in every if d.message.kind is MessageKind.WITHDRAWAL and _same(d.message, due.message))
        return [d for d in withdrawn if _to(d.delivery) == _to(due.delivery)]

    def write(self, delivery: Delivery, log: LogEntry | None = None) -> None:
        assert delivery.no in self._rows.deliveries
        self._rows.deliveries[delivery.no] = delivery
        if log is not None:
            self._rows.log.append(log)


def _to(delivery: Delivery) -> tuple[str, int]:
    return delivery.recipient, delivery.channel


@dataclass
class Heard:
    """One text as a recipient got it."""

    at_ms: Ms
    number: int
    file: str
    text: Text


class ScriptedTransport:
    """Answers by order; what it accepts, or loses the answer of, is heard by the recipient."""

    deadline_s = 20.0

    def __init__(self, clock: SimulatedClock, *script: str) -> None:
        self.clock = clock
        self.script = list(script)
        """Of "accept" (also when the script is at its end), "fail", "never", "lost" (arrives), "silence" (does not)."""
        self.heard: list[Heard] = []
        self.began: list[int] = []
        self.at: Callable[[str], None] = _never
        self.during: Callable[[int], None] | None = None

    def send(self, text: Text, address: Address, number: int, still_true: Callable[[], bool]) -> Outcome:
        assert isinstance(address, InboxFile)
        self.at("transport: before")
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        self.began.append(number)
        if self.during is not None:
            self.during(number)
        if not still_true():
            return Outcome(OutcomeKind.UNSURE, "killed: no longer true")
        order = self.script.pop(0) if self.script else "accept"
        if order in {"accept", "lost"}:
            self.heard.append(Heard(self.clock.now(), number, address.file, text))
        self.at("transport: after")
        return {
            "accept": Outcome(OutcomeKind.ACCEPTED, "yes"),
            "fail": Outcome(OutcomeKind.NOT_NOW, "not now"),
            "never": Outcome(OutcomeKind.NEVER, "no"),
            "lost": Outcome(OutcomeKind.UNSURE, "answer lost"),
            "silence": Outcome(OutcomeKind.UNSURE, "killed at its deadline"),
        }[order]

    def numbers(self, file: str | None = None) -> list[int]:
        """Return the numbers heard, in order, of all or of one inbox."""
        return [h.number for h in self.heard if file in {None, h.file}]
