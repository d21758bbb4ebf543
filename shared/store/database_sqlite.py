"""The site book as one SQLite file: one connection that writes, under one lock; all others only read.

A reader that does nothing for five seconds is cut off by the next write: as long as it holds its moment of the book,
the log beside the file grows.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock, RLock, local
from typing import Final

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.pool import QueuePool, StaticPool

from shared.errors import StoreError
from shared.store import sqlite_care
from shared.store.database import our_errors
from shared.store.sqlite_readers import READ_S

FILE: Final = "site.db"
_PRAGMAS: Final = ("busy_timeout = 10000", "foreign_keys = ON")
_WRITER_PRAGMAS: Final = ("journal_mode = WAL", "synchronous = FULL", sqlite_care.LOG_LIMIT, *_PRAGMAS)
_IDLE_FROM: Final = "idle from"
_CUT: Final = "cut off"


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


class SqliteDatabase:
    """The `Database` of a data folder. `writer=False` opens nothing that could write."""

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
        if self._write is None:
            raise StoreError(f"{FILE} was opened to read only")
        with our_errors(FILE, sqlite3.Error), self._lock:
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
        outer: Connection | None = getattr(self._here, "connection", None)
        with our_errors(FILE, sqlite3.Error):
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
        if self._write is None:
            raise StoreError(f"{FILE} was opened to read only")
        with our_errors(FILE, sqlite3.Error), self._lock:
            raw = self._write.raw_connection()
            try:
                if isinstance(raw.driver_connection, sqlite3.Connection):
                    sqlite_care.step(raw.driver_connection)
            finally:
                raw.close()
        return sqlite_care.held_back(self._file)

    def damage(self) -> str | None:
        try:
            with self.reading() as connection:
                found = [str(row[0]) for row in connection.execute(text("PRAGMA quick_check"))]
        except StoreError as error:
            # Badly damaged, it cannot even be read to be checked.
            return str(error)
        return None if found == ["ok"] else "; ".join(found[:5])

    def close(self) -> None:
        with our_errors(FILE, sqlite3.Error), self._lock:
            self._read.dispose()
            if self._write is not None:
                self._write.dispose()
