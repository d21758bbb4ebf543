"""Builders and in-memory ports for the tests of ingest. The fakes keep the promises of `shared.ports`."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from threading import Event
from typing import Final

import numpy as np

from ingest.intake import Intake
from ingest.message import Incoming
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.base import BayId, Json, LoggerId, Ms, SensorId, SiteId
from shared.models.decisions import Placement
from shared.models.payloads import TopicSettings
from shared.models.readings import Arrival, Conflict, Heard, Reading, Reason, Refused, Series
from shared.models.setup import Zone
from shared.ports import NewArrivals
from shared.sequence import Followed, followed

SITE: Final = SiteId("millrace")
NOW: Final = 1_795_510_800_000
"""2026-11-24T09:00Z."""
TOPIC: Final = f"slabhour/{SITE}/r/lg-01"
EDGE: Final = SensorId("lg-01.1")
INSIDE: Final = SensorId("lg-01.2")
AIR: Final = SensorId("lg-09.1")


class MemoryReadings:
    """`Readings` in a dict; fails on demand."""

    def __init__(self) -> None:
        self.stored: dict[tuple[SensorId, Ms], Reading] = {}
        self.failures = 0
        self.merges = 0

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        self.merges += 1
        if self.failures:
            self.failures -= 1
            raise StoreError("the disk is full")
        conflicts = []
        for new in batch:
            key = (new.sensor, new.taken_ms)
            old = self.stored.setdefault(key, new)
            if old.milli_c != new.milli_c:
                kept, other = min(old.milli_c, new.milli_c), max(old.milli_c, new.milli_c)
                conflicts.append(Conflict(new.sensor, new.taken_ms, kept, other, new.received_ms))
                self.stored[key] = Reading(new.sensor, new.taken_ms, kept, old.received_ms)
        return conflicts

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        return {key: self.stored[key].milli_c for key in keys if key in self.stored}

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        rows = list(self.rows(sensor, after, through))
        return Series(
            np.array([r.taken_ms for r in rows], dtype=np.int64), np.array([r.milli_c for r in rows], dtype=np.int64)
        )

    def rows(self, sensor: SensorId, after: Ms, through: Ms) -> Iterator[Reading]:
        yield from sorted(r for r in self.stored.values() if r.sensor == sensor and after < r.taken_ms <= through)

    def forget(self, sensor: SensorId, before: Ms) -> int:
        gone = [key for key, r in self.stored.items() if r.sensor == sensor and r.taken_ms < before]
        for key in gone:
            del self.stored[key]
        return len(gone)

    def tidy(self) -> str | None:
        return None

    def close(self) -> None:
        """Nothing was opened."""

    def values(self) -> dict[tuple[SensorId, Ms], int]:
        """Return all stored thousandths of a degree."""
        return {key: r.milli_c for key, r in self.stored.items()}


class MemoryBook:
    """`IngestBook` in lists; fails on demand."""

    def __init__(self, placements: Sequence[Placement]) -> None:
        self.lying = list(placements)
        self.asked: set[SensorId] = set()
        """Sensors whose placements were asked for."""
        self.arrivals: dict[SensorId, Arrival] = {}
        self.refusals: dict[tuple[Json, ...], Refused] = {}
        self.conflicts: set[tuple[SensorId, Ms, int, int]] = set()
        self.heard: list[Heard] = []
        self.noted: list[NewArrivals] = []
        self.failures = 0

    def placements(self) -> Sequence[Placement]:
        return tuple(self.lying)

    def placed(self, sensors: Collection[SensorId]) -> Sequence[Placement]:
        self.asked.update(sensors)
        return [p for p in self.lying if p.sensor in sensors]

    def placed_loggers(self, loggers: Collection[LoggerId]) -> Collection[LoggerId]:
        return {LoggerId(p.sensor.partition(".")[0]) for p in self.lying} & set(loggers)

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        return {s: self.arrivals[s] for s in sensors if s in self.arrivals}

    def followed(self, loggers: Collection[LoggerId]) -> Mapping[LoggerId, Followed]:
        found: dict[LoggerId, Followed] = {}
        for one in self.heard:
            after = followed(found.get(one.logger), one)
            if after is not None and one.logger in loggers:
                found[one.logger] = after
        return found

    def refused_ahead(self, keys: Collection[tuple[SensorId, Ms]]) -> Collection[tuple[SensorId, Ms]]:
        kept = {(r.sensor, r.taken_ms) for r in self.refusals.values() if r.reason is Reason.CLOCK_FUTURE}
        return {key for key in keys if key in kept}

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        if self.failures:
            self.failures -= 1
            raise StoreError("the site book is locked")
        self.noted.extend(arrivals)
        for new in arrivals:
            old = self.arrivals.get(new.sensor, Arrival(new.sensor, 0, 0, 0))
            revision = old.revision + (new.changed > 0)
            self.arrivals[new.sensor] = Arrival(
                new.sensor,
                revision,
                max(old.newest_ms, new.newest_ms),
                max(old.newest_received_ms, new.received_ms),
                rewritten=revision if new.changed > 0 and new.oldest_ms <= old.newest_ms else old.rewritten,
            )
        for r in refused:
            self.refusals.setdefault((r.topic, r.payload, r.reason, r.detail, r.sensor), r)
        self.conflicts.update((c.sensor, c.taken_ms, c.kept_milli_c, c.other_milli_c) for c in conflicts)
        self.heard.extend(heard)

    def revision(self, sensor: SensorId) -> int:
        """Return the noted revision; 0 for a sensor never heard."""
        return self.arrivals[sensor].revision if sensor in self.arrivals else 0

    def refused(self) -> list[Refused]:
        """Return the refusals in order."""
        return list(self.refusals.values())


def placement(sensor: SensorId, zone: Zone = Zone.INTERIOR, from_ms: Ms = 0, to_ms: Ms | None = None) -> Placement:
    """Return a placement in the one bay of these tests."""
    return Placement(sensor, BayId("2-b1"), zone, 50, 900, required=zone is not Zone.AIR, from_ms=from_ms, to_ms=to_ms)


def placements() -> list[Placement]:
    """Return two sensors in concrete and one in the air."""
    return [placement(EDGE, Zone.EXPOSED_EDGE), placement(INSIDE), placement(AIR, Zone.AIR)]


class Bench:
    """An intake with its ports, and the hand on its clock."""

    def __init__(
        self, placed: Sequence[Placement] | None = None, now: Ms = NOW, topics: Sequence[TopicSettings] = ()
    ) -> None:
        self.readings = MemoryReadings()
        self.book = MemoryBook(placements() if placed is None else placed)
        self.clock = SimulatedClock(now)
        self.topics = topics
        self.intake = self.restarted()

    def restarted(self, crash_after: str | None = None) -> Intake:
        """Return an intake as a new process would make it; it dies after the step of that name."""

        def on_step(step: str) -> None:
            if step == crash_after:
                raise Crash(step)

        self.intake = Intake(SITE, self.readings, self.book, self.clock, on_step, self.topics)
        return self.intake

    def take(self, *payloads: bytes, topic: str = TOPIC) -> None:
        """Take the payloads as one batch."""
        self.intake.take([Incoming(topic, payload) for payload in payloads])


class Crash(BaseException):
    """The process dies here."""


def pack(*records: Mapping[str, Json]) -> bytes:
    """Return the records as a SenML JSON message."""
    return json.dumps(list(records)).encode()


def warm(celsius: float = 20.0, taken_ms: Ms = NOW, sensor: SensorId = EDGE) -> dict[str, Json]:
    """Return a good SenML record."""
    return {"n": sensor, "u": "Cel", "t": taken_ms / 1000, "v": celsius}


def until(condition: Callable[[], bool], timeout_s: float = 60.0) -> None:
    """Return as soon as the condition holds; fail when it does not in time."""
    deadline = time.monotonic() + timeout_s
    pause = Event()
    while not condition():
        assert time.monotonic() < deadline, "it did not happen in time"
        pause.wait(0.01)
