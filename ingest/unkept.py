"""Messages that nobody keeps, sent at QoS 0: one topic has its share of the room here, and of the line before it none.

A broker sends everything down one line, in order. When they come faster than they can be taken they wait in front of
all others, at the broker, where nobody here can pass them over. A new connection begins with what the broker keeps, and
leaves behind what it does not.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from typing import Final

HELD: Final = 1000
"""Messages that wait to be stored before one is dropped that nobody keeps: a flood of these leaves room for others."""
OF_ONE_TOPIC: Final = 300
"""A day of readings, one every five minutes."""
LINE_S: Final = 15.0
"""For so long the line may be full of them."""


class Unkept:
    """Counts for the network thread, which alone may call it."""

    def __init__(self, now_s: Callable[[], float] = time.monotonic) -> None:
        """`now_s`: seconds that only go on."""
        self._now_s = now_s
        self._waiting: Counter[str] = Counter()
        self.heard = 0
        """Messages that came, of either kind."""
        self.emptied()

    def emptied(self) -> None:
        """Begin anew: nothing more waits on the line, or it is another line."""
        self._since_s = self._now_s()
        self._kept = self._unkept = self._votes = 0
        self._most = ""

    def came(self, topic: str, *, kept: bool) -> None:
        """Count a message that came."""
        self.heard += 1
        if kept:
            self._kept += 1
            return
        self._unkept += 1
        # The one that more than half of them name is left at the end, whatever the others are.
        if not self._votes:
            self._most = topic
        self._votes += 1 if topic == self._most else -1

    def room(self, topic: str, waiting: int) -> bool:
        """Return whether one more of a topic may wait to be stored, when so many wait."""
        return waiting < HELD and self._waiting[topic] < OF_ONE_TOPIC

    def waits(self, topic: str) -> None:
        """Count one that waits to be stored."""
        self._waiting[topic] += 1

    def stored(self, topic: str) -> None:
        """Count one that waits no more."""
        self._waiting[topic] -= 1
        if self._waiting[topic] <= 0:
            del self._waiting[topic]

    def flood(self) -> str | None:
        """Return the topic of most of them when they have filled the line for too long, else None."""
        if self._unkept <= self._kept or self._now_s() - self._since_s < LINE_S:
            return None
        return self._most
