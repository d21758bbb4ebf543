"""Rows of the fault catalogue that could let a wrong release out, and how to switch the defence of each off.

A switch changes the product for one test run only; `tests/faults/test_rows.py` runs each row's tests under its switches
and wants one of them to fail under each.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import defences_alerts
import defences_clocks
import defences_estimator
import defences_ingest
import defences_operator
import defences_sensors
from switching import Switch

ROWS: Final[Mapping[str, str]] = {
    "L1": "a logger dies shortly before the threshold",
    "L2": "a value is stuck",
    "L3": "sentinel values",
    "L4": "a bias of +1 to +3 degC",
    "L5": "lies in air, in sun, on a heater",
    "L6": "sends before it is cast in",
    "L7": "two loggers swapped between bays",
    "L8": "old readings of an earlier slab",
    "L10": "same sensor and time, another value",
    "L12": "a logger starts anew, its sequence too",
    "L13": "the interval changes from 15 min to 3 h",
    "L15": "channels permuted on one logger",
    "L16": "centidegrees, kelvin or Fahrenheit for Celsius",
    "R3": "what was held back is stamped on arrival",
    "R4": "a buffer is played again with new hours",
    "R8": "a corrupted byte",
    "C1": "a logger's clock runs fast or steps ahead",
    "C2": "a logger's clock at 1970 or 2000",
    "C3": "a time in the future does not ripen",
    "C4": "local time without an offset",
    "C5": "seconds, milliseconds and microseconds mixed",
    "C6": "the service's clock jumps ahead",
    "C7": "the service's clock jumps back",
    "C10": "hours in texts over both nights when the clocks change",
    "N3": "killed between receiving, storing and acknowledging",
    "N4": "an acknowledgement after a reconnect",
    "N9": "an unknown sensor",
    "S1": "a store acknowledges and stores nothing",
    "S6": "a damaged database",
    "S7": "an old backup is put back",
    "S8": "what is no number reaches a store",
    "S11": "another value for a stored hour",
    "E1": "a gap is filled",
    "E2": "a time unit slips",
    "E3": "NaN or infinity anywhere",
    "E4": "an estimate raises",
    "E5": "parameters are edited during the cure",
    "E6": "new code gives other numbers",
    "E7": "outside the calibration's range",
    "E8": "the mean or the best sensor instead of the coldest",
    "E9": "MPa and psi, Celsius and Fahrenheit mixed",
    "E10": "late readings arrive while a round runs",
    "E11": "freezing in the first day",
    "E12": "more hours credited than have passed",
    "E13": "a colder late reading",
    "O1": "the wrong (faster) mix",
    "O2": "the pour's hour entered too early",
    "O3": "a pour in two placements",
    "O4": "a logger bound to the wrong bay",
    "O5": "Fahrenheit typed as Celsius and the reverse",
    "O6": "a threshold mistyped",
    "O7": "a manual override as evidence",
    "O8": "one person signs twice",
    "O9": "signing what was seen on an old page",
    "O12": "a bay's name reused for a new pour",
    "O14": "required sensors reduced so that it passes",
    "A4": "a call that timed out is delivered later",
    "A5": "a release sent late is no longer true",
    "A6": "a withdrawal is lost",
    "A7": "a crash between decision and message",
    "A12": "a text cut in half changes its meaning",
    "A13": "a provider swaps the order",
    "A14": "flapping",
    "A15": "a test message taken for a real one",
    "A16": "the wrong site or bay",
    "A18": "a mail scanner confirms a withdrawal",
}
"""P0 rows of logger, radio, clocks, listener, stores, estimator, operator and alert path."""


def row_of(switch: str) -> str:
    """Return the row whose defence, or one of whose defences, a switch takes out."""
    return switch.partition(".")[0]


_PARTS: Final = (
    defences_alerts,
    defences_clocks,
    defences_sensors,
    defences_ingest,
    defences_estimator,
    defences_operator,
)


def _all(row: str) -> Iterator[Switch]:
    for part in _PARTS:
        found = part.SWITCHES.get(row, ())
        yield from found if isinstance(found, tuple) else (found,)


def _named(row: str) -> Mapping[str, Switch]:
    found = tuple(_all(row))
    return {row: found[0]} if len(found) == 1 else {f"{row}.{n}": switch for n, switch in enumerate(found, 1)}


SWITCHES: Final = {name: switch for row in ROWS for name, switch in _named(row).items()}
"""By row; or "A6.1", "A6.2", where each of several defences must be noticed by itself."""
