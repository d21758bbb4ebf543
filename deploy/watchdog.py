"""The only judge of liveness: ends the process when a loop has stopped turning, so that a supervisor starts it anew.

By the monotonic clock, never by what a library says of itself. As long as all of them turn it tells the machine's
service manager, which ends the process when even this is silent.
"""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Callable, Mapping
from typing import Final

from deploy.heartbeat import notify

LOG: Final = logging.getLogger(__name__)
STALE_AFTER_S: Final = 120.0
LOOK_EVERY_S: Final = 5.0
EXIT_STALE: Final = 70


def _end() -> None:
    os._exit(EXIT_STALE)


def _tell() -> None:
    notify("WATCHDOG=1")


class Watchdog:
    """Asks every loop how long ago it last turned."""

    def __init__(
        self,
        loops: Mapping[str, Callable[[], float]],
        *,
        stale_after_s: float = STALE_AFTER_S,
        look_every_s: float = LOOK_EVERY_S,
        end: Callable[[], None] = _end,
        tell: Callable[[], None] = _tell,
    ) -> None:
        self._loops = loops
        self._stale_after_s = stale_after_s
        self._look_every_s = look_every_s
        self._end = end
        self._tell = tell
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watchdog", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def close(self) -> None:
        """Stop looking: the loops are being ended on purpose."""
        self._closing.set()
        self._thread.join()

    def stale(self) -> tuple[str, ...]:
        """Return the loops that have stopped turning."""
        return tuple(name for name, stale_s in self._loops.items() if not stale_s() <= self._stale_after_s)

    def _run(self) -> None:
        while not self._closing.wait(self._look_every_s):
            if stopped := self.stale():
                LOG.critical("%s stopped turning %.0f s ago; the process ends", ", ".join(stopped), self._stale_after_s)
                self._end()
                return
            self._tell()
