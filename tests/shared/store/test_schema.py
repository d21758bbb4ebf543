"""Migrations: they make exactly the tables of `tables.py`, whole or not at all; a newer book is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from store_support import T0, make_setup, opened_book

from shared.errors import StoreError
from shared.store import open_book, read_board, schema
from shared.store.database import Database
from shared.store.tables import METADATA


def test_the_migrations_make_the_tables_that_the_code_expects(tmp_path: Path) -> None:
    database = Database(tmp_path)
    try:
        with database.writing() as connection:
            schema.migrate(connection)
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            assert compare_metadata(context, METADATA) == []
    finally:
        database.close()


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
    with pytest.raises(StoreError, match="newer slabhour"), read_board(tmp_path):
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


def test_an_unmigrated_book_cannot_be_read(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "site.db")) as raw:
        raw.execute("PRAGMA journal_mode = WAL")
    with pytest.raises(StoreError, match="older slabhour"), read_board(tmp_path):
        pass


def test_a_file_that_is_no_database_is_a_store_error(tmp_path: Path) -> None:
    (tmp_path / "site.db").write_bytes(b"not a database, " * 100)
    with pytest.raises(StoreError, match=r"site\.db"):
        open_book(make_setup(), tmp_path, T0)
