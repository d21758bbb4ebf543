"""What the loggers of a simulated site say, and what becomes of it on the way: losses, copies, corruption, outages."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Final

from world_slab import HOUR_MS, MINUTE_MS, Air, Slab

INTERVAL_MS: Final = 30 * MINUTE_MS
LOGGERS: Final = {"lg-01": "exposed edge", "lg-02": "interior", "lg-09": "air"}
"""Logger -> zone of its one sensor; the air's is not required."""
SITE: Final = "quay"


@dataclass(frozen=True)
class Faults:
    """How much goes wrong. Probabilities a packet or a run; hours in h."""

    gateway_ms: int = INTERVAL_MS
    """How often the site's gateway sends on what it has."""
    pack: int = 1
    """Readings in a packet: the newest, and those before it once more."""
    loss: float = 0.0
    copies: float = 0.0
    dead: float = 0.0
    """A logger, over the whole run."""
    stuck: float = 0.0
    corrupt_a_day: float = 0.0
    """Of the whole site."""
    outages_a_week: float = 0.0
    outage_h: float = 2.0
    forgets: float = 0.0
    """A packet that waits in a gateway is lost."""
    late_colder: float = 0.0
    """A logger, over the whole run, sends some hours again, colder."""
    restarts_a_day: float = 0.0
    clock_jumps: float = 0.0
    """Over the whole run."""
    channel_outages_a_day: float = 0.0
    bad_sends: float = 0.0
    """Attempts that do not end in a plain yes."""
    careless: float = 0.0
    """How often a person enters a wrong end, presses STOP, answers hours late."""

    def times(self, scale: float) -> Faults:
        """Return the same, more or less often; a probability stays one."""
        scaled = {n: v if n in {"outage_h", "gateway_ms", "pack"} else v * scale for n, v in vars(self).items()}
        for name in ("loss", "copies", "dead", "stuck", "forgets", "late_colder", "bad_sends", "careless"):
            scaled[name] = min(0.6, scaled[name])
        return Faults(**scaled)


ROUGH: Final = Faults(
    gateway_ms=2 * INTERVAL_MS,
    loss=0.06,
    copies=0.04,
    dead=0.05,
    stuck=0.08,
    corrupt_a_day=1.0,
    outages_a_week=5.0,
    outage_h=3.0,
    forgets=0.1,
    late_colder=0.25,
    restarts_a_day=1.5,
    clock_jumps=0.4,
    channel_outages_a_day=0.6,
    bad_sends=0.25,
    careless=0.3,
)
"""Simulated days."""
WEEK: Final = Faults(pack=4, loss=0.05, dead=0.05, corrupt_a_day=1.0, outages_a_week=3.0, outage_h=2.0)
"""Simulated site-weeks: a bad but usual week, with loggers that send their last readings again with each new one."""


@dataclass(frozen=True, order=True)
class Packet:
    """One message on its way: when it reaches the broker, from whom, what."""

    arrives_ms: int
    logger: str
    taken_ms: int
    payload: bytes
    corrupt: bool = False

    @property
    def topic(self) -> str:
        """Where it is published."""
        return f"slabhour/{SITE}/r/{self.logger}"


def payload(logger: str, *measured: tuple[int, float]) -> bytes:
    """Return a SenML pack of (taken, temperature), each record with its whole name and time."""
    records = [{"n": f"{logger}.1", "t": t / 1000, "u": "Cel", "v": round(c, 4)} for t, c in measured]
    return json.dumps(records).encode()


def said(packet: bytes) -> list[tuple[int, int]]:
    """Return (taken [ms], thousandths of a degree) of a pack that was not corrupted."""
    return [(round(r["t"] * 1000), round(r["v"] * 1000)) for r in json.loads(packet)]


def packets(
    slabs: Sequence[Slab], air: Air, span: tuple[int, int], faults: Faults, rng: Random, truth: Random
) -> list[Packet]:
    """Return everything that reaches the broker, in order.

    `truth` decides what the loggers measure, `rng` what goes wrong: the same site with and without faults.
    """
    from_ms, until_ms = span
    outages = spans(rng, from_ms, until_ms, faults.outages_a_week / 7.0, faults.outage_h)
    found: list[Packet] = []
    for logger, zone in LOGGERS.items():
        measured = _measured(zone, slabs, air, span, truth)
        for packet in _sent(logger, measured, span, faults, rng):
            found += _on_its_way(packet, outages, faults, rng)
    days = (until_ms - from_ms) / (24 * HOUR_MS)
    corrupted = min(len(found), poisson(rng, faults.corrupt_a_day * days))
    for i in rng.sample(range(len(found)), corrupted):
        found[i] = _corrupt(found[i], rng)
    return sorted(found)


def _measured(
    zone: str, slabs: Sequence[Slab], air: Air, span: tuple[int, int], truth: Random
) -> list[tuple[int, float]]:
    """Return (taken, temperature) of a sensor with its own bias and noise, in steps of a sixteenth of a degree."""
    first, bias_c = span[0] + INTERVAL_MS - truth.randrange(1, 4) * MINUTE_MS, truth.gauss(0.0, 0.25)
    found = []
    for taken in range(first, span[1], INTERVAL_MS):
        slab = next((s for s in reversed(slabs) if s.placed_ms <= taken), None)
        c = air.at_c(taken) if slab is None else slab.at_c(zone, taken)
        found.append((taken, round((c + bias_c + truth.gauss(0.0, 0.05)) * 16.0) / 16.0))
    return found


def _sent(
    logger: str, measured: Sequence[tuple[int, float]], span: tuple[int, int], faults: Faults, rng: Random
) -> list[Packet]:
    """Return what the logger sends: until it dies, and one value for 20 h when it is stuck."""
    length = span[1] - span[0]
    dies_ms = span[0] + rng.random() * length if rng.random() < faults.dead else span[1]
    stuck_ms = span[0] + rng.random() * length if rng.random() < faults.stuck else span[1]
    found: list[Packet] = []
    held_c: float | None = None
    kept: list[tuple[int, float]] = []
    for taken, measured_c in measured:
        c = measured_c
        if stuck_ms <= taken < stuck_ms + 20 * HOUR_MS:
            held_c = c = measured_c if held_c is None else held_c
        if taken < dies_ms:
            kept = [*kept, (taken, c)][-faults.pack :]
            found.append(Packet(_flushed(taken, faults.gateway_ms), logger, taken, payload(logger, *kept)))
    if found and rng.random() < faults.late_colder:
        found += _again_colder(found, span[1], rng)
    return found


def _flushed(at_ms: int, every_ms: int) -> int:
    """Return when the site's gateway next sends on what it has."""
    return (at_ms // every_ms + 1) * every_ms + 5_000


def _again_colder(found: list[Packet], until_ms: int, rng: Random) -> list[Packet]:
    """Return some hours of a logger once more, colder, all at once and late."""
    first = rng.randrange(len(found))
    some, colder_c = found[first : first + rng.randrange(2, 30)], rng.uniform(2.0, 14.0)
    late = max(p.arrives_ms for p in some) + rng.randrange(1, 30) * HOUR_MS
    again = []
    for p in some:
        colder = payload(p.logger, (p.taken_ms, said(p.payload)[-1][1] / 1000.0 - colder_c))
        again.append(Packet(min(late, until_ms), p.logger, p.taken_ms, colder))
    return again


def _on_its_way(packet: Packet, outages: Sequence[tuple[int, int]], faults: Faults, rng: Random) -> list[Packet]:
    if rng.random() < faults.loss:
        return []
    held = next((end for begin, end in outages if begin <= packet.arrives_ms < end), None)
    if held is not None:
        if rng.random() < faults.forgets:
            return []
        packet = Packet(_flushed(held, faults.gateway_ms), packet.logger, packet.taken_ms, packet.payload)
    if rng.random() >= faults.copies:
        return [packet]
    later = _flushed(packet.arrives_ms + rng.randrange(1, 20) * HOUR_MS, faults.gateway_ms)
    return [packet, Packet(later, packet.logger, packet.taken_ms, packet.payload)]


def _corrupt(packet: Packet, rng: Random) -> Packet:
    at = rng.randrange(len(packet.payload))
    changed = bytearray(packet.payload)
    changed[at] ^= 1 << rng.randrange(8)
    return Packet(packet.arrives_ms, packet.logger, packet.taken_ms, bytes(changed), corrupt=True)


def spans(rng: Random, from_ms: int, until_ms: int, a_day: float, hours: float) -> list[tuple[int, int]]:
    """Return random spans, so many a day on average, half to one and a half times as long as given."""
    days = (until_ms - from_ms) / (24 * HOUR_MS)
    begins = sorted(rng.randrange(from_ms, until_ms) for _ in range(poisson(rng, a_day * days)))
    return [(b, b + round(hours * rng.uniform(0.5, 1.5) * HOUR_MS)) for b in begins]


def poisson(rng: Random, mean: float) -> int:
    """Return how many of something happen."""
    n, passed = 0, rng.expovariate(1.0)
    while passed < mean:
        n, passed = n + 1, passed + rng.expovariate(1.0)
    return n
