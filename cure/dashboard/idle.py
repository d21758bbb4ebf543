"""When somebody last asked for a page: a session that nobody uses ends before its twelve hours."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Final

from shared.models.base import HOUR_MS, Ms

IDLE_MS: Final = 2 * HOUR_MS
"""A browser that was left open. What signs takes password and code anyway; for reading there are keys of screens."""
REMEMBERED: Final = 5_000


class Idle:
    """The last use of each session, by its digest. Safe from many threads.

    It lies in memory: a restart of the service counts as a use.
    """

    def __init__(self) -> None:
        self._used: OrderedDict[str, Ms] = OrderedDict()
        self._lock = Lock()

    def is_over(self, digest: str, now: Ms, *, counts: bool) -> bool:
        """Return whether a session has not been used for too long; else note this use.

        Args:
            digest: of the session.
            now: site time.
            counts: whether a person asks; what a page's script asks by itself is no use.
        """
        with self._lock:
            used = self._used.get(digest)
            if used is not None and now - used >= IDLE_MS:
                return True
            if counts or used is None:
                self._used[digest] = now
                self._used.move_to_end(digest)
            while len(self._used) > REMEMBERED:
                self._used.popitem(last=False)
        return False
