"""How long a batch of messages waits for more. Pure: hours are handed in, in seconds of any clock that runs evenly.

In a stream of messages a commit costs the processor as much as many of them, and nobody sees the difference. The single
message never waits. Nor does one of a broker that gives the next after the acknowledgement of the last: there a wait is
in vain, and after one in vain none follows for a while.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

GATHER_S: Final = 0.05
ENOUGH: Final = 20
"""Messages for which it waits no longer. Brokers commonly give so many before they want an acknowledgement."""
ALONE_S: Final = 5.0
"""So long nobody waits after a wait in vain."""


@dataclass(slots=True)
class Gather:
    """What it hangs on."""

    _stored_s: float = float("-inf")
    _alone_until_s: float = float("-inf")

    def until_s(self, messages: int, now_s: float) -> float:
        """Return until when a batch of so many messages waits; `now_s`: not at all."""
        # What comes so soon after the last batch is one of many.
        in_a_stream = now_s - self._stored_s < GATHER_S and now_s >= self._alone_until_s
        return now_s + GATHER_S if in_a_stream and messages < ENOUGH else now_s

    def waited(self, more: int, now_s: float) -> None:
        """Learn how many more have come."""
        if not more:
            self._alone_until_s = now_s + ALONE_S

    def stored(self, now_s: float) -> None:
        """Learn when a batch was stored."""
        self._stored_s = now_s
