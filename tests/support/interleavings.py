"""Every interleaving of gate, people, sender, lost replies and crashes, over the real delivery functions.

One recipient, one channel. A state is what is durable, what the sender's process holds, and what the recipient has
heard. The harness supplies the world; `alerts.delivery` decides. A `Weak` harness leaves one promise out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from alerts_support import make_gate, make_told

from alerts.delivery import DeliveryEvent as Event
from alerts.delivery import Go, Supersede, answered, claim, lost, may_go, overtaken, resolved, step
from shared.models.base import RecipientId
from shared.models.decisions import Gate, GateState
from shared.models.messages import Delivery, DeliveryState, Due, Message, MessageKind, Outcome, OutcomeKind

S = DeliveryState
_NOW: Final = 0
_HOLDER: Final = "lease"
_FIRST_ATTEMPT: Final = 3
"""Rows begin here, so that two more attempts use a release's up and the model stays small."""
RELEASE, WITHDRAWAL = "release", "withdrawal"


@dataclass(frozen=True)
class Weak:
    """Which promise this harness breaks; none: the design."""

    parallel: bool = False
    """Withdrawals do not wait for the release that is calling."""
    repeats: bool = True
    """Q7: a release that got out late sends its withdrawal again."""
    kills: bool = True
    """An attempt that is given up is dead."""
    commits_calling: bool = True
    """`calling` is durable before the transport is called."""
    atomic: bool = True
    """A state change and its message are one transaction."""
    fences: bool = True
    """The gate is looked at before each attempt."""


@dataclass(frozen=True)
class Worker:
    """One attempt in the sender's memory."""

    row: int
    kind: str
    epoch: int
    stage: str = "about"


@dataclass(frozen=True)
class State:
    """What the model steps through."""

    gate: Gate
    evidence: bool = False
    flips: int = 0
    expired: bool = False
    rows: tuple[Delivery, ...] = ()
    workers: tuple[Worker, ...] = ()
    held: tuple[tuple[str, int], ...] = ()
    """Messages that exist in memory only."""
    flight: frozenset[tuple[str, int]] = frozenset()
    """Calls that nobody watches any more and that can still arrive."""
    seen: tuple[str, int] | None = None
    crashes: int = 0
    losses: int = 0
    accepted: int = 0
    """Acceptances of the current epoch's release..."""
    unsure: int = 0
    """... and how often one was recorded unsure."""


Step: TypeAlias = tuple[str, State]

_MESSAGES: Final[dict[int, Message]] = {}


def message_of(kind: str, epoch: int) -> Message:
    """Return the message of a kind and epoch."""
    no = epoch * 2 + (kind == WITHDRAWAL)
    told_as = MessageKind.RELEASED if kind == RELEASE else MessageKind.WITHDRAWAL
    return _MESSAGES.setdefault(no, make_told(told_as, no, epoch=epoch, at_ms=_NOW, hours_valid=1))


def kind_of(row: Delivery) -> str:
    """Return what the row delivers."""
    return WITHDRAWAL if row.message % 2 else RELEASE


class Model:
    """The steps from a state."""

    def __init__(self, weak: Weak | None = None, *, flips: int = 2, crashes: int = 1, losses: int = 1) -> None:
        self.weak = Weak() if weak is None else weak
        self.epochs = 4
        self._first = State(make_gate(GateState.CURING, 0), flips=flips, crashes=crashes, losses=losses)

    def first(self) -> State:
        """Return the state in which all begins."""
        return self._first

    def steps(self, s: State) -> Iterator[Step]:
        """Yield every (label, next state)."""
        yield from self._world(s)
        yield from self._gate(s)
        yield from self._people(s)
        for kind, epoch in s.held:
            yield f"system: {kind} written", self._written(replace(s, held=s.held[1:]), kind, epoch)
        yield from self._sender(s)
        for worker in s.workers:
            yield from self._attempt(s, worker)

    def due(self, s: State, row: Delivery) -> Due:
        """Return what the book would."""
        busy = not self.weak.parallel and any(r.state is S.CALLING and r.no != row.no for r in s.rows)
        return Due(row, _MESSAGES[row.message], s.gate, busy)

    def _world(self, s: State) -> Iterator[Step]:
        if s.flips:
            yield "world: evidence flips", replace(s, evidence=not s.evidence, flips=s.flips - 1)
        if not s.expired and s.gate.state is GateState.RELEASED:
            yield "world: validity ends", replace(s, expired=True)
        for kind, epoch in sorted(s.flight):
            arrived = self._heard(s, kind, epoch)
            yield f"world: {kind} arrives late", replace(arrived, flight=s.flight - {(kind, epoch)})
        if s.crashes:
            flight = s.flight
            if not self.weak.kills:
                flight |= {(w.kind, w.epoch) for w in s.workers if w.stage == "about"}
            yield "world: crash", replace(s, workers=(), held=(), flight=flight, crashes=s.crashes - 1)

    def _gate(self, s: State) -> Iterator[Step]:
        gate = s.gate
        if gate.state is GateState.CURING and s.evidence and gate.epoch < self.epochs:
            met = replace(gate, state=GateState.MET, epoch=gate.epoch + 1)
            yield "gate: met", replace(s, gate=met, expired=False, accepted=0, unsure=0)
        if gate.state is GateState.MET and not s.evidence:
            yield "gate: no longer met", replace(s, gate=replace(gate, state=GateState.CURING))
        if gate.state is GateState.RELEASED and not s.evidence:
            yield "gate: withdrawn", self._told(s, GateState.WITHDRAWN, WITHDRAWAL)

    def _people(self, s: State) -> Iterator[Step]:
        gate = s.gate
        if gate.state is GateState.MET and s.evidence:
            yield "person: signs", self._told(s, GateState.RELEASED, RELEASE)
        for row in s.rows:
            told = row.state is S.ACCEPTED or (row.was_accepted and row.state in {S.CALLING, S.WAITING, S.UNSURE})
            if kind_of(row) == WITHDRAWAL and told:
                yield "person: confirms", self._put(s, step(self.due(s, row), Event.CONFIRMED, _NOW))
        mine = [r for r in s.rows if r.message == message_of(WITHDRAWAL, gate.epoch).no]
        if gate.state is GateState.WITHDRAWN and mine and mine[0].state is S.CONFIRMED and gate.epoch < self.epochs:
            yield "person: reopens", replace(s, gate=replace(gate, state=GateState.CURING, epoch=gate.epoch + 1))

    def _told(self, s: State, state: GateState, kind: str) -> State:
        moved = replace(s, gate=replace(s.gate, state=state))
        if not self.weak.atomic:
            return replace(moved, held=(*s.held, (kind, s.gate.epoch)))
        return self._written(moved, kind, s.gate.epoch)

    @staticmethod
    def _written(s: State, kind: str, epoch: int) -> State:
        no = message_of(kind, epoch).no
        return replace(s, rows=(*s.rows, Delivery(no, no, RecipientId("crew"), 0, attempt=_FIRST_ATTEMPT)))

    def _sender(self, s: State) -> Iterator[Step]:
        mine = {w.row for w in s.workers}
        room = 2 if self.weak.parallel else 1
        for row in s.rows:
            due = self.due(s, row)
            if row.state is S.CALLING and row.no not in mine:
                yield "system: recovers", self._after(s, due, lost(due, _NOW, ""))
            elif row.state is S.UNSURE:
                after = resolved(due, self._hour(s))
                assert after is not None
                yield f"system: unsure {kind_of(row)}", self._put(s, after)
            elif len(s.workers) < room and row.no not in mine:
                yield from self._claim(s, due)

    def _hour(self, s: State) -> int:
        until = message_of(RELEASE, s.gate.epoch).valid_until_ms
        assert until is not None
        return until if s.expired else _NOW

    def _claim(self, s: State, due: Due) -> Iterator[Step]:
        row, kind = due.delivery, kind_of(due.delivery)
        permission = may_go(due, self._hour(s))
        sendable = row.state in {S.QUEUED, S.WAITING} and not due.busy
        if isinstance(permission, Go) or (not self.weak.fences and sendable):
            # A repeat is not work that must end: it goes on until a person confirms.
            label = "repeat" if row.state is S.ACCEPTED else "system"
            after = claim(due, _NOW, token=_HOLDER, lease_ms=1)
            if not self.weak.commits_calling:
                after = replace(row, lease_token=_HOLDER)
            worker = Worker(row.no, kind, due.message.epoch)
            yield f"{label}: claims {kind}", replace(self._put(s, after), workers=(*s.workers, worker))
        elif isinstance(permission, Supersede):
            yield f"system: {kind} fenced", self._put(s, step(due, Event.VOIDED, _NOW))

    def _attempt(self, s: State, worker: Worker) -> Iterator[Step]:
        if worker.stage != "about":
            yield f"system: outcome of {worker.kind}", self._answered(s, worker)
            return
        reached = self._heard(s, worker.kind, worker.epoch)
        yield f"system: {worker.kind} accepted", self._staged(reached, worker, "accepted")
        if s.losses:
            fewer = replace(s, losses=s.losses - 1)
            arrived = replace(reached, losses=s.losses - 1)
            flight = s.flight if self.weak.kills else s.flight | {(worker.kind, worker.epoch)}
            yield f"system: {worker.kind} not accepted", self._staged(fewer, worker, "not now")
            yield f"system: {worker.kind}, answer lost", self._staged(arrived, worker, "unsure")
            yield f"system: {worker.kind} given up", self._staged(replace(fewer, flight=flight), worker, "unsure")

    @staticmethod
    def _staged(s: State, worker: Worker, stage: str) -> State:
        others = tuple(w for w in s.workers if w != worker)
        return replace(s, workers=(*others, replace(worker, stage=stage)))

    @staticmethod
    def _heard(s: State, kind: str, epoch: int) -> State:
        mine = kind == RELEASE and epoch == s.gate.epoch
        return replace(s, seen=(kind, epoch), accepted=s.accepted + mine)

    def _answered(self, s: State, worker: Worker) -> State:
        s = replace(s, workers=tuple(w for w in s.workers if w != worker))
        row = next(r for r in s.rows if r.no == worker.row)
        if not self.weak.commits_calling:
            row = replace(row, state=S.CALLING, attempt=row.attempt + 1)
        due = self.due(s, row)
        return self._after(s, due, answered(due, Outcome(OutcomeKind(worker.stage), ""), _HOLDER, _NOW))

    def _after(self, s: State, due: Due, after: Delivery) -> State:
        mine = kind_of(after) == RELEASE and due.message.epoch == s.gate.epoch
        s = self._put(replace(s, unsure=s.unsure + (mine and after.state is S.UNSURE)), after)
        if self.weak.repeats:
            now = replace(due, delivery=after)
            withdrawals = [self.due(s, r) for r in s.rows if kind_of(r) == WITHDRAWAL]
            for again in overtaken(now, withdrawals, _NOW):
                s = self._put(s, again)
        return s

    @staticmethod
    def _put(s: State, row: Delivery) -> State:
        """Store a row without its hours, and without counts that no longer change what it may do."""
        attempt = min(row.attempt, _FIRST_ATTEMPT) if kind_of(row) == WITHDRAWAL else row.attempt
        kept = replace(
            row, next_ms=0, called_ms=None, lease_until_ms=None, attempt=attempt, outcome="", was_unsure=True
        )
        return replace(s, rows=tuple(kept if r.no == row.no else r for r in s.rows))
