"""A logger's buffer comes in over minutes; until it is in, a pour is known in part, and no gate advances. Pure."""

from __future__ import annotations

from typing import Final

from shared.models.base import MINUTE_MS, Ms
from shared.ports import PourCase

QUIET_MS: Final = 2 * MINUTE_MS
"""So long nothing late must have come before a gate may advance. Our judgement."""
LATE_INTERVALS: Final = 2
"""A newest reading that came so many intervals after it was taken was kept somewhere on its way."""


def quiet_at_ms(case: PourCase, now_ms: Ms) -> Ms | None:
    """Return from when on a pour's loggers have been quiet long enough if nothing late comes; None: they are."""
    ends = [now_ms]
    for placement in case.placements:
        arrival = case.arrivals.get(placement.sensor)
        if arrival is None or arrival.newest_received_ms > now_ms:
            # Received by a clock that has been put back since: that hour tells of no buffer, and would for ever.
            continue
        waited_ms = arrival.newest_received_ms - arrival.newest_ms
        kept = waited_ms > LATE_INTERVALS * placement.interval_s * 1000
        # The last change that was noted was of hours before the newest one: a gap is being filled.
        filled = arrival.revision > 1 and arrival.rewritten == arrival.revision
        if kept or filled:
            ends.append(arrival.newest_received_ms + QUIET_MS)
    return max(ends) if max(ends) > now_ms else None
