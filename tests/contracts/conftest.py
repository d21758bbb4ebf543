"""A site book with one pour in each of two bays, in a file and on a server; stores of readings of every kind."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
from postgresql_support import NEEDS_POSTGRESQL, BooksOnServer, PostgresqlServer, postgresql
from readings_support import Stores
from store_support import PLACING, opened_book

from shared.store.book import SiteBook
from shared.store.copying import copy
from shared.store.database_postgresql import PostgresqlDatabase
from shared.store.database_sqlite import SqliteDatabase

_IN_FILES = ("test_book_killed.py", "test_readings_contract.py", "test_alerts_both.py")
"""About files, or of more kinds than these two already."""


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run every test of the book on every kind of book."""
    if metafunc.module.__file__.endswith(_IN_FILES) or metafunc.definition.get_closest_marker("in_a_file"):
        return
    kinds = ["sqlite", pytest.param("postgresql", marks=NEEDS_POSTGRESQL)]
    metafunc.parametrize("kind_of_book", kinds, indirect=True)


@pytest.fixture(scope="session")
def server() -> Iterator[PostgresqlServer]:
    with postgresql() as running:
        yield running


@pytest.fixture(autouse=True)
def kind_of_book(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> BooksOnServer | None:
    if getattr(request, "param", "sqlite") == "sqlite":
        return None
    books = BooksOnServer(request.getfixturevalue("server"), tmp_path_factory.mktemp("dsn"))
    monkeypatch.setattr(PLACING, "on_server", books.settings)
    return books


@pytest.fixture(scope="session")
def book_as_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book")
    with pytest.MonkeyPatch.context() as here:
        here.setattr(PLACING, "on_server", None)
        with opened_book(folder, pours=2):
            pass
    return folder / "site.db"


@pytest.fixture(scope="session")
def database_as_made(server: PostgresqlServer, book_as_made: Path) -> str:
    name = server.made()
    with (
        closing(SqliteDatabase(book_as_made.parent, writer=False)) as source,
        closing(PostgresqlDatabase(server.dsn(name))) as target,
    ):
        copy(source, target)
    return name


@pytest.fixture
def book(request: pytest.FixtureRequest, kind_of_book: BooksOnServer | None, tmp_path: Path) -> Iterator[SiteBook]:
    # Copied, not made: making the tables takes longer than most tests.
    if kind_of_book is None:
        shutil.copy(request.getfixturevalue("book_as_made"), tmp_path)
    else:
        server: PostgresqlServer = request.getfixturevalue("server")
        kind_of_book.give(tmp_path, server.made(request.getfixturevalue("database_as_made")))
    with opened_book(tmp_path) as opened:
        yield opened


@pytest.fixture(scope="session")
def stores(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stores]:
    with ExitStack() as ending:
        yield Stores(tmp_path_factory.mktemp("influxdb"), ending)
