"""What a person must know of the broker though readings come in: what it has lost, who else uses our name."""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable, Sequence
from typing import Final

from ingest.payloads.decoded import quoted
from ingest.reconnect import TAKEN_OVER
from shared.models.acts import instant
from shared.models.base import Ms

DROPPED: Final = "$SYS/broker/publish/messages/dropped"
"""Mosquitto's own count of what it dropped; other brokers do not tell."""
LASTS_S: Final = 3600.0
MOST: Final = 20

_log = logging.getLogger(__name__)


class Alarms:
    """Is told what happens to each connection; remembers for an hour what was wrong."""

    def __init__(self, client_id: str, wall_ms: Callable[[], Ms]) -> None:
        """`wall_ms`: this machine's own hour."""
        self._client_id = client_id
        self._wall_ms = wall_ms
        self._connected_ms: Ms | None = None
        self._granted = 0
        self._dropped: int | None = None
        self._said: deque[tuple[float, str]] = deque(maxlen=MOST)

    def told(self) -> Sequence[str]:
        """Return the alarms of the last hour."""
        return tuple(said for at, said in tuple(self._said) if time.monotonic() - at < LASTS_S)

    def connected(self) -> None:
        """Remember that the broker is there now."""
        self._connected_ms = self._wall_ms()

    def session_lost(self) -> None:
        """Raise the alarm that names the hours of which readings may be lost."""
        until = instant(self._wall_ms()).isoformat(timespec="seconds")
        since = "our start" if self._connected_ms is None else instant(self._connected_ms).isoformat(timespec="seconds")
        self._raise(f"the broker has forgotten our session: what loggers sent from {since} to {until} may be lost")

    def ended(self, *, soon: bool, granted: bool) -> None:
        """Count connections that were granted and soon ended by the broker: nothing else tells of a second client."""
        self._granted = self._granted + 1 if soon and granted else 0
        if self._granted == TAKEN_OVER:
            self._raise(f"the broker ends each connection soon: another client seems to use the name {self._client_id}")

    def dropped(self, count: bytes, *, kept: bool) -> None:
        """Raise the alarm when the broker's count of dropped messages has changed; `kept`: it is an old one.

        It sends the count when it changes, and begins at 0 when it starts.
        """
        if not count.isdigit():
            return
        if not kept and int(count) not in {0, self._dropped}:
            self._raise(f"the broker's queue is full: it has dropped {int(count)} messages since it started")
        self._dropped = int(count)

    def flooded(self, topic: str) -> None:
        """Raise the alarm once that messages which nobody keeps come faster than they can be taken."""
        said = f"more messages at QoS 0 come than can be taken, most on {quoted(topic)}: look after whoever sends them"
        if said not in self.told():
            self._raise(said)

    def _raise(self, said: str) -> None:
        _log.error("%s", said)
        self._said.append((time.monotonic(), said))
