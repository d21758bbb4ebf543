"""Readings on an InfluxDB that dies, has no room, or will not take a point: nothing acknowledged is lost.

One that is away: `test_outages.py`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest
from influx_support import NEEDS_INFLUXDB, Adapter, Server, influx_running, influx_setup, make_bucket
from ingest_support import EDGE, until
from outages import NOW, filled, ingesting, small_disk

from shared.models.base import HOUR_MS
from shared.models.readings import Reason
from shared.store import influx_server

pytestmark = [*NEEDS_INFLUXDB]


@pytest.fixture
def influx(tmp_path: Path) -> Iterator[tuple[Server, Adapter]]:
    with influx_running(tmp_path / "influxdb") as running:
        yield running


@pytest.mark.row("S1", "S3")
def test_a_server_killed_amid_batches_and_answers_that_are_lost_cost_no_reading(
    influx: tuple[Server, Adapter], tmp_path: Path
) -> None:
    server, front = influx
    pause = Event()
    with ingesting(influx_setup(front.url), tmp_path) as ingest:
        for kill in range(5):
            for _ in range(500):
                ingest.offer()
            front.lose_answers = 1
            pause.wait(0.03 + 0.02 * kill)
            server.kill()
            server.start()
        until(ingest.all_acknowledged, 60)
        server.kill()
        server.start()
        assert ingest.stored() == ingest.offered
        assert sum(new.changed for new in ingest.book.noted) == len(ingest.offered)


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
        ingesting(influx_setup(front.url), tmp_path) as ingest,
    ):
        for _ in range(200):
            ingest.offer()
        until(ingest.all_acknowledged)
        filled(disk / "filler")
        for _ in range(600):
            ingest.offer()
        until(lambda: ingest.writer.trouble is not None, 60)
        assert "no space left" in str(ingest.writer.trouble)
        until(lambda: ingest.writer.failures >= 3, 60)
        assert len(ingest.acknowledged) < 800
        assert len(ingest.stored()) > len(ingest.acknowledged), "else this proves nothing"
        (disk / "filler").unlink()
        # It writes again only when it is started again.
        server.kill()
        server.start()
        until(ingest.all_acknowledged, 60)
        server.kill()
        server.start()
        # The hole in its log has cost it what it acknowledged; the next reading shows that, and brings all back.
        ingest.offer()
        until(ingest.all_acknowledged, 60)
        assert ingest.stored() == ingest.offered


def test_a_point_that_the_server_will_not_take_is_written_down_and_holds_up_no_other(
    influx: tuple[Server, Adapter], tmp_path: Path
) -> None:
    server, front = influx
    make_bucket(server, "forgets", "WITH DURATION 1h")
    with ingesting(influx_setup(front.url, bucket="forgets"), tmp_path) as ingest:
        for number in range(40):
            ingest.offer(NOW - 3 * HOUR_MS if number == 17 else NOW - number * 1_000)
        until(ingest.all_acknowledged, 60)
        (bad,) = ingest.book.refused()
        assert (bad.reason, bad.sensor) == (Reason.STORE, EDGE)
        assert bad.payload == f"{EDGE},{NOW - 3 * HOUR_MS},{ingest.offered.pop(NOW - 3 * HOUR_MS)}".encode()
        assert "retention policy" in bad.detail
        assert ingest.stored() == ingest.offered
        assert sum(new.changed for new in ingest.book.noted) == 39
