"""What a site of one size costs while its sensors report: a site written, poured, and fed as its loggers would."""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from alerts.transport import RecordingTransport
from cure.rounds import POURS_A_ROUND
from deploy.bench.listening import resident_mb
from deploy.bench.sites import ZONES, bay_name, logger_name, site
from deploy.wiring import Service, build
from ingest.gather import GATHER_S
from ingest.message import Incoming
from shared.clock import SimulatedClock
from shared.models.acts import PourStart, act_to, instant
from shared.models.base import HOUR_MS, BayId, MixId, Ms, PourId, SensorId
from shared.models.decisions import LogEntry, Pour
from shared.models.readings import Reading
from shared.units import milli_c

START_MS: Final[Ms] = 1_795_435_200_000
A_BAY: Final = len(ZONES)
"""Sensors, each of a logger of its own: a message brings one reading, as costs most."""
EVERY_MS: Final[Ms] = HOUR_MS // 4
AT_ONCE: Final = 111
"""Readings between two ticks: what 100 000 sensors send in a second."""
BATCH: Final = round(AT_ONCE * GATHER_S)
"""Messages that the listener then stores at once."""
MANY: Final = 20_000
BEFORE: Final = 1
"""Reading that every sensor has already sent, so that the tables are as long as on a site that runs."""
HISTORY_MS: Final[Ms] = 12 * HOUR_MS
"""Since the end of an open pour."""
IDLE_TICKS: Final = 20


@dataclass(frozen=True, slots=True)
class Grown:
    """Processor time and memory of a site of one size; nothing here is a time on the wall."""

    sensors: int
    bays: int
    pours: int
    """Open ones: in their bays each reading makes a round."""
    first_start_s: float
    """To read the site file, and to open a new data folder with it."""
    start_s: float
    """The same with a data folder that knows the file."""
    readings: int
    rounds: int
    intake_us: float
    """A reading: decoded, screened, stored, noted; a message each, as many in a batch as come in 50 ms."""
    alone_us: float
    """The same of a reading that comes alone: a batch of its own."""
    rounds_us: float
    """A reading: the ticks, with the rounds that it made."""
    round_ms: float
    """A round of one pour."""
    idle_tick_ms: float
    resident_mb: tuple[float, float, float]
    """At the begin, in the middle and at the end of what is measured."""

    @property
    def reading_us(self) -> float:
        """Processor time of a reading, all in all."""
        return self.intake_us + self.rounds_us

    def share(self, per_s: float) -> float:
        """Return the part of one core that so many readings a second need."""
        return self.reading_us * per_s / 1e6


def _sensor(n: int, bays: int) -> tuple[int, int]:
    """Return bay and place of the nth sensor: those of one bay send as far from each other as they can."""
    return n % bays, n // bays % A_BAY


def _celsius(k: int, at_ms: Ms) -> float:
    """Return a mild day; the third decimal keeps two readings apart."""
    return (9.0 if ZONES[k] == "air" else 15.0 + k) + (at_ms // 1000 % 97) / 1000.0


@contextmanager
def _site(folder: Path, bays: int, clock: SimulatedClock) -> Iterator[tuple[Service, float, float]]:
    """Lend the service of a new site, with what its first and its second start cost."""
    begun = time.process_time()
    setup = site(folder, bays, A_BAY)
    with build(setup, clock=clock, transport=RecordingTransport()):
        first = time.process_time() - begun
    begun = time.process_time()
    with build(setup, clock=clock, transport=RecordingTransport()) as service:
        yield service, first, time.process_time() - begun


def _pour(service: Service, n: int, now: Ms) -> None:
    """Enter a pour that has its end: by the store at once, because a thousand people's acts take minutes."""
    end = now - HISTORY_MS
    act = PourStart(at=instant(end - HOUR_MS), who="engineer", bay=bay_name(n), pour=f"p-{n}")
    pour = Pour(PourId(f"p-{n}"), BayId(bay_name(n)), MixId("c32-f"), end - HOUR_MS, end_ms=end, calibration_version=1)
    service.book.cure.open_pour(act, pour, LogEntry(end - HOUR_MS, "engineer", "act", act_to(act)))


def _prepare(service: Service, bays: int, pours: int, now: Ms) -> None:
    # Spread evenly over the bays, because those that send while it is measured stand for all of them.
    poured = {n * bays // pours for n in range(pours)}
    with service.book.writing():
        for n in sorted(poured):
            _pour(service, n, now)
    rows = list[Reading]()
    for n in range(bays):
        count = (HISTORY_MS + HOUR_MS) // EVERY_MS if n in poured else BEFORE
        for k in range(A_BAY):
            sensor = SensorId(f"{logger_name(n, k)}.1")
            times = range(now - count * EVERY_MS, now, EVERY_MS)
            rows += [Reading(sensor, at, milli_c(_celsius(k, at)), at + 1000) for at in times]
        if len(rows) >= MANY or n == bays - 1:
            service.intake.take_rows(rows)
            rows.clear()
    while service.rounds.run_due() >= POURS_A_ROUND:
        pass
    service.tick()  # with the lists of the morning


def _message(service: Service, n: int, bays: int, now: Ms) -> Incoming:
    bay, k = _sensor(n, bays)
    name = logger_name(bay, k)
    facts = [{"n": f"{name}.boot", "vs": "a"}, {"n": f"{name}.seq", "v": now // 1000}]
    said = {"n": f"{name}.1", "u": "Cel", "t": now / 1000.0, "v": _celsius(k, now)}
    return service.intake.incoming(f"slabhour/bench/r/{name}", json.dumps([*facts, said]).encode())


def _take(service: Service, batch: Sequence[Incoming]) -> None:
    for taken in service.intake.take(batch):
        if len(taken.rows) != 1 or taken.faults:
            raise RuntimeError(f"a reading was not stored: {taken}")


@dataclass(slots=True)
class _Spent:
    intake_s: float = 0.0
    ticks_s: float = 0.0
    rounds: int = 0


def _run(service: Service, clock: SimulatedClock, bays: int, sent: range, batch: int = BATCH) -> _Spent:
    """Let so many readings come, as many between two ticks as the largest site has; the less sensors, the longer it
    takes on site."""
    spent, apart_ms = _Spent(), EVERY_MS / (bays * A_BAY)
    began_ms = clock.now()
    for first in range(sent.start, sent.stop, AT_ONCE):
        one = range(first, min(first + AT_ONCE, sent.stop))
        begun = time.process_time()
        for begin in range(one.start, one.stop, batch):
            messages = list[Incoming]()
            for n in range(begin, min(begin + batch, one.stop)):
                clock.set(began_ms + round((n + 1 - sent.start) * apart_ms))
                messages.append(_message(service, n, bays, clock.now()))
            _take(service, messages)
        then = time.process_time()
        due = len(service.book.cure.due(clock.now(), AT_ONCE))
        before = time.process_time()
        service.tick()
        spent.intake_s += then - begun
        spent.ticks_s += time.process_time() - before
        spent.rounds += min(due, POURS_A_ROUND)
    return spent


def grown(sensors: int, pouring: float, readings: int) -> Grown:
    """Return what a site costs.

    Args:
        sensors: of the site.
        pouring: the part of its bays with an open pour; one at least has one.
        readings: that come while it is measured.
    """
    bays = max(1, sensors // A_BAY)
    pours = max(1, round(bays * pouring))
    clock = SimulatedClock(START_MS)
    with (
        tempfile.TemporaryDirectory(prefix="slabhour-bench-") as name,
        _site(Path(name), bays, clock) as (service, first_start_s, start_s),
    ):
        _prepare(service, bays, pours, clock.now())
        # What is made once, at the first of its kind, is made now.
        alone = _run(service, clock, bays, range(AT_ONCE), 1)
        alone = _run(service, clock, bays, range(AT_ONCE, 2 * AT_ONCE), 1)
        memory, begin, half = [resident_mb()], 2 * AT_ONCE, readings // 2
        one = _run(service, clock, bays, range(begin, begin + half))
        memory.append(resident_mb())
        other = _run(service, clock, bays, range(begin + half, begin + readings))
        memory.append(resident_mb())
        idle_s = _idle(service, clock)
    ticks_s, rounds = one.ticks_s + other.ticks_s, one.rounds + other.rounds
    return Grown(
        sensors=bays * A_BAY,
        bays=bays,
        pours=pours,
        first_start_s=first_start_s,
        start_s=start_s,
        readings=readings,
        rounds=rounds,
        intake_us=(one.intake_s + other.intake_s) / readings * 1e6,
        alone_us=alone.intake_s / AT_ONCE * 1e6,
        rounds_us=ticks_s / readings * 1e6,
        round_ms=ticks_s / max(1, rounds) * 1e3,
        idle_tick_ms=idle_s * 1e3,
        resident_mb=(memory[0], memory[1], memory[2]),
    )


def _idle(service: Service, clock: SimulatedClock) -> float:
    """Return the processor time of a tick in which nothing is due. [s]"""
    while service.rounds.run_due():
        pass
    begun = time.process_time()
    for _ in range(IDLE_TICKS):
        clock.set(clock.now() + 100)
        service.tick()
    return (time.process_time() - begun) / IDLE_TICKS
