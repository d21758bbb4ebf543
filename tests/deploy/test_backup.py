"""A backup is whole or not there, is of one time, and holds what its releases rest on."""

from __future__ import annotations

import json
import os
import shutil
from contextlib import closing
from pathlib import Path

import pytest
from backup_support import SIGNED_MS, later, little_setup, release_strip, released_site, service_of
from deploy_support import POUR, START_MS, act

from deploy.backup import ABOUT, back_up, elsewhere, found_in, prune, verified
from deploy.folders import with_data
from deploy.restored import Restored, mark
from shared.errors import StoreError
from shared.models.base import SensorId
from shared.models.readings import Reading
from shared.sitefile import load
from shared.store import read_readings, verify_log

STOP = {"who": "anybody", "pour": POUR, "why": "crack"}


@pytest.mark.row("S14")
def test_a_backup_beside_a_running_service_is_whole_and_can_be_read(tmp_path: Path) -> None:
    setup, to = little_setup(tmp_path), tmp_path / "disk" / "backups"
    with service_of(setup, START_MS) as (service, clock):
        release_strip(service, clock)
        path = back_up(setup, to, SIGNED_MS)
        head = service.book.service.log_head()
        service.apply(act("stop", SIGNED_MS, **STOP))
    assert path.name == "millrace-20261124T140102Z"
    about = verified(path)
    assert (about.seq, about.hash, about.at_ms) == (*head, SIGNED_MS)
    assert list(about.files) == ["site.db", "readings.db"]
    assert sorted(p.name for p in path.iterdir()) == [ABOUT, "readings.db", "site.db"]
    assert path.stat().st_mode & 0o077 == 0
    with closing(read_readings(with_data(setup, path), path)) as readings:
        assert len(readings.between(SensorId("lg-01.1"), 0, later(1))) == 26 * 4 + 1


@pytest.mark.row("S14")
def test_every_release_of_a_backup_has_its_readings_whatever_was_written_meanwhile(tmp_path: Path) -> None:
    setup = little_setup(tmp_path)
    sensor = SensorId("lg-01.1")
    with service_of(setup, START_MS) as (service, clock):
        release_strip(service, clock)
        written: list[int] = []

        def beside(file: str, _fraction: float) -> None:
            service.apply(act("stop", SIGNED_MS, **STOP))
            taken = later(1) + len(written)
            service.readings.merge([Reading(sensor, taken, 18_000, taken)])
            written.append(taken if file == "site.db" else 0)

        path = back_up(setup, tmp_path / "backups", SIGNED_MS, beside)
    verify_log(None, path)
    with closing(read_readings(with_data(setup, path), path)) as readings:
        held = readings.between(sensor, 0, 2**62).taken_ms.tolist()
    assert [one for one in written if one and one not in held] == []


def test_nothing_is_left_of_a_backup_that_was_stopped_or_has_no_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    setup, to = released_site(tmp_path), tmp_path / "backups"

    class StoppedError(Exception):
        """Somebody wants to end."""

    def stopped(_file: str, _fraction: float) -> None:
        raise StoppedError

    with pytest.raises(StoppedError):
        back_up(setup, to, SIGNED_MS, stopped)
    assert list(to.iterdir()) == []

    def full(_fd: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(StoreError, match="No space left on device"):
            back_up(setup, to, SIGNED_MS)
    assert list(to.iterdir()) == []
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="no backup can be written to"):
        back_up(setup, tmp_path / "file", SIGNED_MS)
    back_up(setup, to, SIGNED_MS)
    with pytest.raises(StoreError, match="is there already"):
        back_up(setup, to, SIGNED_MS)


@pytest.mark.row("S14", "M13")
def test_a_book_whose_log_was_changed_or_cut_short_is_not_backed_up_and_older_backups_stay(tmp_path: Path) -> None:
    setup, to = released_site(tmp_path), tmp_path / "backups"
    old = back_up(setup, to, SIGNED_MS)
    book = tmp_path / "var" / "site.db"
    yesterday = book.read_bytes()
    with service_of(setup, later(1)) as (service, _):
        service.apply(act("stop", later(1), **STOP))
    # An older file in its place lacks the anchor that was written when the service ended.
    for more in ("-wal", "-shm"):
        book.with_name(f"site.db{more}").unlink(missing_ok=True)
    book.write_bytes(yesterday)
    with pytest.raises(StoreError, match="an older or another log was put in its place"):
        back_up(setup, to, later(2))
    assert found_in(to, "millrace") == [old]


@pytest.mark.row("S14", "S6")
@pytest.mark.parametrize("name", ["site.db", "readings.db"])
def test_a_flipped_bit_a_missing_file_and_a_foreign_one_are_found(tmp_path: Path, name: str) -> None:
    path = back_up(released_site(tmp_path), tmp_path / "backups", SIGNED_MS)
    whole = (path / name).read_bytes()
    for place in (20, len(whole) // 2, len(whole) - 1):
        (path / name).write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        with pytest.raises(StoreError, match=rf"{name} is not as it was copied"):
            verified(path)
    (path / name).unlink()
    with pytest.raises(StoreError, match="no whole backup"):
        verified(path)
    (path / name).write_bytes(whole)
    verified(path)
    about = json.loads((path / ABOUT).read_text())
    faulty: list[object] = [
        {**about, "files": {"../site.db": about["files"]["site.db"]}},
        {**about, "files": {}},
        {**about, "hash": "0" * 64},
        {**about, "seq": about["seq"] + 1},
        {**about, "version": 2},
        {"version": 1},
        [],
    ]
    for wrong in faulty:
        (path / ABOUT).write_text(json.dumps(wrong))
        with pytest.raises(StoreError):
            verified(path)


def test_the_oldest_backups_of_this_site_alone_are_taken_away(tmp_path: Path) -> None:
    setup, to = released_site(tmp_path), tmp_path / "backups"
    made = [back_up(setup, to, later(hour)) for hour in range(4)]
    other = to / made[0].name.replace("millrace", "millrace-20200101T000000Z-x")
    shutil.copytree(made[0], other)
    (to / "millrace-notes").mkdir()
    assert prune(to, "millrace", 2) == made[:2]
    assert found_in(to, "millrace") == made[2:]
    assert other.is_dir()
    half, begun = to / ".millrace-20200101T000000Z.part", to / ".millrace-20990101T000000Z.part"
    half.mkdir()
    begun.mkdir()
    assert prune(to, "millrace", 2) == [half]
    assert begun.is_dir()


def test_there_must_be_something_to_back_up_that_a_person_has_accepted(tmp_path: Path) -> None:
    setup = little_setup(tmp_path)
    with pytest.raises(StoreError, match="nothing to back up yet"):
        back_up(setup, tmp_path / "backups", SIGNED_MS)
    released_site(tmp_path)
    mark(tmp_path / "var", Restored(SIGNED_MS, SIGNED_MS, 1, "a"))
    with pytest.raises(StoreError, match="nobody has accepted yet"):
        back_up(setup, tmp_path / "backups", SIGNED_MS)


def test_of_a_site_on_influxdb_the_book_is_backed_up_and_the_rest_is_said(tmp_path: Path) -> None:
    setup = released_site(tmp_path)
    assert elsewhere(setup) is None
    server = 'readings = { kind = "influxdb", url = "http://127.0.0.1:9", bucket = "slab" }'
    path = tmp_path / "site.toml"
    path.write_text(path.read_text().replace('readings = { kind = "sqlite" }', server))
    setup = load(path)
    about = verified(back_up(setup, tmp_path / "backups", SIGNED_MS))
    assert (about.readings, list(about.files)) == ("influxdb", ["site.db"])
    said = elsewhere(setup)
    assert said is not None
    assert "bucket slab, and are not in this backup: back that up by its own means, after this one" in said
