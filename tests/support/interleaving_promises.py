"""Walks every interleaving and counts the states that break a promise."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from typing import Final

from interleavings import RELEASE, WITHDRAWAL, Model, State, Step, message_of

from shared.models.decisions import GateState
from shared.models.messages import Delivery
from shared.models.messages import DeliveryState as S

_SETTLED: Final = frozenset({S.ACCEPTED, S.CONFIRMED, S.SUPERSEDED, S.ESCALATED})


def walk(model: Model) -> Mapping[State, tuple[Step, ...]]:
    """Return every reachable state with its steps."""
    first = model.first()
    edges: dict[State, tuple[Step, ...]] = {}
    known, queue = {first}, deque([first])
    while queue:
        state = queue.popleft()
        edges[state] = steps = tuple(model.steps(state))
        for _, after in steps:
            if after not in known:
                known.add(after)
                queue.append(after)
    return edges


def _quiet(s: State, steps: tuple[Step, ...]) -> bool:
    return not s.flight and not s.workers and not any(label.startswith("system:") for label, _ in steps)


def _row(s: State, kind: str) -> Delivery | None:
    return next((r for r in s.rows if r.message == message_of(kind, s.gate.epoch).no), None)


def _last_is_release(s: State) -> bool:
    shut = s.gate.state not in {GateState.RELEASED, GateState.MET}
    return shut and s.seen is not None and s.seen[0] == RELEASE


def _unfinished(s: State) -> bool:
    row = _row(s, WITHDRAWAL)
    return s.gate.state is GateState.WITHDRAWN and row is not None and row.state not in _SETTLED


AT_REST: Final[dict[str, Callable[[State], bool]]] = {
    "R3 shut, but the recipient heard a release last": _last_is_release,
    "R4 released without a message": lambda s: s.gate.state is GateState.RELEASED and _row(s, RELEASE) is None,
    "R5 withdrawn without a message": lambda s: s.gate.state is GateState.WITHDRAWN and _row(s, WITHDRAWAL) is None,
    "R6 withdrawn, its message unfinished": _unfinished,
}


def broken_promises(edges: Mapping[State, tuple[Step, ...]]) -> dict[str, int]:
    """Return how many states break each promise."""
    found: dict[str, int] = {}

    def count(name: str) -> None:
        found[name] = found.get(name, 0) + 1

    for s, steps in edges.items():
        if s.accepted > 1 + s.unsure:
            count("R7 accepted twice without a record of doubt")
        if s.gate.state is not GateState.RELEASED and any(label == "system: claims release" for label, _ in steps):
            count("R2 a release begun while its gate is not released")
        if _quiet(s, steps):
            for name, broken in AT_REST.items():
                if broken(s):
                    count(name)
    stuck = len(edges) - len(_drainable(edges))
    return found | ({"D1 cannot come to rest": stuck} if stuck else {})


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
    return all(r.state in _SETTLED for r in s.rows)
