"""Readings and what becomes of the messages that carry them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from shared.models.base import LoggerId, MilliC, Ms, SensorId


@dataclass(frozen=True, slots=True, order=True)
class Reading:
    """One temperature of one sensor. Key: (sensor, taken)."""

    sensor: SensorId
    taken_ms: Ms
    """When the logger measured, by its own clock. The only time that enters strength."""
    milli_c: MilliC
    received_ms: Ms
    """When it reached us (site time)."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """The same key came with another value: the colder one stays, the other is named here."""

    sensor: SensorId
    taken_ms: Ms
    kept_milli_c: MilliC
    other_milli_c: MilliC
    received_ms: Ms


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one sensor, ascending in time. All arrays int64, shape (n,)."""

    taken_ms: NDArray[np.int64]
    milli_c: NDArray[np.int64]
    received_ms: NDArray[np.int64] | None = None
    """When each reached us (site time); None: of one that was worked out."""

    @classmethod
    def of_rows(cls, rows: Sequence[Sequence[int]]) -> Series:
        """Return the series of rows of hour, thousandths of a degree and hour of arrival."""
        whole = np.array(rows, dtype=np.int64).reshape(-1, 3)
        return cls(*(np.ascontiguousarray(whole[:, k]) for k in range(3)))

    def part(self, which: slice | NDArray[np.bool_]) -> Series:
        """Return some of the readings."""
        received = None if self.received_ms is None else self.received_ms[which]
        return Series(self.taken_ms[which], self.milli_c[which], received)

    def __len__(self) -> int:
        return int(self.taken_ms.shape[0])


class Reason(StrEnum):
    """Why a message or one of its records was refused."""

    TOO_BIG = "too big"
    NOT_UTF8 = "not UTF-8"
    NOT_JSON = "not JSON"
    NOT_CBOR = "not CBOR"
    DUPLICATE_KEY = "duplicate key"
    SCHEMA = "schema"
    UNIT = "unit"
    NOT_FINITE = "not finite"
    RANGE = "range"
    CLOCK_PAST = "clock in the past"
    CLOCK_FUTURE = "clock in the future"
    LOCAL_TIME = "local time"
    UNKNOWN_SENSOR = "unknown sensor"
    ID_MISMATCH = "logger differs from topic"
    TOPIC = "topic"
    NOT_FRESH = "not fresh"
    """It has no hour of its own, and came at one that may not be its own."""
    REPLAYED = "number came before"
    """Its message came before with the same number, and did not tell of this hour."""
    SIGNATURE = "signature"
    """Its logger must sign, and did not, or not rightly."""
    STORE = "not taken by the store"
    """The server of the readings will never store it, such as one older than all that it keeps."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A message, or one record of it, that was not stored as a reading; kept whole with its reason."""

    received_ms: Ms
    topic: str
    payload: bytes
    reason: Reason
    detail: str
    sensor: SensorId | None = None
    taken_ms: Ms | None = None
    """Of a record whose hour was read: one refused for lying ahead must not ripen."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A refusal on the site book, and what became of it when a person had it screened again."""

    no: int
    refused: Refused
    decided_ms: Ms | None = None
    """None: it stands."""
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a logger said of itself, besides temperatures."""

    logger: LoggerId
    heard_ms: Ms
    boot: str | None = None
    sequence: int | None = None
    battery_percent: float | None = None
    signal_db: float | None = None


@dataclass(frozen=True, slots=True)
class Arrival:
    """What has come of one sensor so far; `revision` counts changes of its stored readings."""

    sensor: SensorId
    revision: int
    newest_ms: Ms
    newest_received_ms: Ms
    rewritten: int = 0
    """Revision of the last change that was not only newer than all before: a late reading, or another value."""


@dataclass(frozen=True, slots=True)
class RefusedCount:
    """How many messages of one topic and sensor were refused for one reason."""

    topic: str
    sensor: SensorId | None
    """None: the message as a whole."""
    reason: Reason
    count: int


@dataclass(frozen=True, slots=True)
class Stranger:
    """A sensor, or a logger, that sends and was never placed: what its newest refused message says."""

    name: str
    """Of the sensor; of the logger, when it said no temperature; else the topic."""
    heard_ms: Ms
    milli_c: MilliC | None = None
    battery_percent: float | None = None
    signal_db: float | None = None
