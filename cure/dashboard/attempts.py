"""How often somebody may try to sign in: a few times at once, then not until a while has passed."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Final

from shared.models.base import MINUTE_MS, Ms

WINDOW_MS: Final = 15 * MINUTE_MS
TRIES: Final = 5
"""Of one name from one address."""
TRIES_OF_ADDRESS: Final = 20
"""More than one person may sit behind an address."""
TRIES_OF_PERSON: Final = 30
"""From anywhere: whoever guesses from one address must not keep the person out at another."""
REMEMBERED: Final = 5_000


class Attempts:
    """Failed attempts of the last quarter of an hour, by name and by address. Safe from many threads."""

    def __init__(self) -> None:
        self._failed: OrderedDict[tuple[str, str], list[Ms]] = OrderedDict()
        self._lock = Lock()

    def begin(self, person: str, address: str, now: Ms) -> int:
        """Return how long to wait before an attempt; 0: it may be made, and counts as failed until it succeeds.

        Counted before it is made: of many made at once only so many as may fail are looked at.
        """
        with self._lock:
            wait_ms = max(
                self._wait((person, address), TRIES, now),
                self._wait(("", address), TRIES_OF_ADDRESS, now),
                self._wait((person, ""), TRIES_OF_PERSON, now),
            )
            if wait_ms == 0:
                for key in _keys(person, address):
                    self._failed.setdefault(key, []).append(now)
                    self._failed.move_to_end(key)
                while len(self._failed) > REMEMBERED:
                    self._failed.popitem(last=False)
            return wait_ms

    def succeeded(self, person: str, address: str, now: Ms) -> None:
        """Forget an attempt begun at that hour, and the failures of the person who has come in from there."""
        with self._lock:
            self._failed.pop((person, address), None)
            for key in _keys(person, address):
                if now in (begun := self._failed.get(key, [])):
                    begun.remove(now)

    def _wait(self, key: tuple[str, str], tries: int, now: Ms) -> int:
        recent = [at for at in self._failed.get(key, ()) if 0 <= now - at < WINDOW_MS]
        if not recent:
            self._failed.pop(key, None)
            return 0
        self._failed[key] = recent
        return 0 if len(recent) < tries else recent[-tries] + WINDOW_MS - now


def _keys(person: str, address: str) -> tuple[tuple[str, str], ...]:
    return (person, address), ("", address), (person, "")
