"""How much other software may ask in a person's name: so many requests at once, then so many a minute."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import Final

from shared.models.base import MINUTE_MS, Ms

A_MINUTE: Final = 120
"""Twice a second: who wants all of a table asks for it as one file."""


@dataclass(slots=True)
class Pace:
    """What is left to each person. Safe from many threads; who may ask at all is few."""

    a_minute: int = A_MINUTE
    _left: dict[str, tuple[float, Ms]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def wait_ms(self, person: str, now: Ms) -> int:
        """Take one request of a person's; return 0, or how long they wait for another. [ms]"""
        a_ms = self.a_minute / MINUTE_MS
        with self._lock:
            left, at = self._left.get(person, (float(self.a_minute), now))
            # A clock that was set back gives nothing and takes nothing.
            left = min(float(self.a_minute), left + max(0, now - at) * a_ms)
            taken = left >= 1.0
            self._left[person] = (left - 1.0 if taken else left, now)
        return 0 if taken else max(1, round((1.0 - left) / a_ms))
