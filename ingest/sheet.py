"""What one batch of messages comes to: rows, refusals, what was heard."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from ingest.arrival import Waiting
from ingest.payloads.decoded import Fault, quoted
from ingest.payloads.strict_json import LIMIT_BYTES
from shared.models.base import LoggerId, Ms, SensorId
from shared.models.readings import Heard, Reading, Reason, Refused

KEPT_OF_TOO_BIG_BYTES: Final = 2048
ROWS: Final = "rows"
"""Stands for the topic of a reading that is refused by itself, without its message."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one message; it holds once all of it is durable."""

    rows: tuple[Reading, ...] = ()
    """Stored now, or before."""
    waiting: int = 0
    """Temperatures without an hour that wait for the next one."""
    faults: tuple[Fault, ...] = ()
    heard: bool = False
    """It said something of its logger."""

    def without(self, rejected: Mapping[Reading, str]) -> Taken:
        """Return it without the rows that the store did not take, which are refused by it."""
        if not rejected.keys() & set(self.rows):
            return self
        faults = [Fault(Reason.STORE, rejected[row], row.sensor) for row in self.rows if row in rejected]
        rows = tuple(row for row in self.rows if row not in rejected)
        return replace(self, rows=rows, faults=(*self.faults, *faults))


@dataclass(slots=True)
class Sheet:
    """Filled message by message, then written in one go; nothing of it counts before that."""

    rows: list[Reading] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    ahead: set[tuple[SensorId, Ms]] = field(default_factory=set)
    """Keys that were once refused for lying ahead: they do not ripen, whenever they come again."""
    replayed: set[tuple[SensorId, Ms]] = field(default_factory=set)
    """Keys of messages that came before by their number, and are not stored."""
    strange: set[LoggerId] = field(default_factory=set)
    """Loggers that tell of themselves, and of which no sensor is placed."""
    rejected: dict[Reading, str] = field(default_factory=dict)
    """Rows that the store will never take, with its reason."""
    waiting: MutableMapping[SensorId, Waiting] = field(default_factory=dict)
    """Temperatures without an hour that wait for the next one."""

    def refuse(self, topic: str, payload: bytes, received: Ms, faults: Sequence[Fault]) -> None:
        """Add one refusal a reason and sensor: each keeps the whole payload, and a pack may have hundreds of records.

        Of what lay ahead every hour is kept, or it would ripen; the payload stands with the first.
        """
        grouped: dict[tuple[Reason, SensorId | None, Ms | None], list[str]] = {}
        for fault in faults:
            grouped.setdefault((fault.reason, fault.sensor, fault.taken_ms), []).append(fault.detail)
        if len(payload) > LIMIT_BYTES:
            payload = payload[:KEPT_OF_TOO_BIG_BYTES]
        topic = topic if topic.isprintable() and len(topic) <= 200 else quoted(topic)
        kept: set[tuple[Reason, SensorId | None]] = set()
        for (reason, sensor, taken_ms), details in grouped.items():
            self.refused.append(
                Refused(
                    received_ms=received,
                    topic=topic,
                    payload=b"" if (reason, sensor) in kept else payload,
                    reason=reason,
                    detail=details[0] if len(details) == 1 else f"{details[0]} (and {len(details) - 1} more)",
                    sensor=sensor,
                    taken_ms=taken_ms,
                )
            )
            kept.add((reason, sensor))

    def refuse_row(self, row: Reading, fault: Fault) -> None:
        """Add the refusal of a reading that came by no message, or that is refused after its message was taken."""
        said = f"{row.sensor},{row.taken_ms},{row.milli_c}".encode("utf-8", "backslashreplace")
        refused = Refused(row.received_ms, ROWS, said, fault.reason, fault.detail, fault.sensor, fault.taken_ms)
        self.refused.append(refused)


def row_of(refused: Refused) -> Reading:
    """Return the reading of such a refusal."""
    sensor, taken_ms, milli_c = refused.payload.decode("utf-8").split(",")
    return Reading(SensorId(sensor), int(taken_ms), int(milli_c), refused.received_ms)
