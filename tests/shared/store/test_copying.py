"""A copied book is the book, in either direction, or nothing is there of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from book_support import HOLD, STATE, dump
from postgresql_support import NEEDS_POSTGRESQL, PostgresqlServer, postgresql
from sqlalchemy import Connection, Table, func, select, text
from store_support import POUR, T0, make_log, make_message, make_result, opened_book

from shared.errors import StoreError
from shared.store import copying, schema, tables
from shared.store.copying import copy
from shared.store.database_postgresql import PostgresqlDatabase
from shared.store.database_sqlite import SqliteDatabase

pytestmark = list(NEEDS_POSTGRESQL)


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a book with rows of many tables, of which the newest message is gone again."""
    folder = tmp_path_factory.mktemp("book")
    with opened_book(folder, pours=2) as book:
        case = book.cure.case(POUR)
        told = tuple(make_message(epoch=n, hour="zwölf") for n in range(1, 4))
        result = make_result(case, holds=(HOLD,), state=STATE, messages=told, log=(make_log("gate"),))
        assert book.cure.record(case, result)
        with book.writing() as connection:
            connection.execute(tables.message.delete().where(tables.message.c.no == 3))
    return folder


@pytest.fixture
def source(made: Path) -> Iterator[SqliteDatabase]:
    with closing(SqliteDatabase(made, writer=False)) as opened:
        yield opened


@pytest.fixture
def there(server: PostgresqlServer) -> Iterator[PostgresqlDatabase]:
    with closing(PostgresqlDatabase(server.dsn(server.made()))) as opened:
        yield opened


def test_there_and_back_again_it_is_the_same_file_with_its_running_numbers(
    made: Path, source: SqliteDatabase, there: PostgresqlDatabase, tmp_path: Path
) -> None:
    told: list[tuple[str, float]] = []
    arrived = copy(source, there, lambda table, done: told.append((table, done)))
    assert {table.name: table.rows for table in arrived}["message"] == 2
    assert [done for _, done in told] == sorted(done for _, done in told)
    assert (told[0][1], told[-1][1]) == (0.0, 1.0)
    with closing(SqliteDatabase(tmp_path)) as back:
        assert copy(there, back) == arrived
    assert sorted(dump(tmp_path)) == sorted(dump(made))
    # Its number is not given again, at either end.
    for database in (there, SqliteDatabase(tmp_path)):
        with closing(database), database.writing() as connection:
            row = dict(connection.execute(select(tables.message).where(tables.message.c.no == 2)).mappings().one())
            values = {name: value for name, value in row.items() if name != "no"} | {"epoch": 9}
            (number,) = connection.execute(tables.message.insert().values(values)).inserted_primary_key or (0,)
            assert number == 4


def test_a_copy_that_is_there_is_looked_at_again_and_another_book_is_left_as_it_is(
    source: SqliteDatabase, there: PostgresqlDatabase, tmp_path: Path
) -> None:
    arrived = copy(source, there)
    assert copy(source, there) == arrived
    with there.writing() as connection:
        connection.execute(tables.gate.update().values(changed_ms=T0 + 1))
    with pytest.raises(StoreError, match="another site book at the other end: a copy goes into an empty one only"):
        copy(source, there)
    with there.reading() as connection:
        assert connection.scalar(select(func.max(tables.gate.c.changed_ms))) == T0 + 1
    with opened_book(tmp_path):
        pass
    before = dump(tmp_path)
    with closing(SqliteDatabase(tmp_path)) as other, pytest.raises(StoreError, match="another site book"):
        copy(source, other)
    assert dump(tmp_path) == before


def test_of_a_copy_that_is_not_what_was_sent_or_was_stopped_nothing_is_there(
    source: SqliteDatabase, there: PostgresqlDatabase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(table: str, _done: float) -> None:
        if table == "message":
            raise KeyboardInterrupt

    def spoil(connection: Connection, table: Table, last: int) -> None:
        if table.name == "message":
            connection.execute(tables.message.update().values(epoch=99 + tables.message.c.no))
        copied(connection, table, last)

    copied = copying._go_on_from
    with closing(SqliteDatabase(tmp_path)) as file:
        for target in (there, file):
            with pytest.raises(KeyboardInterrupt):
                copy(source, target, stopped)
            with monkeypatch.context() as patched:
                patched.setattr(copying, "_go_on_from", spoil)
                with pytest.raises(StoreError, match="what arrived of the table message is not what was sent"):
                    copy(source, target)
            with target.writing() as connection:
                assert not schema.is_there(connection)
            copy(source, target)


def test_a_book_of_an_older_version_is_not_copied(there: PostgresqlDatabase, made: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(made / "site.db")) as raw, closing(sqlite3.connect(tmp_path / "site.db")) as old:
        raw.backup(old)
        old.execute("UPDATE alembic_version SET version_num = 'site_book'")
        old.commit()
    with (
        closing(SqliteDatabase(tmp_path, writer=False)) as source,
        pytest.raises(StoreError, match="the site book"),
    ):
        copy(source, there)
    with there.reading() as connection:
        assert connection.scalar(text("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'")) == 0
