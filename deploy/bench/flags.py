"""How often honest sensors are flagged, and how soon faulty ones are found, over simulated thin-slab pours.

    python -m deploy.bench.flags [POURS]

The slabs are those of `deploy.bench.worlds`, -5 to 30 degC, covered and not. What flags them shares nothing with them.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from cure.doubts import doubts
from cure.seen import Cause, Doubt, Seen, Times
from deploy.bench.worlds import ANY, Values, World, by, worlds_of
from deploy.cli_site import say
from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Series
from shared.models.setup import Zone

POURS: Final = 300
A_SKY: Final = 20
HOURS: Final = 90
LOOKS_H: Final = (6.0, 11.0, 12.0, 15.0, 18.0, 24.0, 30.0, 36.0, 48.0, 60.0, 72.0)
"""After the end of a pour, when its sensors are judged."""
DAYS: Final = 3
FOUND_H: Final = 12.0
HAND_MS: Final = HOUR_MS // 2
"""By so much the tap of a cover may be late."""
Fault = Callable[[World], tuple[Seen, Ms]]
"""A faulty sensor in place of the interior one, and since when it is at fault."""


@dataclass(slots=True)
class Flags:
    """What came out."""

    pours: int = 0
    sensor_days: int = 0
    wrong: Counter[Cause] = field(default_factory=Counter)
    """Sensor-days on which an honest sensor was flagged, by cause."""
    found_h: dict[str, list[float]] = field(default_factory=dict)
    """Hours after which each faulty sensor was flagged, by fault; infinite: never."""
    credited_h: list[float] = field(default_factory=list)
    """Most that a logger in the air had to its credit at any look from two hours on."""

    def share_wrong(self, *causes: Cause) -> float:
        """Return the share of sensor-days wrongly flagged by these causes; none: by any."""
        counted = sum(n for cause, n in self.wrong.items() if not causes or cause in causes)
        return counted / max(1, self.sensor_days)

    def share_found(self, fault: str, within_h: float) -> float:
        """Return the share of the sensors with a fault that were found within some hours."""
        found = self.found_h[fault]
        return sum(h <= within_h for h in found) / max(1, len(found))


def flagged(world: World, concrete: Sequence[Seen], air: Seen, hours: float) -> tuple[Doubt, ...]:
    """Return every doubt so many hours after the end of the pour, with the cover's taps as people enter them."""
    slab = world.slab
    taps = [at + HAND_MS for at in slab.covered_ms if at]
    told = [by(s, hours, world) for s in concrete]
    return doubts(told, [by(air, hours, world)], slab.start_ms, slab.end_ms, taps)


def _is_flag(doubt: Doubt) -> bool:
    """Whether it costs the sensor something, or somebody's time: not when it only waits to be seen in concrete."""
    return doubt.told or doubt.cause in {Cause.SPIKE, Cause.UNIT}


def _in(world: World, times: Times, c: Values) -> Seen:
    return world.seen("lg-01.1", Zone.INTERIOR, times, c)


def in_air(world: World) -> tuple[Seen, Ms]:
    """Lies in the bay's air, off by its own error."""
    times = world.times
    return _in(world, times, world.air_c(times) + world.rng.uniform(-0.8, 0.8)), world.slab.end_ms


def stuck(world: World) -> tuple[Seen, Ms]:
    """Says one value from some hour of the first day on."""
    honest, since = (
        world.honest("lg-01.1", Zone.INTERIOR),
        world.slab.end_ms + round(world.rng.uniform(1, 20) * HOUR_MS),
    )
    t, c = honest.series.taken_ms, honest.series.milli_c
    held = c[min(int(np.searchsorted(t, since)), len(c) - 1)]
    return Seen(honest.placement, Series(t, np.where(t >= since, held, c))), since


def spiking(world: World) -> tuple[Seen, Ms]:
    """Says one value much too high, some hours after the placing."""
    honest = world.honest("lg-01.1", Zone.INTERIOR)
    t, c = honest.series.taken_ms, honest.series.milli_c.copy()
    at = int(np.searchsorted(t, world.slab.end_ms + 14 * HOUR_MS))
    c[at] += round(world.rng.uniform(5, 30) * 1000)
    return Seen(honest.placement, Series(t, c)), int(t[at])


def other_unit(world: World) -> tuple[Seen, Ms]:
    """Is set to the other unit of temperature after some hours."""
    honest, since = world.honest("lg-01.1", Zone.INTERIOR), world.slab.end_ms + 8 * HOUR_MS
    t, c = honest.series.taken_ms, honest.series.milli_c
    return Seen(honest.placement, Series(t, np.where(t >= since, c * 9 // 5 + 32_000, c))), since


def swapped(world: World) -> tuple[Seen, Ms]:
    """Lies in a bay that was placed half a day later."""
    later, times = 12 * HOUR_MS, world.times
    slab = np.where(
        times - later < world.slab.start_ms, world.air_c(times), world.concrete_c(Zone.INTERIOR, times - later)
    )
    return _in(world, times, slab), world.slab.end_ms


FAULTS: Final[dict[str, Fault]] = {
    "lies in air": in_air,
    "stuck": stuck,
    "spike": spiking,
    "other unit": other_unit,
    "swapped": swapped,
}


def _refused_h(told: Sequence[Doubt], times: Times, from_ms: Ms, to_ms: Ms) -> float:
    """Return the hours between two believed readings on end, from ... to. [h]"""
    part = times[(times >= from_ms) & (times <= to_ms)]
    left = np.ones(len(part), dtype=bool)
    for doubt in told:
        left &= doubt.believed(part)
    return float(np.sum(np.diff(part)[left[1:] & left[:-1]])) / HOUR_MS


def _honest(world: World, flags: Flags) -> None:
    bay, air = world.bay(), world.air(off_c=float(world.rng.uniform(-0.3, 0.3)))
    wrong: set[tuple[str, int, Cause]] = set()
    for hours in LOOKS_H:
        day = min(DAYS - 1, int((hours - 1e-6) // 24))
        wrong |= {(d.sensor, day, d.cause) for d in flagged(world, bay, air, hours) if _is_flag(d)}
    flags.sensor_days += len(bay) * DAYS
    flags.wrong.update(cause for _, _, cause in wrong)


def _faulty(world: World, flags: Flags, name: str) -> None:
    bad, since = FAULTS[name](world)
    bay, air = [bad, *world.bay()[1:]], world.air()
    found, most = float("inf"), 0.0
    for hours in LOOKS_H:
        at = world.slab.end_ms + round(hours * HOUR_MS)
        told = [d for d in flagged(world, bay, air, hours) if d.sensor == "lg-01.1"]
        most = max(most, _refused_h(told, bad.series.taken_ms, world.slab.end_ms, at))
        if at > since and any(map(_is_flag, told)) and found == float("inf"):
            found = min(found, (at - since) / HOUR_MS)
    flags.found_h.setdefault(name, []).append(found)
    if name == "lies in air":
        flags.credited_h.append(most)


def pours(how_many: int) -> Iterator[World]:
    """Yield so many pours, a score under each sky."""
    for seed in range((how_many + A_SKY - 1) // A_SKY):
        yield from worlds_of(7000 + seed, ANY, min(A_SKY, how_many - seed * A_SKY), HOURS)


def flags_of(how_many: int) -> Flags:
    """Judge the sensors of so many pours, honest ones and one fault at a time."""
    flags = Flags()
    for world in pours(how_many):
        flags.pours += 1
        _honest(world, flags)
        for name in FAULTS:
            _faulty(world, flags, name)
    return flags


def lines(flags: Flags) -> Iterator[str]:
    """Yield the table."""
    yield f"{flags.pours} pours, {flags.sensor_days} sensor-days of honest sensors"
    yield f"wrongly flagged: {flags.share_wrong():.2%} of them"
    for cause, n in flags.wrong.most_common():
        yield f"  {cause:<26}{n:>6}  {n / flags.sensor_days:.2%}"
    yield f"{'fault':<16}{'within 12 h':>12}{'24 h':>8}{'72 h':>8}"
    for name in FAULTS:
        shares = "".join(f"{flags.share_found(name, h):>{w}.1%}" for h, w in ((FOUND_H, 12), (24.0, 8), (72.0, 8)))
        yield f"{name:<16}{shares}"
    yield f"a logger in the air had at most {max(flags.credited_h):.2f} h to its credit before it was found"


def main() -> None:
    """Print the table."""
    for line in lines(flags_of(int(sys.argv[1]) if len(sys.argv) > 1 else POURS)):
        say(line)


if __name__ == "__main__":
    main()
