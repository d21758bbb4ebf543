"""Walks every interleaving and counts the states that break a promise."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterator, Mapping
from typing import Final

from interleavings import GATES, ROWS, State, Step, message, row_of
from interleavings_model import Model

from cure.gate import held
from shared.models.base import WALK
from shared.models.decisions import Gate, GateState
from shared.models.messages import PERMITS, MessageKind
from shared.models.messages import DeliveryState as S

G = GateState
K = MessageKind
_SETTLED: Final = frozenset({S.ACCEPTED, S.CONFIRMED, S.SUPERSEDED, S.ESCALATED})
_HOLDS: Final = frozenset({G.MET, G.RELEASED, G.UNDER_WAY, G.DONE})
"""States in which a permit may be the last that somebody has heard."""

R1 = "R1 released on evidence that does not meet it"
R2 = "R2 a release begun while its gate is not released"
R3 = "R3 shut, but the recipient heard a release last"
R4 = "R4 released without a message"
R5 = "R5 withdrawn without a message"
R6 = "R6 withdrawn, its message unfinished"
R7 = "R7 accepted twice without a record of doubt"
F1 = "F1 more than two messages between human decisions"
K1 = "K1 a strip under way, but walking was allowed last"
D1 = "D1 cannot come to rest"


def walk(model: Model, most: int = 1_000_000) -> Mapping[State, tuple[Step, ...]]:
    """Return every reachable state with its steps; an assertion when there are more than `most`."""
    first = model.first()
    edges: dict[State, tuple[Step, ...]] = {}
    known, queue = {first: first}, deque([first])
    while queue:
        state = queue.popleft()
        steps = []
        for label, after in model.steps(state):
            # Looked up once: to hash a state is a good part of a step.
            same = known.setdefault(after, after)
            if same is after:
                queue.append(after)
            steps.append((label, same))
        edges[state] = tuple(steps)
        assert len(known) <= most, "more states than the budget was meant for"
    return edges


def broken_promises(model: Model, edges: Mapping[State, tuple[Step, ...]]) -> dict[str, int]:
    """Return how many states break each promise."""
    found: Counter[str] = Counter()
    for s, steps in edges.items():
        found.update(_at_any_time(model, s, steps))
        if not s.flight and not s.workers and not any(label.startswith("system:") for label, _ in steps):
            found.update(_at_rest(model, s))
    stuck = len(edges) - len(_drainable(edges))
    return dict(found) | ({D1: stuck} if stuck else {})


def _at_any_time(model: Model, s: State, steps: tuple[Step, ...]) -> Iterator[str]:
    if any(n > 1 for n in s.excess):
        yield R7
    if any(n > 2 for n in s.told):
        yield F1
    if any(_opens_badly(model, s, after) for label, after in steps if not label.startswith("world:")):
        yield R1
    if any(_begins_badly(model, s, after) for label, after in steps if label == "system: claims released"):
        yield R2


def _opens_badly(model: Model, s: State, after: State) -> bool:
    for i, (old, new) in enumerate(zip(s.gates, after.gates, strict=True)):
        if GATES[new].state is G.RELEASED and GATES[old].state in {G.CURING, G.MET, G.WITHDRAWN}:
            stripping = model.operations[i] == WALK and any(GATES[g].state is G.UNDER_WAY for g in s.gates)
            if not s.good or not s.fresh or stripping:
                return True
    return False


def _begins_badly(model: Model, s: State, after: State) -> bool:
    begun = {no for w in after.workers for no in w.messages} - {no for w in s.workers for no in w.messages}
    gates = [GATES[s.gates[model.operations.index(message(no).subject)]] for no in begun]
    return any(gate.state is not G.RELEASED for gate in gates)


def _at_rest(model: Model, s: State) -> Iterator[str]:
    for i, operation in enumerate(model.operations):
        gate, heard = GATES[s.gates[i]], s.seen[i]
        allowed = heard > 0 and message(heard).kind in PERMITS
        if allowed and held(gate) not in _HOLDS:
            yield R3
        if allowed and operation == WALK and any(GATES[g].state is G.UNDER_WAY for g in s.gates):
            yield K1
        yield from _messages_at_rest(s, gate)


def _messages_at_rest(s: State, gate: Gate) -> Iterator[str]:
    release = row_of(s, K.RELEASED, gate.operation, gate.epoch)
    withdrawal = row_of(s, K.WITHDRAWAL, gate.operation, gate.epoch)
    if gate.state is G.RELEASED and release is None:
        yield R4
    if gate.state is G.WITHDRAWN and withdrawal is None:
        yield R5
    if gate.state is G.WITHDRAWN and withdrawal is not None and withdrawal.state not in _SETTLED:
        yield R6


def _drainable(edges: Mapping[State, tuple[Step, ...]]) -> set[State]:
    """Return the states from which the system's and people's own steps lead to rest."""
    into: dict[State, list[State]] = {}
    for s, steps in edges.items():
        for label, after in steps:
            if not label.startswith(("world:", "repeat:")):
                into.setdefault(after, []).append(s)
    reached = {s for s in edges if not s.workers and not s.flight and not s.held and _all_settled(s)}
    stack = list(reached)
    while stack:
        for before in into.get(stack.pop(), []):
            if before not in reached:
                reached.add(before)
                stack.append(before)
    return reached


def _all_settled(s: State) -> bool:
    return all(ROWS[r].state in _SETTLED for r in s.rows)
