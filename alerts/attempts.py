"""What this process knows of the attempts that it runs: which are about, and which outcomes nobody has written yet."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import TypeAlias

from shared.models.messages import Delivery, Due, MessageKind, Outcome

To: TypeAlias = tuple[str, int]
"""A recipient and a channel."""


@dataclass(frozen=True, slots=True)
class Claimed:
    """Rows that are `calling` together, under one lease: one text of one kind for one recipient and channel."""

    token: str
    dues: tuple[Due, ...]

    @property
    def first(self) -> Due:
        """The row that was due."""
        return self.dues[0]

    @property
    def kind(self) -> MessageKind:
        """What the text is about."""
        return self.first.message.kind


class Attempts:
    """Attempts by their lease token; used by several threads."""

    def __init__(self) -> None:
        self._running: dict[str, To] = {}
        self._unwritten: dict[str, tuple[Claimed, Outcome]] = {}
        """Outcomes that the store would not take when they came."""
        self._lock = Lock()

    def begin(self, claimed: Claimed) -> None:
        """Note an attempt before it runs."""
        with self._lock:
            self._running[claimed.token] = to(claimed.first.delivery)

    def end(self, claimed: Claimed, outcome: Outcome | None) -> None:
        """Note that it is over; in one step, so that no turn in between finds it neither running nor ended."""
        with self._lock:
            if outcome is not None:
                self._unwritten[claimed.token] = claimed, outcome
            del self._running[claimed.token]

    def written(self, claimed: Claimed) -> None:
        """Forget an outcome that is stored."""
        with self._lock:
            self._unwritten.pop(claimed.token, None)

    def unwritten(self) -> list[tuple[Claimed, Outcome]]:
        """Return outcomes that are not stored yet."""
        with self._lock:
            return list(self._unwritten.values())

    def knows(self, token: str | None) -> bool:
        """Return whether it runs here, or ended here without being stored yet."""
        with self._lock:
            return token in self._running or token in self._unwritten

    def sends_to(self, whom: To) -> bool:
        """Return whether one of the attempts goes to that recipient and channel."""
        with self._lock:
            return whom in self._running.values()

    def __len__(self) -> int:
        with self._lock:
            return len(self._running)


def to(delivery: Delivery) -> To:
    """Return whom a delivery goes to."""
    return delivery.recipient, delivery.channel
