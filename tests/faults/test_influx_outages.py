"""Readings on an InfluxDB that dies, is away, has no room, or will not take a point: nothing acknowledged is lost."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Event, Thread
from typing import Final

import pytest
from influx_support import NEEDS_INFLUXDB, Adapter, Server, influx_running, influx_setup, make_bucket
from ingest_support import EDGE, SITE, TOPIC, MemoryBook, pack, placements, until, warm

from ingest import writer
from ingest.intake import Incoming, Intake
from ingest.writer import Queued, Writer
from shared.clock import SimulatedClock, SystemClock
from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Reason
from shared.store import influx_server, open_readings

pytestmark = [*NEEDS_INFLUXDB]
OUTAGE_S: Final = 60.0 * float(os.environ.get("FAULT_SCALE", "1"))
"""A minute in CI; FAULT_SCALE=10 makes it ten."""
NOW: Final = SystemClock().now() // 1000 * 1000


class Ingest:
    """The listener's writer and intake on a store; `offer` is what a broker does, `acknowledged` what it hears."""

    def __init__(self, url: str, folder: Path, bucket: str = "slab") -> None:
        self.readings = open_readings(influx_setup(url, bucket=bucket), folder)
        self.book = MemoryBook(placements())
        intake = Intake(SITE, self.readings, self.book, SimulatedClock(NOW))
        self.acknowledged: list[int] = []
        self.offered: dict[Ms, int] = {}
        self.writer = Writer(
            intake.take, lambda batch: self.acknowledged.extend(one.mid for one in batch), lambda: None
        )
        self.writer.start()

    def offer(self, taken_ms: Ms | None = None) -> None:
        number = len(self.offered)
        taken = NOW - HOUR_MS // 2 + number * 100 if taken_ms is None else taken_ms
        self.offered[taken] = 20_000 - number
        message = Incoming(TOPIC, pack(warm((20_000 - number) / 1000, taken)), NOW)
        while not self.writer.offer(Queued(1, number, 1, message), 1.0):
            pass

    def stored(self) -> dict[Ms, int]:
        series = self.readings.between(EDGE, 0, 2**62)
        return dict(zip(series.taken_ms.tolist(), series.milli_c.tolist(), strict=True))

    def all_acknowledged(self) -> bool:
        return len(self.acknowledged) == len(self.offered)

    def close(self) -> None:
        self.writer.stop(20.0)
        assert not self.writer.alive()
        self.readings.close()


@contextmanager
def ingesting(front: Adapter, folder: Path, bucket: str = "slab") -> Iterator[Ingest]:
    with closing(Ingest(front.url, folder, bucket)) as ingest:
        yield ingest


@pytest.fixture
def influx(tmp_path: Path) -> Iterator[tuple[Server, Adapter]]:
    with influx_running(tmp_path / "influxdb") as running:
        yield running


@pytest.mark.row("S2")
def test_through_an_outage_nothing_is_acknowledged_and_afterwards_all_is_there_in_order(
    influx: tuple[Server, Adapter], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "LONGEST_WAIT_S", 1.0)
    monkeypatch.setattr(influx_server, "PATIENCE_S", 1.0)
    server, front = influx
    over = Event()
    with ingesting(front, tmp_path) as ingest:

        def feed() -> None:
            while not over.wait(0.1):
                ingest.offer()

        feeding = Thread(target=feed)
        feeding.start()
        try:
            until(lambda: len(ingest.acknowledged) >= 5)
            server.kill()
            end = time.monotonic() + OUTAGE_S
            until(lambda: ingest.writer.trouble is not None, 20)
            before = len(ingest.acknowledged)
            while time.monotonic() < end:
                over.wait(1.0)
                assert len(ingest.acknowledged) == before
                assert ingest.writer.stale_s() < 60.0, "the watchdog would end the service"
            assert "does not answer" in str(ingest.writer.trouble)
            server.start()
            until(lambda: ingest.writer.trouble is None, 30)
        finally:
            over.set()
            feeding.join()
        until(ingest.all_acknowledged, 30)
        assert ingest.acknowledged == list(range(len(ingest.offered)))
        assert ingest.stored() == ingest.offered
        assert ingest.book.refused() == []


@pytest.mark.row("S1", "S3")
def test_a_server_killed_amid_batches_and_answers_that_are_lost_cost_no_reading(
    influx: tuple[Server, Adapter], tmp_path: Path
) -> None:
    server, front = influx
    pause = Event()
    with ingesting(front, tmp_path) as ingest:
        for kill in range(5):
            for _ in range(500):
                ingest.offer()
            front.lose_answers = 1
            pause.wait(0.03 + 0.02 * kill)
            server.kill()
            server.start()
        until(ingest.all_acknowledged, 30)
        server.kill()
        server.start()
        assert ingest.stored() == ingest.offered
        assert sum(new.changed for new in ingest.book.noted) == len(ingest.offered)


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[None]:
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "slab", str(folder)], check=False)
    if mounted.returncode != 0:
        pytest.skip("only one who may mount a small disk can fill it")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk and fill it")
def test_a_full_disk_of_the_server_stops_the_acknowledgements_and_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it could not write to its log it shows all the same: a copy must not be taken for stored."""
    monkeypatch.setattr(influx_server, "PATIENCE_S", 0.5)
    disk = tmp_path / "disk"
    with (
        small_disk(disk, "24m"),
        influx_running(disk / "influxdb") as (server, front),
        ingesting(front, tmp_path) as ingest,
    ):
        for _ in range(200):
            ingest.offer()
        until(ingest.all_acknowledged)
        filled(disk / "filler")
        for _ in range(600):
            ingest.offer()
        until(lambda: ingest.writer.trouble is not None, 20)
        assert "no space left" in str(ingest.writer.trouble)
        until(lambda: ingest.writer.failures >= 3, 20)
        assert len(ingest.acknowledged) < 800
        assert len(ingest.stored()) > len(ingest.acknowledged), "else this proves nothing"
        (disk / "filler").unlink()
        # It writes again only when it is started again.
        server.kill()
        server.start()
        until(ingest.all_acknowledged, 30)
        server.kill()
        server.start()
        # The hole in its log has cost it what it acknowledged; the next reading shows that, and brings all back.
        ingest.offer()
        until(ingest.all_acknowledged, 30)
        assert ingest.stored() == ingest.offered


def filled(file: Path) -> None:
    with file.open("wb", buffering=0) as filler, pytest.raises(OSError, match="No space left"):  # noqa: PT012
        while True:
            filler.write(b"\0" * 4096)


def test_a_point_that_the_server_will_not_take_is_written_down_and_holds_up_no_other(
    influx: tuple[Server, Adapter], tmp_path: Path
) -> None:
    server, front = influx
    make_bucket(server, "forgets", "WITH DURATION 1h")
    with ingesting(front, tmp_path, "forgets") as ingest:
        for number in range(40):
            ingest.offer(NOW - 3 * HOUR_MS if number == 17 else NOW - number * 1_000)
        until(ingest.all_acknowledged, 20)
        (bad,) = ingest.book.refused()
        assert (bad.reason, bad.sensor) == (Reason.STORE, EDGE)
        assert bad.payload == f"{EDGE},{NOW - 3 * HOUR_MS},{ingest.offered.pop(NOW - 3 * HOUR_MS)}".encode()
        assert "retention policy" in bad.detail
        assert ingest.stored() == ingest.offered
        assert sum(new.changed for new in ingest.book.noted) == 39
