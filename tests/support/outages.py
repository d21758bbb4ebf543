"""The listener's writer and intake on a real store, and an outage of that store that lasts as long as one likes."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread
from typing import Final

import pytest
from influx_support import influx_running, influx_setup
from ingest_support import EDGE, SITE, TOPIC, MemoryBook, pack, placements, until, warm
from scale import SCALE
from store_support import make_setup

from ingest.intake import Intake
from ingest.message import Incoming
from ingest.writer import Queued, Writer
from shared.clock import SimulatedClock, SystemClock
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import Setup
from shared.store import open_readings

NOW: Final = SystemClock().now() // 1000 * 1000
OUTAGE_S: Final = 60.0 * SCALE
"""A minute in CI; FAULT_SCALE=10 makes it ten."""


class Ingest:
    """`offer` is what a broker does, `acknowledged` what it hears."""

    def __init__(self, setup: Setup, folder: Path) -> None:
        self.readings = open_readings(setup, folder)
        self.book = MemoryBook(placements())
        intake = Intake(SITE, self.readings, self.book, SimulatedClock(NOW))
        self.acknowledged: list[int] = []
        self.offered: dict[Ms, int] = {}
        self.writer = Writer(intake.take, lambda: None)
        self.writer.start()

    def offer(self, taken_ms: Ms | None = None) -> None:
        """Bring one reading, the next of a series or one of an hour."""
        number = len(self.offered)
        taken = NOW - HOUR_MS // 2 + number * 100 if taken_ms is None else taken_ms
        self.offered[taken] = 20_000 - number
        message = Incoming(TOPIC, pack(warm((20_000 - number) / 1000, taken)), NOW)
        while not self.writer.offer(Queued(message, lambda _: self.acknowledged.append(number)), 1.0):
            pass

    def stored(self) -> dict[Ms, int]:
        """Return what the store has."""
        series = self.readings.between(EDGE, 0, 2**62)
        return dict(zip(series.taken_ms.tolist(), series.milli_c.tolist(), strict=True))

    def all_acknowledged(self) -> bool:
        """Return whether the broker keeps nothing any more."""
        return len(self.acknowledged) == len(self.offered)

    def close(self) -> None:
        """End; nothing waits any more."""
        self.writer.stop(20.0)
        assert not self.writer.alive()
        self.readings.close()


@contextmanager
def ingesting(setup: Setup, folder: Path) -> Iterator[Ingest]:
    """Lend one that works."""
    with closing(Ingest(setup, folder)) as ingest:
        yield ingest


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[None]:
    """Mount a disk in memory, which can be filled."""
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "slab", str(folder)], check=False)
    if mounted.returncode != 0:
        pytest.skip("only one who may mount a small disk can fill it")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def filled(file: Path) -> None:
    """Take all the room there is now; room that somebody gives up meanwhile is theirs."""
    disk = os.statvfs(file.parent)
    with file.open("wb", buffering=0) as filler, suppress(OSError):
        for _ in range(disk.f_bavail * disk.f_frsize // 4096 + 1):
            filler.write(b"\0" * 4096)


@dataclass(frozen=True, slots=True)
class Outage:
    """What came of one."""

    lasted_s: float
    trouble: str
    acknowledged_meanwhile: int
    stalest_s: float
    """The longest for which the writer did not turn: the watchdog ends the service after 60 s."""
    in_order: bool
    lost: int
    refused: int
    offered: int


def outage(kind: str, folder: Path, seconds: float = OUTAGE_S) -> Outage:
    """Take a store away for so long while readings come, ten a second, and give it back."""
    if kind == "influxdb":
        with influx_running(folder / "influxdb") as (server, front):
            return _through(influx_setup(front.url), folder, server.kill, server.start, seconds)
    with closing(Locked(folder / "readings.db")) as locked:
        return _through(make_setup(), folder, locked.begin, locked.end, seconds)


class Locked:
    """Another program that holds the file's lock: a backup tool, or somebody's shell."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._connection: sqlite3.Connection | None = None

    def begin(self) -> None:
        """Take it."""
        self._connection = sqlite3.connect(self._file, isolation_level=None, timeout=10, check_same_thread=False)
        self._connection.execute("BEGIN IMMEDIATE")

    def end(self) -> None:
        """Give it back."""
        self.close()

    def close(self) -> None:
        """Give it back, if it is held."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None


def _through(setup: Setup, folder: Path, begin: Callable[[], None], end: Callable[[], None], seconds: float) -> Outage:
    over, stalest = Event(), 0.0
    with ingesting(setup, folder) as ingest:

        def feed() -> None:
            while not over.wait(0.1):
                ingest.offer()

        feeding = Thread(target=feed)
        feeding.start()
        try:
            until(lambda: len(ingest.acknowledged) >= 5, 60)
            begin()
            begun = time.monotonic()
            until(lambda: ingest.writer.trouble is not None, 60)
            before, trouble = len(ingest.acknowledged), str(ingest.writer.trouble)
            while time.monotonic() < begun + seconds:
                over.wait(0.5)
                stalest = max(stalest, ingest.writer.stale_s())
            meanwhile, lasted = len(ingest.acknowledged) - before, time.monotonic() - begun
            end()
            until(lambda: ingest.writer.trouble is None, 60)
        finally:
            over.set()
            feeding.join()
        until(ingest.all_acknowledged, 60)
        in_order = ingest.acknowledged == list(range(len(ingest.offered)))
        lost = len(set(ingest.offered.items()) - set(ingest.stored().items()))
        refused = len(ingest.book.refused())
        return Outage(lasted, trouble, meanwhile, stalest, in_order, lost, refused, len(ingest.offered))
