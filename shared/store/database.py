"""The site book's SQLite file: one connection that writes, under one lock; read-only connections for everybody else."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import RLock, local
from typing import Final

from sqlalchemy import Connection, Engine, Table, create_engine, event
from sqlalchemy.dialects.sqlite import Insert, insert
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import QueuePool, StaticPool

from shared.errors import StoreError

FILE: Final = "site.db"
_PRAGMAS: Final = ("busy_timeout = 10000", "foreign_keys = ON")
_WRITER_PRAGMAS: Final = ("journal_mode = WAL", "synchronous = FULL", *_PRAGMAS)


@contextmanager
def our_errors() -> Iterator[None]:
    """Turn the drivers' errors into ours."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OverflowError) as error:
        # People read it, in the message about a doubt too: what the driver says, without the statement and its values.
        said = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
        raise StoreError(f"{FILE}: {said}") from error


def inserting(table: Table) -> Insert:
    """Return an insert that knows `on_conflict_do_nothing` and `on_conflict_do_update`."""
    return insert(table)


def _engine(file: Path, *, read_only: bool) -> Engine:
    uri = f"{file.absolute().as_uri()}?mode={'ro' if read_only else 'rwc'}"

    def connect() -> sqlite3.Connection:
        # isolation_level None: the driver begins nothing by itself, the two events below do.
        raw = sqlite3.connect(uri, uri=True, timeout=10.0, isolation_level=None, check_same_thread=False)
        for pragma in _PRAGMAS if read_only else _WRITER_PRAGMAS:
            raw.execute(f"PRAGMA {pragma}")
        return raw

    if read_only:
        engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, pool_size=4, max_overflow=-1)
    else:
        engine = create_engine("sqlite://", creator=connect, poolclass=StaticPool)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # Not through SQLAlchemy, which makes as much of it as of a query.
        connection.connection.cursor().execute("BEGIN" if read_only else "BEGIN IMMEDIATE")

    return engine


def copy(folder: Path, to: Path) -> None:
    """Copy the book in `folder` into `to` as it is at one moment; nothing in `folder` is written."""
    uri = f"{(folder / FILE).absolute().as_uri()}?mode=ro"
    with (
        our_errors(),
        closing(sqlite3.connect(uri, uri=True, timeout=10.0)) as source,
        closing(sqlite3.connect(to / FILE)) as target,
    ):
        source.backup(target)


class Database:
    """Transactions on one site book. `writer=False` opens nothing that could write."""

    def __init__(self, folder: Path, *, writer: bool = True) -> None:
        file = folder / FILE
        self._lock = RLock()
        self._here = local()
        self._write: Engine | None = _engine(file, read_only=False) if writer else None
        self._read = _engine(file, read_only=True)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Begin a write transaction; inside one of the same thread, a savepoint of it."""
        if self._write is None:
            raise StoreError(f"{FILE} was opened to read only")
        with our_errors(), self._lock:
            outer: Connection | None = getattr(self._here, "connection", None)
            if outer is not None:
                with outer.begin_nested():
                    yield outer
                return
            with self._write.begin() as connection:
                self._here.connection = connection
                try:
                    yield connection
                finally:
                    self._here.connection = None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Begin a read transaction: one snapshot. Inside `writing` of the same thread it sees what was written."""
        outer: Connection | None = getattr(self._here, "connection", None)
        with our_errors():
            if outer is not None:
                yield outer
                return
            with self._read.begin() as connection:
                yield connection

    def close(self) -> None:
        """Give back every connection."""
        with our_errors(), self._lock:
            self._read.dispose()
            if self._write is not None:
                self._write.dispose()
