"""The site book's SQLite file: one connection that writes, under one lock; read-only connections for everybody else.

A reader that does nothing for five seconds is cut off by the next write: as long as it holds its moment of the book,
the log beside the file grows.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock, RLock, local
from typing import Final, TypeVar

from sqlalchemy import ColumnElement, Connection, Engine, Table, create_engine, event, literal
from sqlalchemy.dialects.sqlite import Insert, insert
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import QueuePool, StaticPool

from shared.errors import StoreError
from shared.store import sqlite_care
from shared.store.sqlite_readers import READ_S

_Name = TypeVar("_Name", bound=str)
_AT_ONCE: Final = 5_000
"""As many as one statement may name, with room to spare (SQLite: 32 766)."""

FILE: Final = "site.db"
_PRAGMAS: Final = ("busy_timeout = 10000", "foreign_keys = ON")
_WRITER_PRAGMAS: Final = ("journal_mode = WAL", "synchronous = FULL", sqlite_care.LOG_LIMIT, *_PRAGMAS)
_IDLE_FROM: Final = "idle from"
_CUT: Final = "cut off"


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


def among(column: ColumnElement[str], values: Iterable[str]) -> ColumnElement[bool]:
    """Return that a column is one of a few values that never change: no list to be written out at each execution."""
    return column.in_([literal(value) for value in values])


def named_at_once(names: Iterable[_Name]) -> Iterator[list[_Name]]:
    """Yield the names in order, each once, as many as one statement may name."""
    left = sorted(set(names))
    for begin in range(0, len(left), _AT_ONCE):
        yield left[begin : begin + _AT_ONCE]


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


class _Reading:
    """The read transactions that are open on an engine."""

    def __init__(self, engine: Engine) -> None:
        self._open: set[Connection] = set()
        self._lock = Lock()

        @event.listens_for(engine, "before_cursor_execute")
        def asks(connection: Connection, *_: object) -> None:
            with self._lock:
                if connection.info[_CUT]:
                    raise StoreError(f"{FILE}: cut off after {READ_S:g} s in which a reader asked nothing: ask again")
                connection.info[_IDLE_FROM] = float("inf")

        @event.listens_for(engine, "after_cursor_execute")
        def answered(connection: Connection, *_: object) -> None:
            connection.info[_IDLE_FROM] = time.monotonic()

    def begun(self, connection: Connection) -> None:
        with self._lock:
            connection.info.update({_CUT: False, _IDLE_FROM: time.monotonic()})
            self._open.add(connection)

    def ended(self, connection: Connection) -> None:
        with self._lock:
            self._open.discard(connection)

    def cut_off(self) -> None:
        """Take their moment of the book away from those who have asked nothing for too long."""
        if not self._open:
            return
        with self._lock:
            late = time.monotonic() - READ_S
            for connection in self._open:
                raw = connection.connection.driver_connection
                if connection.info[_IDLE_FROM] < late and isinstance(raw, sqlite3.Connection):
                    connection.info.update({_CUT: True, _IDLE_FROM: float("inf")})
                    raw.rollback()


class Database:
    """Transactions on one site book. `writer=False` opens nothing that could write."""

    def __init__(self, folder: Path, *, writer: bool = True) -> None:
        file = folder / FILE
        self._lock = RLock()
        self._here = local()
        self._write: Engine | None = _engine(file, read_only=False) if writer else None
        self._read = _engine(file, read_only=True)
        self._reading = _Reading(self._read)
        self._file = file

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
        self._reading.cut_off()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Begin a read transaction: one snapshot. Inside `writing` of the same thread it sees what was written."""
        outer: Connection | None = getattr(self._here, "connection", None)
        with our_errors():
            if outer is not None:
                yield outer
                return
            with self._read.begin() as connection:
                self._reading.begun(connection)
                try:
                    yield connection
                finally:
                    self._reading.ended(connection)

    def tidy(self) -> str | None:
        """Move the log into the file; return what holds it back, or None."""
        if self._write is None:
            raise StoreError(f"{FILE} was opened to read only")
        with our_errors(), self._lock:
            raw = self._write.raw_connection()
            try:
                if isinstance(raw.driver_connection, sqlite3.Connection):
                    sqlite_care.step(raw.driver_connection)
            finally:
                raw.close()
        return sqlite_care.held_back(self._file)

    def close(self) -> None:
        """Give back every connection."""
        with our_errors(), self._lock:
            self._read.dispose()
            if self._write is not None:
                self._write.dispose()
