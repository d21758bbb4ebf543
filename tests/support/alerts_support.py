"""Messages as cure would write them, a transport that fails on order, and a dispatcher on a book in memory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from alerts_book import MemoryBook, never
from store_support import POUR, T0, make_setup, make_site

from alerts.acts import apply
from alerts.dispatcher import Dispatcher
from alerts.routing import TOGETHER_MS
from alerts.transport import Attempt
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.acts import AlertsAct, Confirm, instant
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, PourId
from shared.models.decisions import Gate, GateState
from shared.models.messages import (
    PERMITS,
    Delivery,
    DeliveryState,
    Due,
    Message,
    MessageKind,
    Outcome,
    OutcomeKind,
    Text,
)
from shared.models.people import InboxFile
from shared.models.setup import Setup, SiteFile

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
    "second_check": False,
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
    said = {**FACTS, "operation": "" if kind is MessageKind.LOGGER_SILENT else subject, "hour_ms": at_ms, **facts}
    return Message(no, kind, PourId(str(said["pour"])), subject, epoch, at_ms, until, said)


def make_gate(state: GateState, epoch: int = 1, operation: str = STRIP, before: GateState | None = None) -> Gate:
    """Return the gate of the first pour's operation."""
    return Gate(PourId(POUR), Operation(operation), state, epoch, before=before)


def make_row(message: Message, **changes: Any) -> Delivery:
    """Return a delivery of a message to the superintendent's inbox."""
    return Delivery(**{"no": message.no * 10, "message": message.no, "recipient": "super", "channel": 0, **changes})


def make_due(
    message: Message,
    gate: Gate | None = None,
    *,
    busy: bool = False,
    silenced: bool = False,
    inhibited: bool = False,
    row: Delivery | None = None,
    **changes: Any,
) -> Due:
    """Return a delivery with what decides whether it may go."""
    return Due(make_row(message, **changes) if row is None else row, message, gate, busy, silenced, inhibited)


def alerts_setup(folder: str = ".", **changes: Any) -> Setup:
    """Return a site with one person a role, all at an inbox of their own, the crew at two."""
    people: list[dict[str, Any]] = [
        {"id": role, "role": role, "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": f"{role}.jsonl"}]}
        for role in ("crew", "superintendent", "qc", "engineer", "installer")
    ]
    people[0]["channels"].append({"kind": "inbox", "file": "crew-two.jsonl"})
    site: SiteFile = make_site(**{"recipient": people, **changes})
    return make_setup(site, folder=folder)


def with_duty(setup: Setup, *duty: str) -> Setup:
    """Return the site with people on duty."""
    site = setup.site.model_copy(update={"site": setup.site.site.model_copy(update={"duty": duty})})
    return replace(setup, site=site)


def for_one(*, shift: str = "00:00-00:00") -> Setup:
    """Return a site with one person at one inbox."""
    inbox = {"kind": "inbox", "file": "qc.jsonl"}
    return alerts_setup(recipient=[{"id": "qc", "role": "qc", "shift": shift, "channels": [inbox]}])


def for_two() -> Setup:
    """Return a site with two people at an inbox each."""
    return alerts_setup(
        recipient=[
            {"id": who, "role": who, "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": who}]}
            for who in ("crew", "qc")
        ]
    )


@dataclass
class Heard:
    """One text as a recipient got it."""

    at_ms: Ms
    number: int
    file: str
    text: Text
    numbers: tuple[int, ...]


class ScriptedTransport:
    """Answers by order; what it accepts, or loses the answer of, is heard by the recipient."""

    deadline_s = 20.0

    def __init__(self, clock: SimulatedClock, *script: str) -> None:
        self.clock = clock
        self.script = list(script)
        """Of "accept" (also when the script is at its end), "fail", "never", "lost" (arrives), "silence" (does not)."""
        self.heard: list[Heard] = []
        self.began: list[int] = []
        self.at: Callable[[str], None] = never
        self.during: Callable[[int], None] | None = None

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        assert isinstance(attempt.address, InboxFile)
        self.at("transport: before")
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        self.began.append(attempt.number)
        if self.during is not None:
            self.during(attempt.number)
        if not still_true():
            return Outcome(OutcomeKind.UNSURE, "killed: no longer true")
        order = self.script.pop(0) if self.script else "accept"
        if order in {"accept", "lost"}:
            heard = Heard(self.clock.now(), attempt.number, attempt.address.file, attempt.text, attempt.numbers)
            self.heard.append(heard)
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


class Site:
    """A dispatcher on a book in memory, with a clock that is told the time."""

    def __init__(self, *script: str, setup: Setup | None = None, workers: int = 0, quiet_ms: Ms = 0) -> None:
        self.clock = SimulatedClock(T0)
        self.book = MemoryBook()
        self.transport = ScriptedTransport(self.clock, *script)
        self.setup = alerts_setup() if setup is None else setup
        self.workers = workers
        self.quiet_ms = quiet_ms
        self.dispatcher = self.started()

    def started(self) -> Dispatcher:
        """Return a new dispatcher on the same book, as after a restart."""
        return Dispatcher(self.setup, self.book, self.clock, self.transport, self.workers, quiet_ms=self.quiet_ms)

    def restart(self) -> None:
        """Start again and recover."""
        self.dispatcher = self.started()
        self.dispatcher.recover()

    def say(self, kind: MessageKind, no: int, state: GateState, epoch: int = 1, **facts: Any) -> None:
        """Write a message about the strip of the first pour with its gate, as cure does.

        What permits something was written a minute ago: it waits for no others of its kind any more.
        """
        at_ms = self.clock.now() - (TOGETHER_MS if kind in PERMITS else 0)
        message = make_told(kind, no, epoch=epoch, at_ms=at_ms, **facts)
        self.book.put(message, make_gate(state, epoch))

    def release(self, no: int = 41) -> None:
        """Release."""
        self.say(MessageKind.RELEASED, no, GateState.RELEASED)

    def withdraw(self, no: int = 42) -> None:
        """Withdraw."""
        self.say(MessageKind.WITHDRAWAL, no, GateState.WITHDRAWN)

    def run(self, minutes: float = 0, every_s: int = 30) -> int:
        """Run what is due, now and as time goes on."""
        done = self.dispatcher.run_due()
        until = self.clock.now() + round(minutes * 60_000)
        while self.clock.now() < until:
            self.clock.set(min(until, self.clock.now() + every_s * 1000))
            done += self.dispatcher.run_due()
        return done

    def apply(self, act: AlertsAct) -> None:
        """Let a person do something."""
        apply(self.book, self.setup, act, self.clock.now())

    def confirm(self, no: int, who: str = "qc", told: str | None = None) -> int:
        """Let a person answer a message; return how many deliveries it confirmed."""
        before = self.confirmed(no)
        self.apply(Confirm(at=instant(self.clock.now()), who=who, message=no, told=told))
        return self.confirmed(no) - before

    def confirmed(self, no: int) -> int:
        """Return how many deliveries of a message are confirmed."""
        return list(self.book.states(no).values()).count(DeliveryState.CONFIRMED)

    def mark(self, no: int, **changes: Any) -> None:
        """Change a stored delivery behind everybody's back."""
        self.book.rows.deliveries[no] = replace(self.book.rows.deliveries[no], **changes)

    def stand(self, state: GateState, before: GateState | None = None) -> None:
        """Put the gate into a state without a message."""
        gate = make_gate(state, before=before)
        self.book.rows.gates[gate.pour, gate.operation] = gate

    def logged(self, state: DeliveryState) -> list[Any]:
        """Return the log's bodies of deliveries that came into a state."""
        return [e.body for e in self.book.rows.log if e.what == "delivery" and e.body["state"] == state.value]


def filled(site: Site) -> Callable[[str], None]:
    """Return a hook that fills the disk once an attempt is over."""

    def hook(where: str) -> None:
        if where == "transport: after":
            site.book.at = full

    return hook


def full(where: str) -> None:
    """Let a transaction meet a full disk."""
    raise StoreError("the disk is full")
