"""When operations are expected, as the last round foresaw it. Expected, not released. Pure."""

from __future__ import annotations

from typing import Final

from cure.dashboard.reader import Reader
from shared.models.base import Ms, Operation
from shared.models.decisions import GateState
from shared.ports import BoardRow

WAITS: Final = frozenset({GateState.CURING, GateState.HOLD, GateState.NOT_SET_UP})


def expected_ms(row: BoardRow, operation: Operation, now: Ms, *, stopped: bool) -> Ms | None:
    """Return by when an operation is expected with an even chance, or as things are where nothing is foreseen.

    None: it is not waited for, nobody knows, or the hour has passed.
    """
    return _said_ms(row, operation, "expected_ms", now, stopped=stopped)


def cautious_ms(row: BoardRow, operation: Operation, now: Ms, *, stopped: bool) -> Ms | None:
    """Return the hour that nine forecasts in ten keep; None: likewise, or nothing is foreseen."""
    return _said_ms(row, operation, "cautious_ms", now, stopped=stopped)


def _said_ms(row: BoardRow, operation: Operation, name: str, now: Ms, *, stopped: bool) -> Ms | None:
    if stopped or row.gates[operation].state not in WAITS:
        return None
    said = row.state.memory.get("expected", {}).get(operation, {}).get(name)
    return said if isinstance(said, int) and said > now else None


def soonest_ms(row: BoardRow, now: Ms) -> Ms | None:
    """Return the first cautious hour of a pour that lies ahead; None: there is none."""
    hours = (cautious_ms(row, operation, now, stopped=False) for operation in row.gates)
    return min((h for h in hours if h is not None), default=None)


def expected_words(row: BoardRow, operation: Operation, now: Ms, reader: Reader, *, stopped: bool) -> str:
    """Return both hours of an operation in words; "": there is none."""
    even, cautious = (of(row, operation, now, stopped=stopped) for of in (expected_ms, cautious_ms))
    if cautious is not None and even is not None:
        return reader.say("expected-both", cautious=reader.hour(cautious, now), even=reader.hour(even, now))
    if cautious is not None:
        return reader.say("expected-cautious", cautious=reader.hour(cautious, now))
    return "" if even is None else reader.say("expected-even", even=reader.hour(even, now))
