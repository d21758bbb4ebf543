"""The site book on SQLite: everything set up, decided and told, in `site.db`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from sqlalchemy import Connection

from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.ports import (
    AlertsBook,
    BoardBook,
    CureBook,
    IngestBook,
    PeopleBook,
    RefusedBook,
    ServiceBook,
    TokenBook,
)
from shared.ports.weather import ForecastBook, WeatherBook
from shared.store import chain, schema
from shared.store.accepted import Settings, accept
from shared.store.book_alerts import SqlAlertsBook
from shared.store.book_board import SqlBoardBook
from shared.store.book_cure import SqlCureBook
from shared.store.book_ingest import SqlIngestBook
from shared.store.book_people import SqlPeopleBook
from shared.store.book_refused import SqlRefusedBook
from shared.store.book_service import SqlServiceBook
from shared.store.book_tokens import SqlTokenBook
from shared.store.book_weather import SqlForecastBook, SqlWeatherBook
from shared.store.database import FILE, Database


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

    def close(self) -> None:
        """Give back every connection."""
        self._database.close()


def open_sqlite(setup: Setup, folder: Path, now: Ms) -> SiteBook:
    """Open the book in `folder`, made or brought to this version's tables; accept the set-up."""
    database = Database(folder)
    try:
        with database.writing() as connection:
            schema.migrate(connection)
            accept(connection, setup, now)
        return SiteBook(database)
    except BaseException:
        database.close()
        raise


@contextmanager
def reading(folder: Path) -> Iterator[Database]:
    """Open a book to read only, beside a service that writes it."""
    if not (folder / FILE).is_file():
        raise StoreError(f"there is no site book in {folder}: start slabhour there first")
    database = Database(folder, writer=False)
    try:
        with database.reading() as connection:
            schema.check(connection)
        yield database
    finally:
        database.close()


@contextmanager
def read_board(folder: Path) -> Iterator[SqlBoardBook]:
    """Open the board to read only."""
    with reading(folder) as database:
        yield SqlBoardBook(database, Settings())


@contextmanager
def read_tokens(folder: Path) -> Iterator[SqlTokenBook]:
    """Open the tokens to read only."""
    with reading(folder) as database:
        yield SqlTokenBook(database)


@contextmanager
def read_weather(folder: Path) -> Iterator[SqlWeatherBook]:
    """Open the weather to read only."""
    with reading(folder) as database:
        yield SqlWeatherBook(database)


@contextmanager
def read_forecasts(folder: Path) -> Iterator[SqlForecastBook]:
    """Open the forecasts on file to read only."""
    with reading(folder) as database:
        yield SqlForecastBook(database)


def verify_log(folder: Path, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
    """Return (lines, newest hash) of the log in `folder`, read only.

    Raises:
        StoreError: it was changed, or lacks an anchor.
    """
    with reading(folder) as database, database.reading() as connection:
        return chain.verify(connection, anchors)


def log_head(folder: Path) -> tuple[int, str]:
    """Return (number, hash) of the newest line of the log in `folder`, read only; (0, "") for an empty log."""
    with reading(folder) as database, database.reading() as connection:
        return chain.head(connection)
