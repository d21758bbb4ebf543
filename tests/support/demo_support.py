"""What the tests of the demo share: its readings once, counted hours by hand, rows of a board."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from itertools import pairwise

from deploy.demo.loggers import PublishedReading, readings, site
from deploy.demo.scenario import POURS
from deploy.demo.truth import Truth, truth
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, BayId, MixId, Ms, Operation, PourId, SensorId
from shared.models.decisions import Gate, GateState, Hold, Pour, PourState
from shared.models.setup import Zone
from shared.ports import BoardRow

AIR = frozenset({Zone.AIR, Zone.AIR_BELOW})


@cache
def sent() -> tuple[PublishedReading, ...]:
    """Return every reading of the demo."""
    return tuple(readings())


def slabs() -> Truth:
    """Return the demo's virtual slabs."""
    return truth()


def concrete(bay: BayId) -> Mapping[SensorId, Sequence[PublishedReading]]:
    """Return the readings of a bay's concrete sensors, by time."""
    sensors = [s.sensor_id for s in site().bay_named(bay).sensors if s.zone not in AIR]
    by_time = sorted(sent(), key=lambda r: r.taken_ms)
    return {sensor: [r for r in by_time if r.sensor == sensor] for sensor in sensors}


def counted_h(bay: BayId, end: Ms, at: Ms, limit_c: float = 5.0) -> float:
    """Return hours from `end` to `at` in which every concrete sensor lies in an interval of at most 22.5 min whose
    both ends are at or above the limit, minute by minute. [h]
    """
    good: list[set[int]] = []
    for rows in concrete(bay).values():
        minutes: set[int] = set()
        for a, b in pairwise(rows):
            if b.taken_ms - a.taken_ms <= 1_350_000 and min(a.milli_c, b.milli_c) >= limit_c * 1000:
                minutes |= set(range(a.taken_ms // 60_000, b.taken_ms // 60_000))
        good.append(minutes)
    counted = set.intersection(*good)
    return sum(end // 60_000 <= m < at // 60_000 for m in counted) * 60_000 / HOUR_MS


def board_row(
    pour: str,
    states: Mapping[Operation, GateState] | None = None,
    *,
    changed_ms: Ms = 0,
    epoch: int = 1,
    holds: tuple[Hold, ...] = (),
    checked: bool = True,
) -> BoardRow:
    """Return a row of the board for a pour of the demo, checked by a second person; gates not named are curing."""
    entered = next(p for p in POURS if p.pour == pour)
    found = dict.fromkeys((STRIP, WALK, LOAD), GateState.CURING) | dict(states or {})
    gates = {op: Gate(PourId(pour), op, state, epoch, changed_ms) for op, state in found.items()}
    row = Pour(PourId(pour), entered.bay, MixId("c32-f"), entered.start_ms, entered.end_ms)
    memory = {
        "ended_by": "super",
        **({"check": {"who": "qc", "end_ms": row.end_ms, "mix": row.mix}} if checked else {}),
    }
    return BoardRow(row, entered.bay[0], gates, holds, PourState(memory=memory), ())
