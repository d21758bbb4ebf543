"""The whole model: gates and people, one sender or two, lost replies, kills, crashes, over the real functions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Final

from interleavings import (
    CRASHES,
    GATES,
    LOSSES,
    ROWS,
    TOKEN,
    Budget,
    Policy,
    State,
    Step,
    Weak,
    Worker,
    first_state,
    kept,
    message,
    put_at,
    spend,
)
from interleavings_gates import Gates, written

from alerts.companions import companions
from alerts.delivery import DeliveryEvent as Event
from alerts.delivery import Go, Supersede, answered, claim, lost, may_go, overtaken, resolved, step
from cure.gate import held
from shared.models.base import STRIP, Operation
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, Delivery, DeliveryState, Due, MessageKind, Outcome, OutcomeKind

S = DeliveryState
_REPEATED: Final = frozenset({S.CALLING, S.WAITING, S.UNSURE})
_INSISTENT: Final = frozenset({MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF})


@cache
def _is_permit(row: int) -> bool:
    return message(ROWS[row].message).kind in PERMITS


@cache
def _due(row: int, gate: int, busy: bool, inhibited: bool, kept_off: bool) -> Due:
    delivery = ROWS[row]
    return Due(delivery, message(delivery.message), GATES[gate], busy, inhibited=inhibited, kept_off=kept_off)


class Model:
    """The steps from a state."""

    def __init__(
        self,
        weak: Weak | None = None,
        budget: Budget | None = None,
        *,
        operations: tuple[Operation, ...] = (STRIP,),
        policy: Policy = Policy.TWO_SIGN,
        counts: bool = True,
    ) -> None:
        """`counts`: also what R7 and F1 count; without, there are fewer states."""
        self.weak = Weak() if weak is None else weak
        self.budget = Budget() if budget is None else budget
        self.operations = operations
        self._most = self.budget.first_attempt
        self._of: dict[int, int] = {}
        # Both hang on gates and rows alone, which many states share.
        self._dues: dict[tuple[tuple[int, ...], tuple[int, ...], int], Due] = {}
        self._old: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, ...]] = {}
        self._counts = counts
        self._gates = Gates(operations, policy, self.weak, self._most)

    def first(self) -> State:
        """Return the state in which all begins."""
        return first_state(self.operations, self.budget)

    def steps(self, s: State) -> Iterator[Step]:
        """Yield every (label, next state)."""
        for label, after in (*self._gates.steps(s), *self._world(s), *self._people(s), *self._system(s)):
            yield label, self._tidy(after)

    def _index(self, no: int) -> int:
        if no not in self._of:
            self._of[no] = self.operations.index(Operation(message(no).subject))
        return self._of[no]

    def due(self, s: State, number: int) -> Due:
        """Return what the book would."""
        key = s.gates, s.rows, number
        found = self._dues.get(key)
        if found is None:
            found = self._dues[key] = self._worked_out(s, number)
        return found

    def _worked_out(self, s: State, number: int) -> Due:
        row = ROWS[number]
        busy = not self.weak.parallel and any(r != number and ROWS[r].state is S.CALLING for r in s.rows)
        shut = any(GATES[g].state is GateState.WITHDRAWN for g in s.gates)
        strips = (GATES[g] for g, op in zip(s.gates, self.operations, strict=True) if op == STRIP)
        kept_off = self.weak.keeps_off and any(held(g) is GateState.UNDER_WAY for g in strips)
        return _due(number, s.gates[self._index(row.message)], busy, shut, kept_off)

    def _world(self, s: State) -> Iterator[Step]:
        if s.hour < self.budget.hours and any(message(ROWS[r].message).kind in PERMITS for r in s.rows):
            yield "world: validity ends", s._replace(hour=s.hour + 1)
        for no in sorted(s.flight):
            yield f"world: {message(no).kind} arrives late", self._heard(s, (no,))._replace(flight=s.flight - {no})
        if s.left[CRASHES]:
            flight = s.flight
            if not self.weak.kills:
                flight |= {no for w in s.workers if w.stage == "about" for no in w.messages}
            left = spend(s, CRASHES)
            yield "world: crash", s._replace(workers=(), held=(), flight=flight, left=left)

    def _people(self, s: State) -> Iterator[Step]:
        for number in s.rows:
            row, told = ROWS[number], message(ROWS[number].message)
            heard = row.state is S.ACCEPTED or (row.was_accepted and row.state in _REPEATED)
            if told.kind in _INSISTENT and heard:
                after = self._put(s, step(self.due(s, number), Event.CONFIRMED, s.hour))
                yield f"person: confirms {told.kind} of {told.subject}", after

    def _system(self, s: State) -> Iterator[Step]:
        for no in s.held:
            yield "system: written", written(s._replace(held=s.held[1:]), (no,), self._most)
            break
        for number in s.rows:
            yield from self._sends(s, number)
        for worker in s.workers:
            yield from self._attempt(s, worker)

    def _sends(self, s: State, number: int) -> Iterator[Step]:
        due = self.due(s, number)
        row, kind = due.delivery, due.message.kind
        mine = {no for w in s.workers for no in w.messages}
        if row.state is S.CALLING and row.no not in mine:
            yield "system: recovers", self._after(s, due, lost(due, s.hour, ""))
        elif row.state is S.UNSURE:
            after = resolved(due, s.hour)
            if after is not None:
                yield f"system: unsure {kind}", self._put(s, after)
        elif row.state is S.ACCEPTED and not self.budget.repeats:
            return
        elif len(s.workers) < (2 if self.weak.parallel else 1) and row.no not in mine:
            yield from self._claim(s, due)

    def _claim(self, s: State, due: Due) -> Iterator[Step]:
        row, kind = due.delivery, due.message.kind
        permission = may_go(due, s.hour)
        sendable = row.state in {S.QUEUED, S.WAITING} and not due.busy
        if isinstance(permission, Go) or (not self.weak.fences and sendable):
            # A repeat is not work that must end: it goes on until a person confirms.
            label = "repeat" if row.state is S.ACCEPTED else "system"
            others = [self.due(s, n) for n in s.rows if ROWS[n].state in {S.QUEUED, S.WAITING}]
            going = [due] if self.weak.parallel else [due, *companions(due, others, s.hour)]
            after = s
            for one in going:
                claimed = claim(one, s.hour, token=TOKEN, lease_ms=1)
                if not self.weak.commits_calling:
                    claimed = replace(one.delivery, lease_token=TOKEN)
                after = self._put(after, claimed)
            worker = Worker(tuple(sorted(one.delivery.no for one in going)))
            yield f"{label}: claims {kind}", after._replace(workers=(*s.workers, worker))
        elif isinstance(permission, Supersede):
            yield f"system: {kind} fenced", self._put(s, step(due, Event.VOIDED, s.hour))

    def _attempt(self, s: State, worker: Worker) -> Iterator[Step]:
        kind = message(worker.messages[0]).kind
        if worker.stage != "about":
            yield f"system: outcome of {kind}", self._answered(s, worker)
            return
        reached = self._heard(s, worker.messages)
        yield f"system: {kind} accepted", _staged(reached, worker, "accepted")
        if s.left[LOSSES]:
            left = spend(s, LOSSES)
            fewer, arrived = s._replace(left=left), reached._replace(left=left)
            flight = s.flight if self.weak.kills else s.flight | set(worker.messages)
            yield f"system: {kind} not accepted", _staged(fewer, worker, "not now")
            yield f"system: {kind}, answer lost", _staged(arrived, worker, "unsure")
            yield f"system: {kind} given up", _staged(fewer._replace(flight=flight), worker, "unsure")

    def _heard(self, s: State, numbers: tuple[int, ...]) -> State:
        for no in numbers:
            m, i = message(no), self._index(no)
            seen = put_at(s.seen, i, no)
            if m.kind is MessageKind.KEEP_OFF:
                seen = (no,) * len(self.operations)
            mine = m.kind in PERMITS and m.epoch == GATES[s.gates[i]].epoch
            s = s._replace(seen=seen, excess=put_at(s.excess, i, s.excess[i] + mine))
        return s

    def _answered(self, s: State, worker: Worker) -> State:
        s = s._replace(workers=tuple(w for w in s.workers if w != worker))
        for no in worker.messages:
            number = next(r for r in s.rows if ROWS[r].no == no)
            if not self.weak.commits_calling:
                row = ROWS[number]
                number = ROWS.number(replace(row, state=S.CALLING, attempt=row.attempt + 1))
            due = self.due(s, number)
            s = self._after(s, due, answered(due, Outcome(OutcomeKind(worker.stage), ""), TOKEN, s.hour))
        return s

    def _after(self, s: State, due: Due, after: Delivery) -> State:
        i = self._index(due.message.no)
        mine = due.message.kind in PERMITS and due.message.epoch == GATES[s.gates[i]].epoch
        doubt = mine and after.state is S.UNSURE
        s = self._put(s._replace(excess=put_at(s.excess, i, s.excess[i] - doubt)), after)
        if self.weak.repeats:
            told = [self.due(s, n) for n in s.rows]
            mates = [d for d in told if d.message.kind is MessageKind.WITHDRAWAL]
            same = [d for d in mates if d.message.subject == due.message.subject]
            for again in overtaken(replace(due, delivery=after), same, s.hour):
                if self.weak.marks or not again.again:
                    s = self._put(s, again)
        return s

    def _put(self, s: State, row: Delivery) -> State:
        number = kept(row, self._most)
        return s._replace(rows=tuple(number if ROWS[r].no == row.no else r for r in s.rows))

    def _tidy(self, s: State) -> State:
        """Forget rows that nothing can change, or would look at, any more."""
        if not self._counts:
            zero = (0,) * len(self.operations)
            s = s._replace(told=zero, excess=zero)
        if not s.rows:
            return s
        old = self._of_past_epochs(s)
        if not old:
            return s
        busy = {no for w in s.workers for no in w.messages} | s.flight
        live = {self._index(ROWS[r].message) for r in s.rows if _may_arrive(r, busy)}
        past = {r for r in old if self._is_past(r, live, busy)}
        rows = tuple(r for r in s.rows if r not in past)
        return s if len(rows) == len(s.rows) else s._replace(rows=rows)

    def _of_past_epochs(self, s: State) -> tuple[int, ...]:
        key = s.gates, s.rows
        if key not in self._old:
            epochs = [GATES[g].epoch for g in s.gates]
            of = ((r, message(ROWS[r].message)) for r in s.rows)
            self._old[key] = tuple(r for r, told in of if told.epoch < epochs[self._index(told.no)])
        return self._old[key]

    def _is_past(self, number: int, live: set[int], busy: set[int] | frozenset[int]) -> bool:
        row = ROWS[number]
        if _is_permit(number):
            return row.state in {S.SUPERSEDED, S.ESCALATED, S.REFUSED, S.ACCEPTED}
        return row.state is S.CONFIRMED and self._index(row.message) not in live and row.no not in busy


def _may_arrive(number: int, busy: set[int] | frozenset[int]) -> bool:
    row = ROWS[number]
    return _is_permit(number) and (row.no in busy or row.state in {S.QUEUED, S.WAITING, S.CALLING, S.UNSURE})


def _staged(s: State, worker: Worker, stage: str) -> State:
    others = tuple(w for w in s.workers if w != worker)
    return s._replace(workers=(*others, worker._replace(stage=stage)))
