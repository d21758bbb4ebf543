"""What both SQLite files need to stay small and whole: checkpoints, room given back, copies, a look at the pages."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from shared.errors import StoreError

LOG_LIMIT: Final = "journal_size_limit = 67108864"
"""The log beside a file is cut to this after a checkpoint. [bytes]"""
ALARM_BYTES: Final = 256 * 2**20
"""A log longer than this is held back by somebody who reads without end."""
VACUUMED_PAGES: Final = 500
"""Given back at once: some milliseconds."""
VACUUMS: Final = 200
"""In one tidying: 400 MB in pages of 4 KiB; the rest has its turn an hour later."""
COPIED_PAGES: Final = 2_000
_DAMAGED: Final = ("malformed", "not a database")
"""In what the driver says of a file whose pages are not what they should be."""


def said(error: object) -> str:
    """Return what the driver says; of a damaged file also how to mend it."""
    text = str(error)
    if not any(words in text for words in _DAMAGED):
        return text
    return f"{text}: stop the service, keep the damaged file, put the newest backup in its place (slabhour restore)"


def step(connection: sqlite3.Connection) -> bool:
    """Give some free pages back, then move the log into the file; return whether there is more to give back.

    Nobody is waited for: what a reader holds stays where it is until the next time.
    """
    (wait,) = connection.execute("PRAGMA busy_timeout").fetchone()
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        (free,) = connection.execute("PRAGMA freelist_count").fetchone()
        if free:
            # By `execute` it would give back a single page. A file that was made without this keeps its room, to fill.
            connection.executescript(f"PRAGMA incremental_vacuum({VACUUMED_PAGES})")
        (left,) = connection.execute("PRAGMA freelist_count").fetchone()
        # First what needs nobody's leave, then the cut, which is short when little is left.
        connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        return bool(0 < left < free)
    finally:
        connection.execute(f"PRAGMA busy_timeout = {wait}")


def held_back(file: Path, alarm_bytes: int = ALARM_BYTES) -> str | None:
    """Return that the log beside a file grows without end, or None."""
    log = file.with_name(f"{file.name}-wal")
    try:
        size = log.stat().st_size
    except FileNotFoundError:
        return None
    if size <= alarm_bytes:
        return None
    return (
        f"{log.name} has grown to {size // 2**20} MiB: another program reads {file.name} without end; "
        "end it (`fuser -v` names it), and the log shrinks within the hour"
    )


@contextmanager
def _errors(file: Path, doing: str) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise StoreError(f"{file.name}: cannot {doing}: {error}") from error
    except OSError as error:
        raise StoreError(f"{file.name}: cannot {doing}: {error.strerror}") from error


def copy(file: Path, to: Path, told: Callable[[float], None] = lambda _: None) -> None:
    """Copy a file as it is at one moment, beside whoever writes it; nothing of it is written.

    Args:
        file: of the store.
        to: a file that is not there yet; it is one file alone, without a log beside it, and on disk.
        told: called after each piece with the fraction done; what it raises ends the copy.

    Raises:
        StoreError: it cannot be read, or the copy cannot be written.
    """

    def progress(_status: int, remaining: int, total: int) -> None:
        told(1.0 - remaining / total if total else 1.0)

    uri = f"{file.absolute().as_uri()}?mode=ro"
    with (
        _errors(file, f"copy it to {to}"),
        closing(sqlite3.connect(uri, uri=True, timeout=10.0, isolation_level=None)) as source,
        closing(sqlite3.connect(to, isolation_level=None)) as target,
    ):
        # One moment for all pieces: else each commit beside it begins the copy again.
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_master").fetchone()
        source.backup(target, pages=COPIED_PAGES, progress=progress, sleep=0)
        source.execute("ROLLBACK")
        _alone(target, to)


def alone(file: Path) -> None:
    """Make a file that nobody has open one file alone, without a log beside it, and on disk. Raises `StoreError`."""
    with _errors(file, "finish it"), closing(sqlite3.connect(file, isolation_level=None)) as connection:
        _alone(connection, file)


def _alone(connection: sqlite3.Connection, file: Path) -> None:
    connection.execute("PRAGMA journal_mode = DELETE").fetchall()
    with file.open("rb") as written:
        os.fsync(written.fileno())


def damage(file: Path) -> str | None:
    """Return what is wrong with the pages, rows and indices of a file that nobody writes, or None."""
    uri = f"{file.absolute().as_uri()}?mode=ro"
    try:
        with closing(sqlite3.connect(uri, uri=True, timeout=10.0)) as connection:
            found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)")]
    except sqlite3.Error as error:
        return str(error)
    return None if found == ["ok"] else "; ".join(found)
