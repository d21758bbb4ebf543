"""What became of each gate, hour and reason: how a live demo, its replay and the checked-in story are compared."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from deploy.demo.scenario import at
from shared.models.acts import ms
from shared.models.base import Ms
from shared.models.decisions import GateState, LogEntry

LEDGER_FILE: Final = Path(__file__).with_name("ledger.json")


@dataclass(frozen=True, slots=True, order=True)
class Line:
    """One step of one gate."""

    at_ms: Ms
    pour: str
    operation: str
    before: str
    after: str
    reason: str

    def step(self) -> tuple[str, ...]:
        """Return everything but the hour."""
        return (self.pour, self.operation, self.before, self.after, self.reason)


_ENTERING: Final = {GateState.NOT_SET_UP, GateState.CURING}


def lines_of(log: Iterable[LogEntry]) -> list[Line]:
    """Return the gate steps in a log, each gate's in its own order.

    Steps between "not set up" and "curing" are left out: they tell in which order the set-up was entered, no more.
    """
    steps = [
        Line(e.at_ms, e.body["pour"], e.body["operation"], e.body["from"], e.body["to"], e.body["reason"])
        for e in log
        if e.what == "gate" and {e.body["from"], e.body["to"]} != _ENTERING
    ]
    return sorted(steps, key=lambda line: (line.pour, line.operation))


def differences(wanted: Sequence[Line], found: Sequence[Line], within_ms: Ms) -> list[str]:
    """Return what differs: a step missing, too many, or further apart than `within_ms`."""
    out = []
    for pour, operation in sorted({(x.pour, x.operation) for x in (*wanted, *found)}):
        a = [x for x in wanted if (x.pour, x.operation) == (pour, operation)]
        b = [x for x in found if (x.pour, x.operation) == (pour, operation)]
        if [x.step() for x in a] != [x.step() for x in b]:
            out.append(f"{pour} {operation}: wanted {[x.step()[2:] for x in a]}, found {[x.step()[2:] for x in b]}")
            continue
        for x, y in zip(a, b, strict=True):
            if abs(x.at_ms - y.at_ms) > within_ms:
                out.append(f"{pour} {operation} to {x.after}: {(y.at_ms - x.at_ms) / 60_000:+.1f} min")
    return out


def to_json(lines: Sequence[Line]) -> str:
    """Return lines as the ledger file holds them."""
    rows: list[dict[str, Any]] = [
        {
            "at": at(x.at_ms).isoformat(timespec="seconds"),
            "pour": x.pour,
            "operation": x.operation,
            "from": x.before,
            "to": x.after,
            "reason": x.reason,
        }
        for x in lines
    ]
    return "[\n" + ",\n".join(json.dumps(r, ensure_ascii=False) for r in rows) + "\n]\n"


def from_json(text: str) -> list[Line]:
    """Read what `to_json` wrote."""
    return [
        Line(ms(datetime.fromisoformat(r["at"])), r["pour"], r["operation"], r["from"], r["to"], r["reason"])
        for r in json.loads(text)
    ]
