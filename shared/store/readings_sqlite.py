"""Readings in one SQLite file, `readings.db`. Only this connection writes and checkpoints; readers are read-only.

A key that came with several values keeps the coldest in `reading`, the others in `other`: so the outcome does not
depend on the order of arrival, and a batch that is delivered again after a crash names its conflicts again.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from itertools import groupby
from pathlib import Path
from threading import Event, Lock
from typing import Final

from shared.errors import StoreError
from shared.models.base import Ms, SensorId
from shared.models.readings import Conflict, Reading, Series
from shared.models.setup import Setup
from shared.store import sqlite_care
from shared.store.lock import only_writer
from shared.store.sqlite_readers import Readers

FILE: Final = "readings.db"
FORGOTTEN: Final = 2_000
"""Readings deleted at once: whoever stores waits some milliseconds."""
PAUSE_S: Final = 0.005
"""Between two pieces: else whoever takes the lock back at once never lets another have it."""
_VERSION: Final = 1
_PAGE: Final = 5_000
_SCHEMA: Final = """
CREATE TABLE sensor (no INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE reading (
  sensor INTEGER NOT NULL REFERENCES sensor (no), taken_ms INTEGER NOT NULL,
  milli_c INTEGER NOT NULL, received_ms INTEGER NOT NULL, PRIMARY KEY (sensor, taken_ms)
) STRICT, WITHOUT ROWID;
CREATE TABLE other (
  sensor INTEGER NOT NULL REFERENCES sensor (no), taken_ms INTEGER NOT NULL,
  milli_c INTEGER NOT NULL, received_ms INTEGER NOT NULL, PRIMARY KEY (sensor, taken_ms, milli_c)
) STRICT, WITHOUT ROWID;
"""
_FOUND: Final = (
    "FROM reading WHERE sensor = (SELECT no FROM sensor WHERE id = ?) AND taken_ms > ? AND taken_ms <= ? "
    "ORDER BY taken_ms"
)
_SERIES: Final = f"SELECT taken_ms, milli_c, received_ms {_FOUND}"
_ROWS: Final = f"SELECT taken_ms, milli_c, received_ms {_FOUND} LIMIT {_PAGE}"
_NTH: Final = "SELECT taken_ms FROM reading WHERE sensor = ? AND taken_ms < ? ORDER BY taken_ms LIMIT 1 OFFSET ?"
# All hours of one sensor in one statement: a file brings many thousands.
_KNOWN: Final = (
    "SELECT taken_ms, milli_c, received_ms FROM json_each(?) CROSS JOIN reading "
    "ON sensor = (SELECT no FROM sensor WHERE id = ?) AND taken_ms = value"
)
_Key = tuple[int, Ms]
_Row = tuple[int, Ms, int, Ms]


@contextmanager
def _our_errors(doing: str) -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, OverflowError) as error:
        raise StoreError(f"readings.db: cannot {doing}: {sqlite_care.said(error)}") from error


def _coldest(rows: Sequence[_Row], known: Mapping[_Key, tuple[int, Ms]]) -> tuple[Sequence[_Row], Sequence[_Row]]:
    """Return what of sorted rows replaces what is stored, or is new; and the other values of their keys."""
    better: list[_Row] = []
    others: list[_Row] = []
    for key, group in groupby(rows, key=lambda row: (row[0], row[1])):
        came = [(milli_c, received) for _, _, milli_c, received in group]
        stored = known.get(key)
        kept = min(came if stored is None else [*came, stored])
        if kept != stored:
            better.append((*key, *kept))
        seen = came if stored is None else [*came, stored]
        others += [(*key, *value) for value in seen if value[0] != kept[0]]
    return better, others


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _by_sensor(keys: Iterable[tuple[SensorId, Ms]]) -> Mapping[SensorId, list[Ms]]:
    hours: dict[SensorId, list[Ms]] = {}
    for sensor, taken_ms in keys:
        hours.setdefault(sensor, []).append(taken_ms)
    return hours


def open_readings(_setup: Setup, folder: Path, *, writer: bool) -> SqliteReadings:
    """Open the store in `folder`, made if it is not there; or, not to write, beside whoever writes it."""
    file = folder / FILE
    if not writer and not file.is_file():
        raise StoreError(f"there are no readings in {folder}: start slabhour there first")
    with _our_errors("open it"):
        return SqliteReadings(file, writer=writer)


class SqliteReadings:
    """The `Readings` port on SQLite."""

    def __init__(self, file: Path, *, writer: bool) -> None:
        self._file = file
        self._readers = Readers(file)
        self._lock = Lock()
        self._pause = Event()
        self._writes = writer
        with ExitStack() as undo:
            # One connection that writes and checkpoints, ever: two at once can damage the file (sqlite.org/wal.html).
            if writer:
                undo.enter_context(only_writer(file))
            place = file if writer else self._readers.uri
            self._writer = sqlite3.connect(
                place, uri=not writer, timeout=10.0, isolation_level=None, check_same_thread=False
            )
            undo.callback(self._writer.close)
            self._prepare()
            self._opened = undo.pop_all()

    def _prepare(self) -> None:
        if not self._writes:
            self._refuse_newer()
            return
        for pragma in (
            "auto_vacuum = INCREMENTAL",
            "journal_mode = WAL",
            "synchronous = FULL",
            "wal_autocheckpoint = 20000",
            sqlite_care.LOG_LIMIT,
            "cache_size = -65536",
            "foreign_keys = ON",
        ):
            self._writer.execute(f"PRAGMA {pragma}")
        with _transaction(self._writer):
            if self._refuse_newer() == 0:
                for statement in _SCHEMA.split(";\n"):
                    self._writer.execute(statement)
                self._writer.execute(f"PRAGMA user_version = {_VERSION}")
        self._numbers = {SensorId(name): no for no, name in self._writer.execute("SELECT no, id FROM sensor")}

    def _refuse_newer(self) -> int:
        version: int = self._writer.execute("PRAGMA user_version").fetchone()[0]
        if version > _VERSION:
            raise StoreError("readings.db was made by a newer slabhour: install that version or a later one")
        return version

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        if not batch:
            return []
        with self._lock, _our_errors("write readings"):
            self._refuse_reader()
            with _transaction(self._writer):
                numbers = self._interned({r.sensor for r in batch})
                conflicts = self._merged(batch, numbers)
            # Only after the commit: a rolled back number must not be remembered.
            self._numbers |= numbers
            return conflicts

    def _interned(self, sensors: Collection[SensorId]) -> dict[SensorId, int]:
        numbers = {s: self._numbers[s] for s in sensors if s in self._numbers}
        for sensor in sorted(s for s in sensors if s not in numbers):
            row = self._writer.execute("INSERT INTO sensor (id) VALUES (?) RETURNING no", (sensor,)).fetchone()
            numbers[sensor] = row[0]
        return numbers

    def _merged(self, batch: Sequence[Reading], numbers: Mapping[SensorId, int]) -> list[Conflict]:
        names = {no: sensor for sensor, no in numbers.items()}
        rows = sorted((numbers[r.sensor], r.taken_ms, r.milli_c, r.received_ms) for r in batch)
        known = self._stored(batch, numbers)
        keys = list(dict.fromkeys((row[0], row[1]) for row in rows))
        if known or len(keys) < len(rows):
            better, others = _coldest(rows, known)
        else:
            # As most batches are: every key is new, and there once.
            better, others = rows, []
        self._writer.executemany(
            "INSERT INTO reading VALUES (?, ?, ?, ?) ON CONFLICT (sensor, taken_ms) "
            "DO UPDATE SET milli_c = excluded.milli_c, received_ms = excluded.received_ms",
            better,
        )
        self._writer.executemany(
            "INSERT INTO other VALUES (?, ?, ?, ?) ON CONFLICT (sensor, taken_ms, milli_c) "
            "DO UPDATE SET received_ms = min(received_ms, excluded.received_ms)",
            others,
        )
        return self._conflicts(keys, names)

    def _stored(self, batch: Sequence[Reading], numbers: Mapping[SensorId, int]) -> Mapping[_Key, tuple[int, Ms]]:
        return {
            (numbers[sensor], taken_ms): (milli_c, received_ms)
            for sensor, hours in _by_sensor((r.sensor, r.taken_ms) for r in batch).items()
            for taken_ms, milli_c, received_ms in self._writer.execute(_KNOWN, (json.dumps(hours), sensor))
        }

    def _conflicts(self, keys: Sequence[_Key], names: Mapping[int, SensorId]) -> list[Conflict]:
        # Conflicts are rare: without any, a batch of thousands asks once instead of once a key.
        if self._writer.execute("SELECT 1 FROM other LIMIT 1").fetchone() is None:
            return []
        return [
            Conflict(names[key[0]], key[1], kept, other, received)
            for key in keys
            for kept, other, received in self._writer.execute(
                "SELECT reading.milli_c, other.milli_c, max(reading.received_ms, other.received_ms) "
                "FROM other JOIN reading USING (sensor, taken_ms) "
                "WHERE other.sensor = ? AND other.taken_ms = ? ORDER BY other.milli_c",
                key,
            ).fetchall()
        ]

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        with self._reader() as reader:
            return {
                (sensor, taken_ms): milli_c
                for sensor, hours in _by_sensor(keys).items()
                for taken_ms, milli_c, _ in reader.execute(_KNOWN, (json.dumps(hours), sensor))
            }

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        with self._reader() as reader:
            rows = reader.execute(_SERIES, (sensor, after, through)).fetchall()
        return Series.of_rows(rows)

    def rows(self, sensor: SensorId, after: Ms, through: Ms) -> Iterator[Reading]:
        while True:
            # A page at a time: a slow consumer must not hold a snapshot, which holds back checkpoints.
            with self._reader() as reader:
                page = reader.execute(_ROWS, (sensor, after, through)).fetchall()
            for taken, milli_c, received in page:
                yield Reading(sensor, taken, milli_c, received)
            if len(page) < _PAGE:
                return
            after = page[-1][0]

    def forget(self, sensor: SensorId, before: Ms) -> int:
        gone = 0
        while some := self._forget_some(sensor, before):
            gone += some
            self._pause.wait(PAUSE_S)
        return gone

    def _forget_some(self, sensor: SensorId, before: Ms) -> int:
        """Delete the oldest few; between two calls others may write."""
        with self._lock, _our_errors("delete readings"):
            self._refuse_reader()
            no = self._numbers.get(sensor)
            if no is None:
                return 0
            with _transaction(self._writer):
                beyond = self._writer.execute(_NTH, (no, before, FORGOTTEN)).fetchone()
                until = before if beyond is None else beyond[0]
                self._writer.execute("DELETE FROM other WHERE sensor = ? AND taken_ms < ?", (no, until))
                gone = self._writer.execute("DELETE FROM reading WHERE sensor = ? AND taken_ms < ?", (no, until))
                return gone.rowcount

    def tidy(self) -> str | None:
        for _ in range(sqlite_care.VACUUMS):
            with self._lock, _our_errors("tidy up"):
                self._refuse_reader()
                if not sqlite_care.step(self._writer):
                    break
            self._pause.wait(PAUSE_S)
        return sqlite_care.held_back(self._file)

    def close(self) -> None:
        with self._lock, _our_errors("close it"):
            self._readers.close()
            self._opened.close()

    def _refuse_reader(self) -> None:
        self._readers.refuse_closed()
        if not self._writes:
            raise StoreError("readings.db was opened to read only")

    @contextmanager
    def _reader(self) -> Iterator[sqlite3.Connection]:
        with _our_errors("read"), self._readers.lent() as reader:
            yield reader
