"""A listener as a process of its own, to be killed at any instant: `python listener_process.py PORT FILE`.

Rows are lines of the file, synced before `merge` returns. It ends when its standard input does.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from threading import Event

from ingest_support import NOW, SITE, MemoryBook, MemoryReadings, placements

from ingest.intake import Intake
from ingest.listener import BrokerAddress, Listener
from shared.clock import SimulatedClock
from shared.models.base import SensorId
from shared.models.readings import Conflict, Reading


class FileReadings(MemoryReadings):
    """Survives a kill: a torn last line was never acknowledged."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        for row in rows(path):
            super().merge([row])
        # A torn line must not swallow the next one.
        self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.write(self._file, b"\n")

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        conflicts = super().merge(batch)
        # A slow disk: a kill then finds readings that were taken and are not yet durable.
        Event().wait(0.1)
        lines = [json.dumps([r.sensor, r.taken_ms, r.milli_c, r.received_ms]) + "\n" for r in batch]
        os.write(self._file, "".join(lines).encode())
        os.fsync(self._file)
        return conflicts


def rows(path: Path) -> list[Reading]:
    """Return the whole lines of the file."""
    found = []
    for line in path.read_text().splitlines() if path.exists() else []:
        try:
            sensor, taken_ms, milli_c, received_ms = json.loads(line)
        except ValueError:
            continue
        found.append(Reading(SensorId(sensor), taken_ms, milli_c, received_ms))
    return found


def main() -> None:
    """Listen until standard input ends."""
    readings = FileReadings(Path(sys.argv[2]))
    intake = Intake(SITE, readings, MemoryBook(placements()), SimulatedClock(NOW))
    listener = Listener(BrokerAddress("127.0.0.1", int(sys.argv[1])), SITE, intake)
    listener.start()
    sys.stdin.read()
    listener.stop()


if __name__ == "__main__":
    main()
