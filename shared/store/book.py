"""The site book: everything set up, decided and told, in `site.db` of the data folder or on a PostgreSQL server."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, closing, contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy import Connection

from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.models.stores import PostgresqlSettings
from shared.ports import (
    AlertsBook,
    BoardBook,
    CureBook,
    IngestBook,
    PeopleBook,
    RefusedBook,
    ServiceBook,
    Share,
    TokenBook,
    Whole,
)
from shared.ports.weather import ForecastBook, WeatherBook
from shared.store import chain, schema
from shared.store.accepted import Settings, accept, is_in_force
from shared.store.book_alerts import SqlAlertsBook
from shared.store.book_board import SqlBoardBook
from shared.store.book_cure import SqlCureBook
from shared.store.book_ingest import SqlIngestBook
from shared.store.book_people import SqlPeopleBook
from shared.store.book_refused import SqlRefusedBook
from shared.store.book_service import SqlServiceBook
from shared.store.book_tokens import SqlTokenBook
from shared.store.book_weather import SqlForecastBook, SqlWeatherBook
from shared.store.database import Database
from shared.store.database_sqlite import FILE, SqliteDatabase

OTHER_FILE: Final = (
    "this site file is not the one that slabhour serve was started with: give both the same one, and start serve "
    "before whoever works beside it"
)


class SiteBook:
    """The faces of one book. Whoever opened it closes it."""

    def __init__(self, database: Database) -> None:
        settings = Settings()
        self._database = database
        self.ingest: IngestBook = SqlIngestBook(database)
        self.refused: RefusedBook = SqlRefusedBook(database)
        self.cure: CureBook = SqlCureBook(database, settings)
        self.alerts: AlertsBook = SqlAlertsBook(database)
        self.board: BoardBook = SqlBoardBook(database, settings)
        self.service: ServiceBook = SqlServiceBook(database)
        self.people: PeopleBook = SqlPeopleBook(database)
        self.weather: WeatherBook = SqlWeatherBook(database)
        self.forecasts: ForecastBook = SqlForecastBook(database)
        self.tokens: TokenBook = SqlTokenBook(database)

    def writing(self) -> AbstractContextManager[Connection]:
        """Begin a transaction that every method called inside it, by this thread, is part of."""
        return self._database.writing()

    def is_set_up(self, setup: Setup) -> bool:
        """Say whether a site file is the one in force. Raises `StoreError`: it is another site's, or nobody can say."""
        with self._database.reading() as connection:
            schema.check(connection)
            return is_in_force(connection, setup)

    def close(self) -> None:
        """Give back every connection."""
        self._database.close()


def open_sqlite(setup: Setup, folder: Path, now: Ms) -> SiteBook:
    """Open the book in `folder`, made or brought to this version's tables; accept the set-up."""
    return _opened(SqliteDatabase(folder), setup, now)


def open_postgresql(setup: Setup, _folder: Path, now: Ms) -> SiteBook:
    """Open the book on the server, its tables made or brought to this version's; accept the set-up."""
    return _opened(writable_server(setup), setup, now)


def writable_server(setup: Setup) -> Database:
    """Open the server's database to write. Raises `StoreError`: it would not keep what it says it keeps."""
    from shared.store.database_postgresql import refuse_unsafe

    database = on_server(setup, writer=True)
    try:
        with database.reading() as connection:
            refuse_unsafe(connection)
    except BaseException:
        database.close()
        raise
    return database


def join(setup: Setup) -> SiteBook:
    """Open the book on the server beside a service that keeps it; nothing is made or accepted."""
    book = SiteBook(on_server(setup, writer=True))
    try:
        if not book.is_set_up(setup):
            raise StoreError(OTHER_FILE)
    except BaseException:
        book.close()
        raise
    return book


def share(setup: Setup) -> Share:
    """Return what part of the pours is this process's."""
    settings = setup.site.stores.book
    if not isinstance(settings, PostgresqlSettings):
        return Whole()
    from shared.store.database_postgresql import dsn_of
    from shared.store.share_postgresql import PostgresqlShare

    return PostgresqlShare(dsn_of(settings, Path(setup.folder)))


def _opened(database: Database, setup: Setup, now: Ms) -> SiteBook:
    try:
        with database.writing() as connection:
            schema.migrate(connection)
            accept(connection, setup, now)
        return SiteBook(database)
    except BaseException:
        database.close()
        raise


def is_on_server(setup: Setup) -> bool:
    """Say whether a site's book is on a server."""
    return isinstance(setup.site.stores.book, PostgresqlSettings)


def on_server(setup: Setup, *, writer: bool) -> Database:
    """Open the server's database. Raises `StoreError`: there is none, or its connection string cannot be read."""
    from shared.store.database_postgresql import PostgresqlDatabase, dsn_of

    settings = setup.site.stores.book
    if not isinstance(settings, PostgresqlSettings):
        raise StoreError("the site book of this site is a file")
    return PostgresqlDatabase(dsn_of(settings, Path(setup.folder)), writer=writer)


@contextmanager
def reading(setup: Setup | None, folder: Path) -> Iterator[Database]:
    """Open a site's book to read only, beside a service that writes it; without a set-up, the copy in `folder`."""
    database: Database
    if setup is not None and is_on_server(setup):
        database = on_server(setup, writer=False)
    elif (folder / FILE).is_file():
        database = SqliteDatabase(folder, writer=False)
    else:
        raise StoreError(f"there is no site book in {folder}: start slabhour there first")
    try:
        with database.reading() as connection:
            schema.check(connection)
        yield database
    finally:
        database.close()


@contextmanager
def read_board(setup: Setup | None, folder: Path) -> Iterator[SqlBoardBook]:
    """Open the board to read only."""
    with reading(setup, folder) as database:
        yield SqlBoardBook(database, Settings())


@contextmanager
def read_tokens(setup: Setup, folder: Path) -> Iterator[SqlTokenBook]:
    """Open the tokens to read only."""
    with reading(setup, folder) as database:
        yield SqlTokenBook(database)


@contextmanager
def read_weather(setup: Setup, folder: Path) -> Iterator[SqlWeatherBook]:
    """Open the weather to read only."""
    with reading(setup, folder) as database:
        yield SqlWeatherBook(database)


@contextmanager
def read_forecasts(setup: Setup, folder: Path) -> Iterator[SqlForecastBook]:
    """Open the forecasts on file to read only."""
    with reading(setup, folder) as database:
        yield SqlForecastBook(database)


def has_book(setup: Setup | None, folder: Path) -> bool:
    """Say whether the site has a book yet. Raises `StoreError` for a server that does not answer."""
    if setup is None or not is_on_server(setup):
        return (folder / FILE).is_file()
    with closing(on_server(setup, writer=False)) as database, database.reading() as connection:
        return schema.is_there(connection)


def verify_log(setup: Setup | None, folder: Path, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
    """Return (lines, newest hash) of a log, read only.

    Raises:
        StoreError: it was changed, or lacks an anchor.
    """
    with reading(setup, folder) as database, database.reading() as connection:
        return chain.verify(connection, anchors)


def log_head(setup: Setup | None, folder: Path) -> tuple[int, str]:
    """Return (number, hash) of the newest line of a log, read only; (0, "") for an empty log."""
    with reading(setup, folder) as database, database.reading() as connection:
        return chain.head(connection)
