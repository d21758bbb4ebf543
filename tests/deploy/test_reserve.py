"""A full disk: the reserve is given up, no reading is taken, and what stops people can still be written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from deploy_support import write_site
from outages import filled, small_disk

from alerts.transport import RecordingTransport
from deploy.folders import data_folder, with_data
from deploy.reserve import FILE, LOW_BYTES, SIZE_BYTES, Reserve
from deploy.wiring import build
from ingest.message import Incoming
from shared.clock import SystemClock
from shared.errors import StoreError
from shared.models.acts import act_from, instant
from shared.models.base import PourId
from shared.sitefile import load

SIZE, LOW = 8 << 20, 2 << 20


def test_while_the_service_runs_64_mib_are_held_and_given_back_at_its_end(tmp_path: Path) -> None:
    assert (SIZE_BYTES >> 20, LOW_BYTES >> 20) == (64, 16)
    reserve = Reserve(tmp_path, SIZE, LOW)
    assert reserve.look() is None
    assert (tmp_path / FILE).stat().st_blocks * 512 >= SIZE
    assert reserve.wrong() == []
    reserve.close()
    assert not (tmp_path / FILE).exists()


def test_a_disk_with_no_room_for_it_is_told_and_readings_are_taken_until_it_is_full(tmp_path: Path) -> None:
    reserve = Reserve(tmp_path, 1 << 60, LOW)
    assert reserve.look() is None
    (said,) = reserve.wrong()
    assert "there is no room for a reserve" in said


@pytest.mark.row("H1")
@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk and fill it")
def test_on_a_full_disk_no_reading_is_taken_and_a_stop_is_still_written_until_there_is_room(tmp_path: Path) -> None:
    disk, clock = tmp_path / "disk", SystemClock()
    setup = load(write_site(tmp_path))
    with small_disk(disk, "48m"), build(with_data(setup, disk), clock=clock, transport=RecordingTransport()) as service:
        assert data_folder(service.setup) == disk
        reserve = Reserve(disk, SIZE, LOW)
        service.intake.full = reserve.look
        now = clock.now()
        topic = f"slabhour/{setup.site.site.id}/r/lg-01"

        def send(ago_s: int) -> None:
            payload = f'[{{"n":"lg-01.1","u":"Cel","t":{now / 1000 - ago_s},"v":18.0}}]'.encode()
            service.intake.take([Incoming(topic, payload)])

        send(900)
        filled(disk / "filler")
        with pytest.raises(StoreError, match="is full: no reading is taken until there is room"):
            send(600)
        assert not (disk / FILE).exists()
        (said,) = reserve.wrong()
        assert "make room on it" in said
        start = {"kind": "pour_start", "at": instant(now), "who": "super", "bay": "2-b1"}
        service.apply(act_from({**start, "pour": "2-b1-p1"}))
        service.rounds.run(PourId("2-b1-p1"))
        judged = service.book.cure.case(PourId("2-b1-p1")).state.verdicts
        # Nothing can be released while no reading is taken, however fresh the newest one is.
        assert all("room on the service's disk" in {f.rule for f in verdict.failed()} for verdict in judged)
        service.apply(act_from({"kind": "stop", "at": instant(now), "who": "super", "pour": "2-b1-p1", "why": "full"}))
        assert service.book.service.log_head()[0] >= 2
        (disk / "filler").unlink()
        send(300)
        assert reserve.wrong() == []
        assert (disk / FILE).exists()
        assert len(service.readings.between("lg-01.1", 0, now + 1)) == 2  # type: ignore[arg-type]
