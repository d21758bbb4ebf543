"""Read-only connections on one SQLite file, lent for a moment each; one that reads for too long is cut off.

Whoever reads holds back the writer's checkpoints, and the log beside the file grows.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Final

from shared.errors import StoreError

READ_S: Final = 5.0
"""Longest time for which a reader may hold a moment of the file."""
STEPS: Final = 10_000
"""Of SQLite's machine, between two looks at the time."""


class Readers:
    """A pool of them. `lent` is for any thread."""

    def __init__(self, file: Path, *, read_s: float = READ_S) -> None:
        self.uri = f"{file.absolute().as_uri()}?mode=ro"
        self._name = file.name
        self._read_s = read_s
        self._idle: list[sqlite3.Connection] = []
        self._lock = Lock()
        self._closed = False

    @contextmanager
    def lent(self) -> Iterator[sqlite3.Connection]:
        """Lend a connection. Raises `StoreError` when it is closed, or has read for too long."""
        reader = self._taken()
        end = time.monotonic() + self._read_s
        reader.set_progress_handler(lambda: int(time.monotonic() > end), STEPS)
        try:
            yield reader
        except sqlite3.OperationalError as error:
            reader.close()
            if time.monotonic() > end:
                raise StoreError(f"{self._name}: cut off after reading for {self._read_s:g} s: ask for less") from error
            raise
        except BaseException:
            reader.close()
            raise
        self._given_back(reader)

    def close(self) -> None:
        """Give back every connection."""
        with self._lock:
            self._closed = True
            for reader in self._idle:
                reader.close()
            self._idle.clear()

    def refuse_closed(self) -> None:
        """Raise `StoreError` when it is closed."""
        if self._closed:
            raise StoreError(f"{self._name} is closed")

    def _given_back(self, reader: sqlite3.Connection) -> None:
        with self._lock:
            if not self._closed:
                self._idle.append(reader)
                return
        reader.close()

    def _taken(self) -> sqlite3.Connection:
        with self._lock:
            self.refuse_closed()
            if self._idle:
                return self._idle.pop()
        return sqlite3.connect(self.uri, uri=True, timeout=10.0, isolation_level=None, check_same_thread=False)
