"""A gateway that plays its buffer again, with new hours: told by the numbers that loggers give their messages."""

from __future__ import annotations

from collections.abc import Sequence

from ingest.payloads.decoded import Decoded
from shared.models.base import LoggerId, Ms, SensorId
from shared.ports import IngestBook, ReadingsIn
from shared.sequence import came_before


def played_again(
    told: Sequence[tuple[LoggerId, Decoded]], book: IngestBook, readings: ReadingsIn
) -> set[tuple[SensorId, Ms]]:
    """Return the keys of messages whose number came before, that are not stored: they were told with another hour.

    A broker that sends a message again sends what is stored. A reading that a message had and that was refused then is
    stored by `ingest.again`, not by sending it again. Raises `StoreError`.
    """
    starts = {logger for logger, decoded in told if decoded.facts is not None and decoded.facts.boot is not None}
    known = book.followed(starts) if starts else {}
    keys = {
        (record.sensor, record.taken_ms)
        for logger, decoded in told
        if decoded.facts is not None and came_before(known.get(logger), decoded.facts.boot, decoded.facts.sequence)
        for record in decoded.records
    }
    return keys - readings.known(keys).keys() if keys else set()
