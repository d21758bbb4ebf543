"""A log that a storm cannot fill: one traceback a minute, and how many there were in between."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Final

EVERY_S: Final = 60.0


class SeldomLog:
    """Writes the exception at hand, if none was written within the last minute; else counts it."""

    def __init__(self, log: logging.Logger, now_s: Callable[[], float] = time.monotonic) -> None:
        self._log = log
        self._now_s = now_s
        self._next_s = float("-inf")
        self._held = 0

    def tell(self, said: str, *values: object) -> None:
        """Write it with its traceback, or count it."""
        now = self._now_s()
        if now < self._next_s:
            self._held += 1
            return
        self._next_s = now + EVERY_S
        if self._held:
            self._log.error("%d more of these were not written", self._held)
            self._held = 0
        self._log.exception(said, *values)
