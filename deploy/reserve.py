"""A file that does nothing but hold room: when the disk is full it is given up, and no more readings are taken.

So what must still be written can be: withdrawals, the log, what is known of deliveries. Readings stay with whoever has
them, the broker or the loggers, until somebody has made room; then the file is made again, and they come.
"""

from __future__ import annotations

import logging
import os
from pathlib import Path
from threading import Lock
from typing import Final

LOG: Final = logging.getLogger(__name__)
FILE: Final = "reserve"
SIZE_BYTES: Final = 64 << 20
LOW_BYTES: Final = 16 << 20
"""With so little room left the disk counts as full."""


class Reserve:
    """Holds the file while the service runs. Every method may be called by any thread."""

    def __init__(self, folder: Path, size_bytes: int = SIZE_BYTES, low_bytes: int = LOW_BYTES) -> None:
        """`folder`: with the stores. Nothing is done before `look`."""
        self._file = folder / FILE
        self._size = size_bytes
        self._low = low_bytes
        self._lock = Lock()
        self._full = False

    def look(self) -> str | None:
        """Look at the disk, give the room up or take it again; return why no reading is to be taken, or None."""
        with self._lock:
            try:
                self._turn(self._free())
            except OSError as error:
                return f"the disk of {self._file.parent} cannot be looked at: {error.strerror}"
            return self._said() if self._full else None

    def _turn(self, free: int) -> None:
        if free < self._low and not self._full:
            LOG.error("%s", self._said())
            self._full = True
        if self._full and not self._room(free):
            self._file.unlink(missing_ok=True)
        elif not self._held() and self._room(free):
            self._make()
            self._full = False

    def _room(self, free: int) -> bool:
        return free >= self._size + 2 * self._low

    def _held(self) -> bool:
        return self._file.exists() and self._file.stat().st_size >= self._size

    def wrong(self) -> list[str]:
        """Return what a person must know, one sentence each."""
        full = self.look()
        if full is not None:
            return [full]
        if not self._held():
            return [
                f"{self._file.parent}: there is no room for a reserve of {self._size >> 20} MiB: make room on its disk"
            ]
        return []

    def close(self) -> None:
        """Give the room back."""
        with self._lock:
            self._file.unlink(missing_ok=True)

    def _free(self) -> int:
        found = os.statvfs(self._file.parent)
        return found.f_bavail * found.f_frsize

    def _make(self) -> None:
        try:
            with self._file.open("wb") as file:
                # Really taken, not only said to be so long.
                os.posix_fallocate(file.fileno(), 0, self._size)
        except OSError as error:
            LOG.warning("%s cannot be made: %s", self._file, error.strerror)
            self._file.unlink(missing_ok=True)

    def _said(self) -> str:
        return f"the disk of {self._file.parent} is full: no reading is taken until there is room; make room on it"
