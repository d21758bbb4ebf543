"""Readings in a file whose writer is killed, that has no room, or that will not take a point: nothing acknowledged is
lost. One that somebody else holds locked: `test_outages.py`.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from ingest_support import EDGE, until
from outages import NOW, filled, ingesting, small_disk
from store_support import make_setup

from shared.models.base import HOUR_MS
from shared.models.readings import Reason
from shared.store import open_readings, sqlite_care

PROCESS = Path(__file__).parents[1] / "support" / "offering_process.py"


@pytest.mark.row("N3", "S4")
def test_a_service_killed_amid_batches_costs_no_reading_that_was_acknowledged(tmp_path: Path) -> None:
    """Five times; what was offered and not acknowledged is offered again, as a broker does."""
    acknowledged: set[int] = set()
    for kill in range(5):
        command = [sys.executable, str(PROCESS), str(tmp_path), str(NOW)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as service:
            assert service.stdout is not None
            for line in service.stdout:
                acknowledged.update(map(int, line.split()))
                if len(acknowledged) > 400 * (kill + 1):
                    break
            service.kill()
            # What it had said, and nobody had read yet, is acknowledged too; a line that was cut off is not.
            rest = service.stdout.read()
            acknowledged.update(map(int, rest[: rest.rfind("\n") + 1].split()))
    assert sqlite_care.damage(tmp_path / "readings.db") is None
    with closing(open_readings(make_setup(), tmp_path)) as store:
        series = store.between(EDGE, 0, 2**62)
    stored = dict(zip(series.taken_ms.tolist(), series.milli_c.tolist(), strict=True))
    assert len(acknowledged) > 2_000
    assert [one for one in acknowledged if stored.get(NOW - HOUR_MS + one * 100) != 20_000 - one % 1_000] == []


@pytest.mark.row("H1")
@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk and fill it")
def test_a_full_disk_stops_the_acknowledgements_and_loses_nothing(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    with small_disk(disk, "8m"), ingesting(make_setup(), disk) as ingest:
        for _ in range(200):
            ingest.offer()
        until(ingest.all_acknowledged)
        filled(disk / "filler")
        for _ in range(2_000):
            ingest.offer()
        until(lambda: ingest.writer.trouble is not None, 60)
        assert "full" in str(ingest.writer.trouble)
        before = len(ingest.acknowledged)
        until(lambda: ingest.writer.failures >= 3, 60)
        assert len(ingest.acknowledged) == before < 2_200
        assert len(ingest.stored()) == before, "what is there can be read, and no more is shown than is acknowledged"
        # Room is found by taking something away; nothing has to be started again.
        (disk / "filler").unlink()
        until(ingest.all_acknowledged, 60)
        assert ingest.writer.trouble is None
        assert ingest.stored() == ingest.offered
        assert ingest.readings.tidy() is None
        shutil.copy(disk / "readings.db", tmp_path)
    assert sqlite_care.damage(tmp_path / "readings.db") is None


@pytest.mark.row("S8", "N2")
def test_a_point_that_cannot_be_taken_is_written_down_and_holds_up_no_other(tmp_path: Path) -> None:
    with ingesting(make_setup(), tmp_path) as ingest:
        for number in range(40):
            ingest.offer(NOW + 3 * HOUR_MS if number == 17 else NOW - number * 1_000)
        until(ingest.all_acknowledged, 60)
        (bad,) = ingest.book.refused()
        assert (bad.reason, bad.sensor) == (Reason.CLOCK_FUTURE, EDGE)
        ingest.offered.pop(NOW + 3 * HOUR_MS)
        assert ingest.stored() == ingest.offered
    # Whatever would come round the screening, the file itself takes no such row.
    with closing(sqlite3.connect(tmp_path / "readings.db")) as raw:
        for value in (float("nan"), float("inf"), "warm", None, b"\1"):
            with pytest.raises(sqlite3.IntegrityError):
                raw.execute("INSERT INTO reading VALUES (1, 1, ?, 1)", (value,))
