"""The model's gates: the round, and what people do, over the real `cure.gate`. One page signs strip and walk."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final

from interleavings import (
    DOUBTS,
    FADES,
    FLIPS,
    GATES,
    STOPS,
    Policy,
    State,
    Step,
    Weak,
    message,
    message_no,
    new_row,
    row_of,
    spend,
)

from cure.gate import OPEN, GateEvent, allows, held, step
from shared.models.base import STRIP, WALK, Operation
from shared.models.decisions import Gate, GateState
from shared.models.messages import DeliveryState, MessageKind

E = GateEvent
G = GateState
K = MessageKind
_SWAPPED: Final = {"a": "b", "b": "a"}


@dataclass
class Page:
    """One transaction of cure in the making: gates, and the messages that it writes."""

    before: State
    gates: list[Gate]
    struck: list[int]
    said: list[tuple[int, int]] = field(default_factory=list)
    """Operation's index and message number."""
    decided: set[int] = field(default_factory=set)
    """Operations about which a person has decided."""

    @classmethod
    def of(cls, s: State) -> Page:
        """Return a transaction in which nothing has happened."""
        return cls(s, [GATES[n] for n in s.gates], list(s.struck))

    def take(self, i: int, event: GateEvent) -> None:
        """Step a gate."""
        self.gates[i] = replace(step(self.gates[i], event, 0, ""), snapshot=None)

    def tell(self, i: int, kind: MessageKind) -> None:
        """Write a message; one that is there already stays as it is."""
        gate = self.gates[i]
        self.said.append((i, message_no(kind, gate.operation, gate.epoch, self.before.hour)))


class Gates:
    """Rounds and acts as steps of the model."""

    def __init__(self, operations: tuple[Operation, ...], policy: Policy, weak: Weak, first_attempt: int) -> None:
        self.operations = operations
        self.policy = policy
        self.weak = weak
        self.first_attempt = first_attempt
        self._rounds: dict[tuple[object, ...], Page] = {}

    def steps(self, s: State) -> Iterator[Step]:
        """Yield what the world, the round and people do to the gates."""
        yield from self._world(s)
        page = self.round(s, estimates=2)
        yield from self._written("gate: round", s, page)
        yield from self._signs(s)
        yield from self._acts(s)
        if s.doubtful:
            yield "person: resumes", s._replace(doubtful=False)

    def _world(self, s: State) -> Iterator[Step]:
        if s.left[FLIPS]:
            yield "world: evidence flips", s._replace(good=not s.good, left=spend(s, FLIPS))
        if s.left[FADES]:
            yield "world: a sensor fades", s._replace(fresh=not s.fresh, left=spend(s, FADES))
        if s.left[DOUBTS] and not s.doubtful:
            yield "world: a doubt", s._replace(doubtful=True, left=spend(s, DOUBTS))

    def met(self, s: State, i: int) -> bool:
        """Return whether the requirement is met: walk's asks for no strip under way."""
        stripping = self.operations[i] == WALK and any(GATES[n].state is G.UNDER_WAY for n in s.gates)
        return s.good and s.fresh and not stripping

    def round(self, s: State, *, estimates: int = 1) -> Page:
        """Return what a round makes of the gates; nothing is met at one estimate, as in the round of an act."""
        key = s.gates, s.struck, s.good, s.fresh, s.doubtful, s.hour, estimates
        if key not in self._rounds:
            self._rounds[key] = self._round(s, estimates)
        page = self._rounds[key]
        return Page(s, [*page.gates], [*page.struck], [*page.said])

    def _round(self, s: State, estimates: int) -> Page:
        """As `cure.assess` orders it."""
        page = Page.of(s)
        for i in range(len(self.operations)):
            if held(page.gates[i]) in OPEN | {G.DONE}:
                self._check(s, page, i)
            if not s.doubtful:
                self._judge(s, page, i, estimates)
            elif allows(page.gates[i].state, E.SUSPEND):
                page.take(i, E.SUSPEND)
            self._take_back(s, page, i)
        return page

    def _check(self, s: State, page: Page, i: int) -> None:
        if s.good or page.struck[i] == page.gates[i].epoch + 1:
            return
        page.take(i, E.CONTRADICTED)
        page.tell(i, K.WITHDRAWAL)
        page.struck[i] = page.gates[i].epoch + 1

    def _judge(self, s: State, page: Page, i: int, estimates: int) -> None:
        if page.gates[i].state is G.SUSPENDED:
            page.take(i, E.RESUME)
        state = page.gates[i].state
        told = self.policy is Policy.NOBODY_SIGNS
        if state is G.MET and not (s.good if told else self.met(s, i)):
            page.take(i, E.UNMET)
        elif state is G.CURING and self.met(s, i) and estimates > 1:
            page.take(i, E.MET)
            if told:
                page.tell(i, K.MET_NOT_SIGNED)
            if self.policy is Policy.AUTOMATIC:
                page.take(i, E.SIGNED)
                page.tell(i, K.RELEASED)
        elif state is G.WITHDRAWN and s.good and not self.weak.latched:
            page.take(i, E.REOPENED)

    def _take_back(self, s: State, page: Page, i: int) -> None:
        """Withdraw "requirement met, not signed" once."""
        gate = page.gates[i]
        was_met = held(GATES[s.gates[i]]) is G.MET
        if self.policy is Policy.NOBODY_SIGNS and was_met and not s.good and page.struck[i] != gate.epoch + 1:
            page.tell(i, K.WITHDRAWAL)
            page.struck[i] = gate.epoch + 1

    def _signs(self, s: State) -> Iterator[Step]:
        if self.policy.value < 1:
            return
        page = self.round(s) if self.weak.rechecks else Page.of(s)
        found_met = [
            i for i, gate in enumerate(page.gates) if gate.state is G.MET and (not self.weak.rechecks or self.met(s, i))
        ]
        for size in range(1, len(found_met) + 1):
            for these in combinations(found_met, size):
                for who in "ab":
                    yield from self._signed(s, these, who)

    def _signed(self, s: State, these: tuple[int, ...], who: str) -> Iterator[Step]:
        page = self.round(s) if self.weak.rechecks else Page.of(s)
        if any(who in page.gates[i].signers for i in these):
            return
        released = []
        for i in these:
            page.gates[i] = gate = replace(page.gates[i], signers=(*page.gates[i].signers, who))
            if len(gate.signers) >= self.policy.value:
                page.take(i, E.SIGNED)
                released.append(i)
        for i in released:
            page.tell(i, K.RELEASED)
        page.decided.update(these)
        names = "+".join(self.operations[i] for i in these)
        yield from self._written(f"person: {who} signs {names}", s, page)

    def _acts(self, s: State) -> Iterator[Step]:
        states = [gate.state for gate in self.round(s).gates]
        for i, (operation, state) in enumerate(zip(self.operations, states, strict=True)):
            if operation == STRIP and WALK in self.operations and state is G.RELEASED:
                yield from self._act(s, i, E.BEGUN, K.KEEP_OFF)
            if operation == STRIP and state in OPEN:
                yield from self._act(s, i, E.FINISHED, None)
            if state is G.WITHDRAWN and self._confirmed(s, i):
                yield from self._act(s, i, E.REOPENED, None)
        if s.left[STOPS]:
            yield from self._stopped(s)

    def _act(self, s: State, i: int, event: GateEvent, kind: MessageKind | None) -> Iterator[Step]:
        page = self.round(s)
        page.take(i, event)
        if kind is not None:
            page.tell(i, kind)
        page.decided.add(i)
        yield from self._written(f"person: {event} {self.operations[i]}", s, page)

    def _stopped(self, s: State) -> Iterator[Step]:
        page = self.round(s)
        for i, gate in enumerate(page.gates):
            if allows(gate.state, E.STOPPED):
                page.take(i, E.STOPPED)
                page.tell(i, K.WITHDRAWAL)
                page.decided.add(i)
        yield from self._written("person: STOP", s._replace(left=spend(s, STOPS)), page)

    def _confirmed(self, s: State, i: int) -> bool:
        row = row_of(s, K.WITHDRAWAL, self.operations[i], GATES[s.gates[i]].epoch)
        return row is not None and row.state is DeliveryState.CONFIRMED

    def _written(self, label: str, s: State, page: Page) -> Iterator[Step]:
        gates = _canonical(page.gates)
        after = s._replace(gates=gates, struck=tuple(page.struck))
        after = _counted(after, page, s)
        if not self.weak.atomic:
            after = after._replace(held=(*after.held, *(no for _, no in page.said)))
        else:
            after = written(after, (no for _, no in page.said), self.first_attempt)
        if after != s:
            yield label, after


def _canonical(gates: list[Gate]) -> tuple[int, ...]:
    """Two people who may sign alike are told apart only by who signed first."""
    names = [who for gate in gates for who in gate.signers]
    if names[:1] == ["b"]:
        gates = [replace(g, signers=tuple(_SWAPPED[who] for who in g.signers)) for g in gates]
    return tuple(GATES.number(g) for g in gates)


def _counted(after: State, page: Page, s: State) -> State:
    told = [0 if i in page.decided else n for i, n in enumerate(after.told)]
    for i, _ in page.said:
        told[i] = min(3, told[i] + 1)
    # A new epoch's release is another message: what was heard of the last one is counted.
    new = [GATES[a].epoch != GATES[b].epoch for a, b in zip(s.gates, after.gates, strict=True)]
    excess = [0 if moved else n for moved, n in zip(new, after.excess, strict=True)]
    return after._replace(told=tuple(told), excess=tuple(excess))


def written(s: State, numbers: Iterable[int], attempt: int) -> State:
    """Return the state with the messages' rows; one that is there already stays as it is."""
    for no in numbers:
        m = message(no)
        if row_of(s, m.kind, Operation(m.subject), m.epoch) is None:
            s = s._replace(rows=(*s.rows, new_row(no, attempt)))
    return s
