"""Transactions: whole or not at all, one writer, readers that write nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Thread

import pytest
from sqlalchemy import text
from store_support import (
    BAY,
    EDGE,
    INSIDE,
    POUR,
    T0,
    make_log,
    make_pour,
    make_reading,
    make_result,
    make_setup,
    make_start,
    opened_book,
)

from shared.errors import StoreError
from shared.models.base import PourId
from shared.ports import NewArrivals
from shared.store import copy_book, has_book, open_readings, read_board, read_readings
from shared.store.database_sqlite import SqliteDatabase


class CrashError(Exception):
    """Stands for anything that ends a transaction half way."""


def test_both_files_are_kept_as_the_promises_need(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book, book.writing() as connection:
        pragmas = {
            name: connection.scalar(text(f"PRAGMA {name}"))
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 10_000}
    open_readings(make_setup(), tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "readings.db")) as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        with pytest.raises(sqlite3.IntegrityError, match="cannot store TEXT"):
            raw.execute("INSERT INTO reading VALUES (1, 'noon', 1, 1)")


def test_methods_called_inside_a_transaction_are_part_of_it(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        before = (book.cure.case(POUR), book.board.log_after(0))

        def crash() -> None:
            with book.writing():
                case = book.cure.case(POUR)
                assert book.cure.record(case, make_result(case, log=(make_log(),)))
                book.ingest.note([NewArrivals(EDGE, 1, T0, T0, T0)], [], [], [])
                assert book.cure.case(POUR).input_revision == 1
                raise CrashError

        with pytest.raises(CrashError):
            crash()
        assert (book.cure.case(POUR), book.board.log_after(0)) == before


def test_a_method_that_failed_inside_a_transaction_leaves_the_rest_of_it(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        with book.writing():
            book.ingest.note([NewArrivals(EDGE, 1, T0, T0, T0)], [], [], [])
            with pytest.raises(StoreError, match="another name"):
                book.cure.open_pour(make_start(), make_pour(), make_log())
            with pytest.raises(StoreError):
                book.ingest.note([NewArrivals(s, 1, T0, T0, r) for s, r in ((INSIDE, T0), (EDGE, 2**70))], [], [], [])
        assert {s: a.revision for s, a in book.ingest.arrival([EDGE, INSIDE]).items()} == {EDGE: 1}


def test_a_new_pour_is_opened_whole_or_not_at_all(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        with pytest.raises(StoreError, match="JSON"):
            book.cure.open_pour(make_start("p2"), make_pour("p2", start_ms=T0 + 1), make_log(odd=float("nan")))
        assert book.cure.pour_named(PourId("p2")) is None
        assert book.cure.pour_named(POUR) == make_pour()
        assert len(book.board.acts()) == 1


def test_writers_of_several_threads_lose_nothing(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:

        def write() -> None:
            for _ in range(20):
                book.ingest.note([NewArrivals(EDGE, 1, T0, T0, T0)], [], [], [])

        threads = [Thread(target=write) for _ in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert book.ingest.arrival([EDGE])[EDGE].revision == 60


def test_a_transaction_keeps_other_writers_out_from_its_beginning(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book, closing(sqlite3.connect(tmp_path / "site.db", timeout=0)) as other:
        with book.writing(), pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
        other.execute("BEGIN IMMEDIATE")
        other.rollback()


def test_a_reader_cannot_write(tmp_path: Path) -> None:
    with opened_book(tmp_path):
        pass
    database = SqliteDatabase(tmp_path, writer=False)
    try:
        with pytest.raises(StoreError, match="read only"), database.writing():
            pass
        with pytest.raises(StoreError, match="readonly database"), database.reading() as connection:
            connection.execute(text("DELETE FROM pour"))
    finally:
        database.close()
    with read_board(None, tmp_path) as board:
        assert [row.pour.bay for row in board.board()] == [BAY]


def test_readings_that_are_not_there_are_not_made_to_be_read(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="start slabhour there first"):
        read_readings(make_setup(), tmp_path / "none")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.row("S9")
def test_readings_of_a_newer_version_are_refused(tmp_path: Path) -> None:
    store = open_readings(make_setup(), tmp_path)
    store.merge([make_reading()])
    store.close()
    with closing(sqlite3.connect(tmp_path / "readings.db")) as raw:
        raw.execute("PRAGMA user_version = 99")
    with pytest.raises(StoreError, match="newer slabhour"):
        open_readings(make_setup(), tmp_path)
    with pytest.raises(StoreError, match="newer slabhour"):
        read_readings(make_setup(), tmp_path)


def test_a_copy_is_the_book_at_one_moment_and_writes_nothing_beside_it(tmp_path: Path) -> None:
    to = tmp_path / "copy"
    to.mkdir()
    assert not has_book(None, tmp_path)
    with opened_book(tmp_path, pours=1) as book:
        assert has_book(None, tmp_path)
        copy_book(None, tmp_path, to)
        with opened_book(to) as copied:
            assert [row.pour for row in copied.board.board()] == [row.pour for row in book.board.board()]
            copied.ingest.note([NewArrivals(EDGE, 1, T0, T0, T0)], (), (), ())
        assert book.ingest.arrival([EDGE]) == {}


def test_a_book_that_is_not_there_is_not_copied(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="unable to open"):
        copy_book(None, tmp_path, tmp_path)
    assert list(tmp_path.iterdir()) == []
