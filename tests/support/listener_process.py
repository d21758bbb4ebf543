"""A listener as a process of its own, to be killed: `python listener_process.py [HOST:]PORT FILE [USER WORD]`.

Rows are lines of the file, synced before `merge` returns; refusals and what loggers said of themselves are lines of a
second file beside it, synced before `note` returns. It ends when its standard input does.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from threading import Event
from typing import Any

from ingest_support import NOW, SITE, MemoryBook, MemoryReadings, placements

from ingest.address import BrokerAddress
from ingest.intake import Intake
from ingest.listener import Listener
from shared.clock import SimulatedClock
from shared.models.base import SensorId
from shared.models.readings import Conflict, Heard, Reading, Refused
from shared.ports import NewArrivals


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


class FileBook(MemoryBook):
    """Survives a kill as the rows do."""

    def __init__(self, path: Path) -> None:
        super().__init__(placements())
        self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.write(self._file, b"\n")

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        super().note(arrivals, refused, conflicts, heard)
        lines = [{"refused": r.payload.decode()} for r in refused]
        lines += [{"logger": h.logger, "boot": h.boot, "sequence": h.sequence} for h in heard]  # type: ignore[dict-item]
        if lines:
            os.write(self._file, "".join(json.dumps(line) + "\n" for line in lines).encode())
            os.fsync(self._file)


def notes(path: Path) -> list[dict[str, Any]]:
    """Return the whole lines of the file of notes."""
    found = []
    for line in path.read_text().splitlines() if path.exists() else []:
        try:
            said = json.loads(line)
        except ValueError:
            continue
        found.append(said)
    return found


def notes_of(path: Path) -> Path:
    """Return the file of notes beside a file of rows."""
    return path.with_suffix(".notes")


def main() -> None:
    """Listen until standard input ends."""
    path = Path(sys.argv[2])
    user, password = sys.argv[3:5] or (None, None)
    intake = Intake(SITE, FileReadings(path), FileBook(notes_of(path)), SimulatedClock(NOW))
    host, _, port = sys.argv[1].rpartition(":")
    listener = Listener(BrokerAddress(host or "127.0.0.1", int(port), user, password), SITE, intake)
    listener.start()
    sys.stdin.read()
    listener.stop()


if __name__ == "__main__":
    main()
