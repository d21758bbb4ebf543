"""Nobody holds a moment of the file for long."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from threading import Event
from types import SimpleNamespace

import pytest
from sqlalchemy import text
from store_support import EDGE, T0, make_reading, make_setup, opened_book

from shared.errors import StoreError
from shared.store import database_sqlite, open_readings
from shared.store.database_sqlite import SqliteDatabase
from shared.store.sqlite_readers import READ_S, Readers

ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge([make_reading()])
    return tmp_path / "readings.db"


@pytest.mark.row("S5", "D6")
def test_a_statement_that_reads_for_too_long_is_cut_off_in_words(file: Path) -> None:
    with closing(Readers(file, read_s=0.2)) as readers:
        begun = time.monotonic()
        with pytest.raises(StoreError, match=r"readings\.db: cut off after reading for 0\.2 s"), readers.lent() as one:
            one.execute(ENDLESS).fetchone()
        assert 0.2 <= time.monotonic() - begun < 30
        with readers.lent() as one:
            assert one.execute("SELECT count(*) FROM reading").fetchone() == (1,)


def test_an_error_that_is_none_of_time_stays_what_it_is(file: Path) -> None:
    with closing(Readers(file)) as readers, pytest.raises(sqlite3.OperationalError), readers.lent() as one:
        one.execute("SELECT nothing FROM nowhere")


def test_a_reader_cannot_write(file: Path) -> None:
    readonly = pytest.raises(sqlite3.OperationalError, match="readonly")
    with closing(Readers(file)) as readers, readonly, readers.lent() as one:
        one.execute("DELETE FROM reading")


@pytest.mark.row("S5")
def test_one_who_takes_readings_slowly_holds_nothing_back(tmp_path: Path) -> None:
    with closing(open_readings(make_setup(), tmp_path)) as store:
        store.merge([make_reading(minutes=m) for m in range(6_000)])
        slow = store.rows(EDGE, 0, 2**62)
        assert next(slow).taken_ms == T0
        store.merge([make_reading(minutes=m) for m in range(6_000, 9_000)])
        store.tidy()
        assert (tmp_path / "readings.db-wal").stat().st_size == 0
        assert sum(1 for _ in slow) == 8_999


@pytest.mark.row("S5")
def test_an_idle_reader_of_the_book_is_cut_off_by_the_next_write_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database_sqlite, "READ_S", 60.0)
    with opened_book(tmp_path):
        pass
    log, count = tmp_path / "site.db-wal", text("SELECT count(*) FROM setting")
    with closing(SqliteDatabase(tmp_path)) as book:
        with book.reading() as reader:
            before = reader.scalar(count)
            write_beside(book)
            assert reader.scalar(count) == before, "it is not late yet"
            monkeypatch.setattr(database_sqlite, "READ_S", 0.1)
            Event().wait(0.15)
            write_beside(book)
            # Its moment is gone: the log can be cut, and it does not go on with another moment.
            assert book.tidy() is None
            assert log.stat().st_size == 0
            with pytest.raises(StoreError, match=r"site\.db: cut off after 0\.1 s"):
                reader.scalar(count)
        monkeypatch.setattr(database_sqlite, "READ_S", 60.0)
        with book.reading() as reader:
            assert reader.scalar(count) == before


def write_beside(book: SqliteDatabase) -> None:
    from threading import Thread

    def write() -> None:
        with book.writing() as connection:
            connection.execute(text("UPDATE pour SET touched = touched + 1"))

    other = Thread(target=write)
    other.start()
    other.join()


def test_one_who_asks_now_and_then_is_not_idle(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = 1_000.0
    monkeypatch.setattr(database_sqlite, "time", SimpleNamespace(monotonic=lambda: now_s))
    with opened_book(tmp_path):
        pass
    with closing(SqliteDatabase(tmp_path)) as book, book.reading() as reader:
        for _ in range(4):
            now_s += 0.4 * READ_S
            write_beside(book)
            assert reader.scalar(text("SELECT count(*) FROM setting")) == 1
