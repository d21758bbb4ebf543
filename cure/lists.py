"""What the morning list and the shift handover say: facts made of the stored rows alone. Pure.

A list lets nothing go ahead: what it calls released has been told by a message of its own, with the load of that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from cure.work import why
from shared.models.base import DAY_MS, Json, Ms, Operation
from shared.models.decisions import Doubt, Gate, GateState
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.models.setup import SiteFile
from shared.ports import BoardRow

S: Final = GateState
RELEASED: Final = frozenset({S.RELEASED, S.UNDER_WAY})
WAITING: Final = frozenset({S.NOT_SET_UP, S.CURING, S.MET})
LOOK_FIRST: Final = frozenset({S.WITHDRAWN, S.SUSPENDED, S.DONE_WITHOUT_RELEASE})
CONFIRMED_BY_PERSONS: Final = frozenset({MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF})
NEEDS_A_PERSON: Final = frozenset({DeliveryState.ESCALATED, DeliveryState.UNSURE, DeliveryState.REFUSED})
DELIVERIES_OF_MS: Final = DAY_MS
"""A delivery that failed is listed by one handover; a withdrawal that nobody confirmed by every one."""
_NO_HOUR: Final[Mapping[str, Json]] = {"expected_ms": None, "cause": ""}


@dataclass(frozen=True)
class Shown:
    """What the site book shows at an hour."""

    site: SiteFile
    rows: Sequence[BoardRow]
    messages: Sequence[Message]
    deliveries: Sequence[Delivery]
    doubts: Sequence[Doubt]
    """About the service itself."""

    @cached_property
    def releases(self) -> Mapping[tuple[str, str, int], Message]:
        """The release of each pour, operation and epoch."""
        return {(m.pour, m.subject, m.epoch): m for m in self.messages if m.kind is MessageKind.RELEASED}


def _gates(shown: Shown, states: frozenset[GateState]) -> Iterator[tuple[BoardRow, Operation, Gate]]:
    for row in shown.rows:
        yield from ((row, operation, gate) for operation, gate in row.gates.items() if gate.state in states)


def _where(row: BoardRow, operation: Operation) -> dict[str, Json]:
    return {"bay": row.pour.bay, "pour": row.pour.id, "operation": operation}


def _exclusions(shown: Shown, row: BoardRow) -> str | None:
    return next((b.exclusions for b in shown.site.bay if b.id == row.pour.bay), None)


def released(shown: Shown) -> list[dict[str, Json]]:
    """Return what is released and not done, with what was told of it."""
    found = []
    for row, operation, gate in _gates(shown, RELEASED):
        release = shown.releases.get((gate.pour, operation, gate.epoch))
        since_ms = gate.changed_ms if gate.state is S.RELEASED else None
        said = {
            "since_ms": since_ms if release is None else release.at_ms,
            "load_kpa": None if release is None else release.facts.get("load_kpa"),
            "exclusions": _exclusions(shown, row),
        }
        found.append(_where(row, operation) | said)
    return found


def expected(shown: Shown) -> list[dict[str, Json]]:
    """Return what waits for its evidence or its signature, the soonest first, those without an hour last."""
    found = []
    for row, operation, gate in _gates(shown, WAITING):
        look = row.state.memory.get("expected", {}).get(operation) if gate.state is S.CURING else None
        said = {**_NO_HOUR, **(look or {})}
        found.append(_where(row, operation) | {**said, "cause": said["cause"] or _waits_for(row, operation, gate)})
    return sorted(found, key=lambda e: (e["expected_ms"] is None, e["expected_ms"] or 0))


def _waits_for(row: BoardRow, operation: Operation, gate: Gate) -> str:
    if gate.state is S.MET:
        return "requirement met, not signed"
    verdict = next((v for v in row.state.verdicts if v.operation == operation), None)
    if verdict is None:
        return "not judged yet"
    return "; ".join(verdict.missing) or why(verdict)


def _line(row: BoardRow, *said: str) -> str:
    return f"bay {row.pour.bay}, pour {row.pour.id}, " + ": ".join(part for part in said if part)


def holds(shown: Shown) -> list[str]:
    """Return a line for each hold, with its owner."""
    return [_line(row, h.kind, f"owner {h.owner}", h.reason) for row in shown.rows for h in row.holds]


def doubts(shown: Shown) -> list[str]:
    """Return a line for each doubt about the service itself."""
    return [f"{d.kind} in doubt: {d.reason}" for d in shown.doubts]


def shut(shown: Shown) -> list[str]:
    """Return a line for each gate that a person must open again."""
    return [_line(row, operation, gate.state, gate.reason) for row, operation, gate in _gates(shown, LOOK_FIRST)]


def under_way(shown: Shown) -> list[str]:
    """Return a line for each operation that a crew is at."""
    return [_line(row, operation) for row, operation, _ in _gates(shown, frozenset({S.UNDER_WAY}))]


def deliveries(shown: Shown, now_ms: Ms) -> list[str]:
    """Return a line for each message whose delivery needs a person, by number."""
    rows: dict[int, list[Delivery]] = {}
    for delivery in shown.deliveries:
        rows.setdefault(delivery.message, []).append(delivery)
    lines = []
    for message in shown.messages:
        said = undelivered(message, rows.get(message.no, []), now_ms)
        if said:
            of = f"bay {message.facts.get('bay')}, pour {message.pour}: " if message.pour else ""
            lines.append(f"no. {message.no}, {message.kind}, {of}{said}")
    return lines


def undelivered(message: Message, rows: Sequence[Delivery], now_ms: Ms) -> str:
    """Return for which person a message waits, by its deliveries; "": for none."""
    if any(d.state is DeliveryState.CONFIRMED for d in rows):
        return ""
    if message.kind in CONFIRMED_BY_PERSONS:
        return "nobody has confirmed it"
    if now_ms - message.at_ms > DELIVERIES_OF_MS:
        return ""
    return ", ".join(f"{d.recipient} {d.state}" for d in rows if d.state in NEEDS_A_PERSON)


def morning(shown: Shown) -> dict[str, Any]:
    """Return the facts of the morning list; it goes out also when nothing is in it, as the day's test of channels."""
    look_first = [*doubts(shown), *shut(shown), *holds(shown)]
    return {"released": released(shown), "expected": expected(shown), "look_first": look_first}


def handover(shown: Shown, now_ms: Ms) -> dict[str, Any]:
    """Return the facts of the handover at the end of a shift."""
    return {
        "released": released(shown),
        "expected": expected(shown),
        "under_way": under_way(shown),
        "holds": holds(shown),
        "deliveries": deliveries(shown, now_ms),
        "look_first": [*doubts(shown), *shut(shown)],
    }
