"""Migrations: they make exactly the tables of `tables.py`, whole or not at all; a newer book is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from faults_support import killed_at_every_statement
from store_support import POUR, T0, make_setup, opened_book

from shared.errors import StoreError
from shared.models.decisions import Doubt, DoubtKind
from shared.store import open_book, read_board, schema
from shared.store.database_sqlite import SqliteDatabase
from shared.store.tables import METADATA


def test_the_migrations_make_the_tables_that_the_code_expects(tmp_path: Path) -> None:
    database = SqliteDatabase(tmp_path)
    try:
        with database.writing() as connection:
            schema.upgrade(connection)
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            assert compare_metadata(context, METADATA) == []
    finally:
        database.close()


def _made(folder: Path) -> dict[str, object]:
    """Return each table's columns, keys, indexes and flags, and every trigger."""
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        found: dict[str, object] = dict(raw.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"))
        for _, name, kind, columns, without, strict in raw.execute("PRAGMA main.table_list").fetchall():
            sql = raw.execute("SELECT sql FROM sqlite_schema WHERE name = ?", (name,)).fetchone()
            found[f"table {name}"] = (kind, columns, without, strict, sql is not None and "AUTOINCREMENT" in sql[0])
            for table_of in ("table_xinfo", "foreign_key_list"):
                rows = raw.execute(f"PRAGMA {table_of}({name})").fetchall()
                found[f"{table_of} {name}"] = sorted(
                    str(row[1:] if table_of == "table_xinfo" else row[2:]) for row in rows
                )
            indexes = raw.execute(f"PRAGMA index_list({name})").fetchall()
            found[f"indexes of {name}"] = sorted(
                str((*row[2:], raw.execute(f"PRAGMA index_xinfo({row[1]})").fetchall())) for row in indexes
            )
    return found


def test_a_new_book_has_what_the_migrations_leave(tmp_path: Path) -> None:
    for folder, makes in (("new", schema.migrate), ("migrated", schema.upgrade)):
        (tmp_path / folder).mkdir()
        database = SqliteDatabase(tmp_path / folder)
        try:
            with database.writing() as connection:
                makes(connection)
        finally:
            database.close()
    new, migrated = _made(tmp_path / "new"), _made(tmp_path / "migrated")
    assert {name for name in migrated if name.startswith("log_no_")} == {"log_no_update", "log_no_delete"}
    assert new == migrated


def test_the_revision_that_the_code_expects_is_the_newest_migration() -> None:
    assert schema.known()[0] == schema.REVISION


def test_every_table_is_strict_and_numbers_are_never_used_again(tmp_path: Path) -> None:
    with opened_book(tmp_path), closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        strict = {name: bool(flag) for _, name, kind, _, _, flag in raw.execute("PRAGMA table_list") if kind == "table"}
        made = dict(raw.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall())
    assert {name for name in METADATA.tables if not strict[name]} == set()
    numbered = {n for n, t in METADATA.tables.items() if t.dialect_options["sqlite"]["autoincrement"]}
    assert {n for n in METADATA.tables if "AUTOINCREMENT" in made[n]} == numbered > {"log", "message", "delivery"}


def test_migrating_again_changes_nothing(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        before = book.board.log_after(0)
    with opened_book(tmp_path) as book:
        assert book.board.log_after(0) == before


def _set_revision(folder: Path, revision: str) -> None:
    with closing(sqlite3.connect(folder / "site.db")) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = ?", (revision,))


@pytest.mark.row("S9")
def test_a_book_of_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    with opened_book(tmp_path):
        pass
    _set_revision(tmp_path, "9999")
    before = (tmp_path / "site.db").read_bytes()
    with pytest.raises(StoreError, match="newer slabhour"):
        open_book(make_setup(), tmp_path, T0)
    with pytest.raises(StoreError, match="newer slabhour"), read_board(None, tmp_path):
        pass
    assert (tmp_path / "site.db").read_bytes() == before


@pytest.mark.row("S9")
def test_a_migration_that_fails_leaves_no_table(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        raw.execute("CREATE TABLE log (x)")
    with pytest.raises(StoreError, match="already exists"):
        open_book(make_setup(), tmp_path, T0)
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        assert raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall() == [("log",)]


LATER = (
    "starts_before",
    "kept_answer",
    "token",
    "weather",
    "weather_heard",
    "forecast",
    "sequence",
    "hand_reading",
    "session",
    "account",
    "invitation",
    "device",
)
"""Tables that came after the second migration."""


def _at_the_first_tables(folder: Path) -> list[str]:
    """Take a book back to its first migration; return the names of the tables that came later."""
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        every = [name for (name,) in raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        second = ["document", "test_result", "requirement", "clock_span", "doubt", "silence", "refusal_decided"]
        assert set(second) < set(every)
        raw.executescript("".join(f"DROP TABLE {name};" for name in (*LATER, *second)))
        raw.execute("ALTER TABLE arrival DROP COLUMN rewritten")
        for name in ("position", "who"):
            raw.execute(f"ALTER TABLE placement DROP COLUMN {name}")
        raw.commit()
    _set_revision(folder, "0001")
    return second


def _tables(folder: Path) -> set[str]:
    with closing(sqlite3.connect(folder / "site.db")) as raw:
        return {name for (name,) in raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}


def test_a_book_of_the_first_tables_gets_the_second_and_keeps_what_is_in_it(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        before = (book.cure.case(POUR), book.board.log_after(0), book.service.log_head())
    _at_the_first_tables(tmp_path)
    with pytest.raises(StoreError, match="older slabhour"), read_board(None, tmp_path):
        pass
    with opened_book(tmp_path) as book:
        after = (book.cure.case(POUR), book.board.log_after(0), book.service.log_head())
        assert after == before
        assert book.service.raise_doubt(Doubt(DoubtKind.CLOCK, T0, "jumped"), [])
    assert schema.known() == [
        "starts_before",
        "tokens",
        "weather",
        "refusal_decided",
        "sequences",
        "by_hand",
        "people",
        "0003",
        "0002",
        "0001",
    ]


@pytest.mark.row("S9")
def test_a_second_migration_that_fails_leaves_the_first_as_it_was(tmp_path: Path) -> None:
    with opened_book(tmp_path):
        pass
    last = _at_the_first_tables(tmp_path)[-1]
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        # The table that is made last is in the way: all before it must go again.
        raw.execute(f"CREATE TABLE {last} (x)")
        raw.commit()
    before = _tables(tmp_path)
    with pytest.raises(StoreError, match="already exists"):
        open_book(make_setup(), tmp_path, T0)
    assert _tables(tmp_path) == before
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        assert raw.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
        raw.execute(f"DROP TABLE {last}")
    with opened_book(tmp_path) as book:
        assert book.board.doubts() == ()


@pytest.mark.row("S9")
def test_a_process_killed_at_any_statement_of_a_migration_leaves_the_old_tables_or_the_new(tmp_path: Path) -> None:
    old = tmp_path / "old"
    with opened_book(old) as book:
        log = book.board.log_after(0)
    _at_the_first_tables(old)
    found = []
    for n, image in enumerate(killed_at_every_statement(old, lambda: _migrated(old), tmp_path / "killed")):
        found.append(_tables(image) >= set(METADATA.tables))
        with opened_book(image) as book:
            assert book.board.log_after(0) == log, n
    assert found == [False] * (len(found) - 1) + [True]
    assert len(found) > 8


def _migrated(folder: Path) -> None:
    database = SqliteDatabase(folder)
    try:
        with database.writing() as connection:
            schema.migrate(connection)
    finally:
        database.close()


def test_an_unmigrated_book_cannot_be_read(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        raw.execute("PRAGMA journal_mode = WAL")
    with pytest.raises(StoreError, match="older slabhour"), read_board(None, tmp_path):
        pass


def test_a_file_that_is_no_database_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / "site.db").write_bytes(b"not a database, " * 100)
    with pytest.raises(StoreError, match=r"site\.db"):
        open_book(make_setup(), tmp_path, T0)
