"""What one batch of messages comes to: rows, refusals, what was heard."""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from ingest.arrival import Waiting
from ingest.payloads.decoded import Fault, quoted
from ingest.payloads.strict_json import LIMIT_BYTES
from shared.models.base import Ms, SensorId
from shared.models.readings import Heard, Reading, Reason, Refused

KEPT_OF_TOO_BIG_BYTES: Final = 2048
ROWS: Final = "rows"
"""Stands for the topic of a reading that is refused by itself, without its message."""


@dataclass(slots=True)
class Sheet:
    """Filled message by message, then written in one go; nothing of it counts before that."""

    rows: list[Reading] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    ahead: set[tuple[SensorId, Ms]] = field(default_factory=set)
    """Keys that were once refused for lying ahead: they do not ripen, whenever they come again."""
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
