"""A server that several processes share: one writes at a time, readers see one moment, what is answered is kept."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from threading import Event, Thread

import psycopg
import pytest
from postgresql_support import NEEDS_POSTGRESQL, PostgresqlServer, postgresql
from sqlalchemy import text

from shared.errors import StoreError
from shared.models.stores import PostgresqlSettings
from shared.store import database_postgresql
from shared.store.database_postgresql import PostgresqlDatabase, dsn_of, refuse_unsafe

pytestmark = list(NEEDS_POSTGRESQL)
ADD = text("INSERT INTO one (n) VALUES (:n)")
ALL = text("SELECT n FROM one ORDER BY n")


@pytest.fixture(scope="module")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture
def dsn(server: PostgresqlServer) -> str:
    """The connection string of a database with one empty table."""
    made = server.dsn(server.made())
    with psycopg.connect(made) as link:
        link.execute("CREATE TABLE one (n INTEGER NOT NULL)")
    return made


@pytest.fixture
def database(dsn: str) -> Iterator[PostgresqlDatabase]:
    with closing(PostgresqlDatabase(dsn)) as opened:
        yield opened


def found(database: PostgresqlDatabase) -> list[int]:
    with database.reading() as connection:
        return list(connection.scalars(ALL))


def test_a_connection_string_that_cannot_be_used_is_told_without_its_password(tmp_path: Path) -> None:
    settings = PostgresqlSettings(kind="postgresql", dsn_file="secret")
    with pytest.raises(StoreError, match=r"the file of the connection string, secret, cannot be read: .*No such file"):
        dsn_of(settings, tmp_path)
    for wrong in ("host=book password='hush", "postgresql://slab:hush@[::1/yard", "hush", b"\xffhush"):
        (tmp_path / "secret").write_bytes(wrong if isinstance(wrong, bytes) else wrong.encode())
        with pytest.raises(StoreError, match="secret") as refused:
            dsn_of(settings, tmp_path)
        assert "hush" not in str(refused.value)
    (tmp_path / "secret").write_text(" host=book user=slab password=hush\n")
    assert dsn_of(settings, tmp_path) == "host=book user=slab password=hush"
    nobody = PostgresqlDatabase(f"host={tmp_path} user=slab password=hush dbname=yard")
    with closing(nobody), pytest.raises(StoreError, match="site book on PostgreSQL: ") as away, nobody.reading():
        pass
    assert "hush" not in str(away.value)


def test_a_server_that_would_lose_or_sort_in_its_own_way_is_refused(server: PostgresqlServer, dsn: str) -> None:
    def refused(dsn: str) -> str:
        try:
            with closing(PostgresqlDatabase(dsn, writer=False)) as opened, opened.reading() as connection:
                refuse_unsafe(connection)
        except StoreError as error:
            return str(error)
        return ""

    assert refused(dsn) == ""
    with psycopg.connect(server.dsn("postgres"), autocommit=True) as link:
        link.execute("CREATE DATABASE spoken TEMPLATE template0 LOCALE_PROVIDER icu ICU_LOCALE 'en'")
        link.execute("CREATE DATABASE bytes TEMPLATE template0 ENCODING 'SQL_ASCII'")
        assert "sorts by the rules of a language" in refused(server.dsn("spoken"))
        assert "server_encoding = SQL_ASCII: names in other letters" in refused(server.dsn("bytes"))
        for setting, why in (("fsync", "it loses, when power fails"), ("full_page_writes", "a page half written")):
            link.execute(f"ALTER SYSTEM SET {setting} = off".encode())
            link.execute("SELECT pg_reload_conf()")
            # The server reads it when it comes to it.
            while not (said := refused(dsn)):
                Event().wait(0.05)
            assert f"the server has {setting} = off: {why}" in said
            link.execute(f"ALTER SYSTEM RESET {setting}".encode())
            link.execute("SELECT pg_reload_conf()")
            while refused(dsn):
                Event().wait(0.05)


def test_two_writers_take_turns_and_neither_undoes_the_other(dsn: str) -> None:
    """What is read inside a write transaction is the newest, and stays it: twenty times each adds one."""
    failed: list[BaseException] = []

    def count(database: PostgresqlDatabase) -> None:
        try:
            for _ in range(20):
                with database.writing() as connection:
                    n = connection.scalar(text("SELECT coalesce(max(n), 0) FROM one"))
                    connection.execute(ADD, {"n": n + 1})
        except BaseException as error:  # noqa: BLE001 - told by the test below
            failed.append(error)

    with closing(PostgresqlDatabase(dsn)) as one, closing(PostgresqlDatabase(dsn)) as other:
        threads = [Thread(target=count, args=(each,)) for each in (one, other, one)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert failed == []
        assert found(one) == list(range(1, 61))


def test_a_turn_that_does_not_come_is_an_error_and_not_a_wait_for_ever(
    database: PostgresqlDatabase, dsn: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database_postgresql, "_WRITER", ("SET lock_timeout = '100ms'",))
    with closing(PostgresqlDatabase(dsn)) as second:
        with database.writing(), pytest.raises(StoreError, match="lock timeout"), second.writing():
            pass
        with second.writing() as connection:
            connection.execute(ADD, {"n": 1})
    assert found(database) == [1]


def test_a_reader_sees_one_moment_and_can_write_nothing(database: PostgresqlDatabase, dsn: str) -> None:
    with closing(PostgresqlDatabase(dsn, writer=False)) as readers, readers.reading() as connection:
        assert list(connection.scalars(ALL)) == []
        with database.writing() as writer:
            writer.execute(ADD, {"n": 1})
        assert list(connection.scalars(ALL)) == []
        assert found(readers) == [1]
        with pytest.raises(StoreError, match="read-only transaction"), readers.reading() as second:
            second.execute(ADD, {"n": 2})
        with pytest.raises(StoreError, match="opened to read only"), readers.writing():
            pass
    with database.writing() as writer:
        writer.execute(ADD, {"n": 2})
        assert found(database) == [1, 2]
        with pytest.raises(StoreError), database.writing() as inner:
            inner.execute(ADD, {"n": None})
    assert found(database) == [1, 2]
    assert (database.tidy(), database.damage()) == (None, None)


@pytest.mark.row("S14")
def test_after_a_killed_server_the_next_transaction_works_and_one_amid_it_keeps_nothing(
    server: PostgresqlServer, database: PostgresqlDatabase
) -> None:
    with database.writing() as connection:
        connection.execute(ADD, {"n": 1})
    assert found(database) == [1]
    server.kill()
    with pytest.raises(StoreError, match="site book on PostgreSQL: "), database.writing():
        pass
    with pytest.raises(StoreError, match="site book on PostgreSQL: "):
        found(database)
    assert str(database.damage()).startswith("site book on PostgreSQL: ")
    server.start()
    # The connections that were kept are dead: they are asked before they are used.
    with database.writing() as connection:
        connection.execute(ADD, {"n": 2})

    def killed(*numbers: int) -> None:
        with database.writing() as connection:
            connection.execute(ADD, {"n": 3})
            server.kill()
            for n in numbers:
                connection.execute(ADD, {"n": n})

    for more in ((4,), ()):
        with pytest.raises(StoreError, match="site book on PostgreSQL: "):
            killed(*more)
        server.start()
    assert found(database) == [1, 2]
    with database.writing() as connection:
        connection.execute(ADD, {"n": 6})
    assert found(database) == [1, 2, 6]
