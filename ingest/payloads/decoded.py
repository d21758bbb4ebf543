"""What a payload turns into, whatever its format. Values only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

from shared.models.base import LoggerId, MilliC, Ms, SensorId
from shared.models.readings import Reason


@dataclass(frozen=True, slots=True)
class Record:
    """One temperature as its logger sent it."""

    sensor: SensorId
    taken_ms: Ms
    milli_c: MilliC


@dataclass(frozen=True, slots=True)
class Untimed:
    """One temperature whose logger has no clock; `ingest.arrival` says what its arrival is worth."""

    sensor: SensorId
    milli_c: MilliC
    arrived_ms: Ms | None = None
    """When somebody on the way received it; None: nobody says, it is when it reaches us."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A message (no sensor known) or one of its records that cannot become a reading."""

    reason: Reason
    detail: str
    sensor: SensorId | None = None
    taken_ms: Ms | None = None
    """Of a record whose hour lies ahead."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What a logger said of itself."""

    boot: str | None = None
    sequence: int | None = None
    battery_percent: float | None = None
    signal_db: float | None = None
    """Received signal strength. [dBm]"""
    mac: str | None = None
    """What it signs the message with, see `ingest.signed`."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """The whole of one message; never all empty, so that no message goes without an answer."""

    records: tuple[Record, ...] = ()
    faults: tuple[Fault, ...] = ()
    facts: Facts | None = None
    untimed: tuple[Untimed, ...] = ()

    def with_hours(self) -> list[Record]:
        """Return all that came with an hour, whosever it is."""
        received = [Record(u.sensor, u.arrived_ms, u.milli_c) for u in self.untimed if u.arrived_ms is not None]
        return [*self.records, *received]


@dataclass(frozen=True, slots=True)
class Told:
    """What the topic of a message says of its sender, as far as its filter asks for it."""

    logger: LoggerId | None
    channel: str | None = None


Decoder: TypeAlias = Callable[[Told, bytes], Decoded]
"""Pure. Takes what the topic told and any bytes; raises nothing."""


@dataclass(frozen=True, slots=True)
class Format:
    """One line of the table of formats."""

    make: Callable[[Any], Decoder]
    """Takes the [[topic]] of the site file that names this format."""
    media: tuple[str, ...]
    """What a message of it may be called by HTTP; none has parameters that matter."""
    untimed: bool = False
    """Its temperatures have no hours of their own: a message that waited somewhere is worth nothing."""


def quoted(found: object) -> str:
    """Return what a stranger sent as short printable ASCII: it ends in stores, logs and messages."""
    # Cut before it is written out, too: it may be the whole of a message, once for each of its records.
    text = ascii(found[:100] if isinstance(found, str | bytes) else found)
    return text if len(text) <= 80 else f"{text[:77]}..."
