"""What a temperature is worth whose logger has no clock: its hour is that of its arrival, if at all. Pure.

Of its arrival here; or at a network server, when that says the hour: then it may wait for us at the broker.

Nobody knows how long such a value was under way, and warmth of the afternoon that counts at night would make a release
earlier. So three rules, each of which can only take away:

- One that waited, without an hour from anybody, is refused: kept by the broker (retained), sent again, or taken while
  the service's clock was wrong.
- Two closer together than a quarter of the sensor's interval are what some buffer held back: neither counts. (A missing
  reading earns nothing.)
- One counts when the next has come, at the hour of its own arrival, and then the colder of the two counts. As long as a
  value is under way for less than an interval, and the concrete does not turn within it, what is stored is never above
  the concrete at that hour; a fall is stored at once, a rise an interval late.

What waits is in memory alone: a crash costs it. That a logger without a clock keeps nothing back, nobody can see from
here. The site file says it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shared.models.base import MilliC, Ms
from shared.models.decisions import Placement


@dataclass(frozen=True, slots=True)
class Waiting:
    """The last temperature of a sensor, which waits for the next one."""

    arrived_ms: Ms
    milli_c: MilliC
    crowded: bool = False
    """It came too close to the one before: it will not count."""


@dataclass(frozen=True, slots=True)
class Arrived:
    """What one more temperature makes of the one before it, and of itself."""

    waiting: Waiting
    crowded: bool = False
    """Neither counts."""
    counted: tuple[Ms, MilliC] | None = None
    """Of the one before: the hour of its arrival, and the colder of both."""


def apart_ms(placements: Sequence[Placement]) -> Ms:
    """Return how far apart two temperatures of a sensor must be: a quarter of its (longest) interval. [ms]"""
    return max(placement.interval_s for placement in placements) * 1000 // 4


def arrived(before: Waiting | None, arrived_ms: Ms, milli_c: MilliC, least_ms: Ms) -> Arrived:
    """Return what the temperature that arrived now makes of the one before it.

    Args:
        before: the last one of this sensor, if any.
        arrived_ms: site time; one before `before` is a clock that was set back, and crowded.
        milli_c: the temperature.
        least_ms: how far apart two must be.
    """
    if before is None:
        return Arrived(Waiting(arrived_ms, milli_c))
    if not arrived_ms - before.arrived_ms >= least_ms:
        return Arrived(Waiting(arrived_ms, milli_c, crowded=True), crowded=True)
    counted = None if before.crowded else (before.arrived_ms, min(before.milli_c, milli_c))
    return Arrived(Waiting(arrived_ms, milli_c), counted=counted)
