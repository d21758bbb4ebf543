"""When to try a broker again: sooner at first, later when it goes on failing, and never all of us at once. Pure."""

from __future__ import annotations

from typing import Final

FIRST_S: Final = 0.5
LONGEST_S: Final = 30.0
STEADY_S: Final = 10.0
"""A connection that lasted so long was good: the count begins anew."""
TAKEN_OVER: Final = 5
"""So many connections on end that were granted and soon ended by the broker: somebody else uses our name."""


def delay_s(failures: int, roll: float) -> float:
    """Return how long to wait after so many failures on end. [s]

    Args:
        failures: connections on end that failed, or lasted for less than `STEADY_S`; 0: the last one was good.
        roll: from 0 to 1, by chance: after a power cut everybody comes back at one broker.
    """
    return (0.5 + 0.5 * roll) * min(FIRST_S * 2.0 ** min(failures, 10), LONGEST_S)
