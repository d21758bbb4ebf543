"""The two files stay small and whole beside who writes and who reads them."""

from __future__ import annotations

import os
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from store_support import EDGE, INSIDE, T0, make_reading, make_setup, opened_book

from shared.errors import StoreError
from shared.models.base import MINUTE_MS
from shared.models.readings import Reading
from shared.store import copy_book, open_readings, sqlite_care


def many(number: int, first: int = 0) -> list[Reading]:
    return [Reading(EDGE, T0 + n * MINUTE_MS, 20_000, T0 + n * MINUTE_MS) for n in range(first, first + number)]


def size(file: Path) -> int:
    return file.stat().st_size if file.exists() else 0


@pytest.mark.row("S5")
def test_the_log_is_moved_into_the_file_and_cut(tmp_path: Path) -> None:
    log = tmp_path / "readings.db-wal"
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge(many(5_000))
        assert size(log) > 100_000
        assert store.tidy() is None
        assert size(log) == 0
        assert len(store.between(EDGE, 0, 2**62)) == 5_000


@pytest.mark.row("S5")
def test_a_log_that_a_reader_elsewhere_holds_back_is_told_and_nobody_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite_care.held_back, "__defaults__", (100_000,))
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge(many(1))
        uri = f"{(tmp_path / 'readings.db').as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM reading").fetchone()
            store.merge(many(5_000, 1))
            said = store.tidy()
            assert said is not None
            assert said.startswith("readings.db-wal has grown to ")
            store.merge(many(1, 9_000))
        assert store.tidy() is None


def test_room_of_what_was_forgotten_is_given_back_to_the_disk(tmp_path: Path) -> None:
    file = tmp_path / "readings.db"
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge([*many(60_000), make_reading(INSIDE)])
        store.tidy()
        full = size(file)
        assert store.forget(EDGE, T0 + 59_000 * MINUTE_MS) == 59_000
        store.tidy()
        assert size(file) < full / 4
        assert len(store.between(EDGE, 0, 2**62)) == 1_000
        assert len(store.between(INSIDE, 0, 2**62)) == 1
    assert sqlite_care.damage(file) is None


def test_while_much_is_forgotten_others_write_in_between(tmp_path: Path) -> None:
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge(many(40_000))
        pieces: list[int] = []
        forgetting = threading.Thread(target=lambda: pieces.append(store.forget(EDGE, T0 + 40_000 * MINUTE_MS)))
        forgetting.start()
        seen: list[int] = []
        number = 0
        while forgetting.is_alive():
            store.merge([make_reading(INSIDE, minutes=number)])
            number += 1
            seen.append(len(store.between(EDGE, 0, 2**62)))
        forgetting.join()
        assert pieces == [40_000]
        assert any(0 < left < 40_000 for left in seen), "else it was one piece"
        assert len(store.between(INSIDE, 0, 2**62)) == number


@pytest.mark.row("S14")
def test_a_copy_is_of_one_moment_while_others_write(tmp_path: Path) -> None:
    file, to = tmp_path / "readings.db", tmp_path / "copy.db"
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge(many(30_000))
        told: list[float] = []

        def write_beside(fraction: float) -> None:
            store.merge(many(1, 30_000 + len(told)))
            told.append(fraction)

        sqlite_care.copy(file, to, write_beside)
        assert len(store.between(EDGE, 0, 2**62)) == 30_000 + len(told)
    assert told[-1] == 1.0
    assert sqlite_care.damage(to) is None
    assert not to.with_name("copy.db-wal").exists()
    with closing(sqlite3.connect(to)) as copied:
        assert copied.execute("SELECT count(*) FROM reading").fetchone() == (30_000,)


def test_a_copy_that_cannot_be_written_is_told_in_words(tmp_path: Path) -> None:
    with opened_book(tmp_path), pytest.raises(StoreError, match=r"site\.db: cannot copy it to .*nowhere"):
        copy_book(None, tmp_path, tmp_path / "nowhere")
    with pytest.raises(StoreError, match=r"cannot copy it"):
        sqlite_care.copy(tmp_path / "not-there.db", tmp_path / "copy.db")


@pytest.mark.row("S6")
def test_damage_is_found_in_a_page_that_nobody_has_read(tmp_path: Path) -> None:
    file = tmp_path / "readings.db"
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge(many(20_000))
    assert sqlite_care.damage(file) is None
    with file.open("r+b") as raw:
        raw.seek(size(file) // 2 // 4096 * 4096)
        raw.write(os.urandom(4096))
    assert sqlite_care.damage(file) is not None
