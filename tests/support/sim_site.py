"""Simulated days of one site: the wired service on real stores, virtual slabs, faults, people; one seed decides all."""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from random import Random
from typing import Any, Final

from sim_parts import Channels, DiedError, Fuse, SiteClock, Window, let_go, next_due_ms
from sim_people import LOOK_EVERY_MS, People, PourPlan
from sqlalchemy import Engine, event
from world_radio import SITE, Faults, Packet, packets, poisson, spans
from world_slab import CALIBRATION, HOUR_MS, MINUTE_MS, Air, Slab

from deploy.wiring import Service, build
from ingest.message import Incoming
from shared.errors import ActRefusedError, SlabError
from shared.models.acts import Act
from shared.models.base import Ms
from shared.sitefile import load

DAY_MS: Final = 24 * HOUR_MS
START_MS: Final[Ms] = 1_793_782_800_000
"""2026-11-04T13:00Z; every site begins some hours later."""
PEOPLE: Final = ("super", "crew", "qc", "engineer")
_SITE: Final = """\
[site]
id = "{site}"
name = "Quay House"
zone = "America/Halifax"
clock_sync = "required"
interval_s = 1800
data = "var"
duty = ["super", "qc"]
[plan]
use = "{plan}"
adopted_by = "engineer of record"
document = "criteria-rev1"
sign_offs = {sign_offs}
[[mix]]
id = "c32-s"
supplementary = false
calibration = "c32-s.toml"
[[bay]]
id = "3-b1"
floor = "3"
mix = "c32-s"
thickness_mm = 110
joist_spacing_mm = 1200
exclusions = "none"
construction_load_kpa = 1.5
sensors = [
  {{ id = "lg-01.1", zone = "exposed edge", depth_mm = 40 }}, {{ id = "lg-02.1", zone = "interior", depth_mm = 50 }},
  {{ id = "lg-09.1", zone = "air", required = false }},
]
"""
_PERSON: Final = """\
[[recipient]]
id = "{id}"
role = "{role}"
channels = [{{ kind = "inbox", file = "{id}.jsonl" }}]
"""
_ROLES: Final = {"super": "superintendent", "crew": "crew", "qc": "qc", "engineer": "engineer"}


@dataclass(frozen=True)
class Run:
    """What decides a run."""

    seed: int
    days: float
    faults: Faults
    sign_offs: int = 1
    plan: str = "common-practice"
    pour_every_days: float = 4.0


@dataclass
class Told:
    """The ledgers that are not the service's: what the broker was told is stored, and what people handed in."""

    taken: list[tuple[Ms, Packet]] = field(default_factory=list)
    died: int = 0
    refused_acts: int = 0
    accepted_acts: list[Act] = field(default_factory=list)
    written_ms: dict[int, Ms] = field(default_factory=dict)
    """When a message was first seen in the book, by true time."""
    up: list[tuple[Ms, Ms]] = field(default_factory=list)
    """When a service was running, by true time."""


class Site:
    """One run. `step` is called after everything that happens: where the oracle looks."""

    def __init__(self, run: Run, folder: Path, step: Callable[[Site], None]) -> None:
        self.run = run
        self.rng, self._truth = Random(run.seed), Random(f"truth of {run.seed}")
        self.folder = folder
        self.book = folder / "var" / "site.db"
        self.readings = folder / "var" / "readings.db"
        self.start_ms = START_MS + self._truth.randrange(24) * HOUR_MS
        self.until_ms = self.start_ms + round(run.days * DAY_MS)
        self.clock = SiteClock(self.start_ms)
        self.fuse = Fuse()
        self.told = Told()
        self._step = step
        self._heap: list[tuple[Ms, int, Callable[[], None]]] = []
        self._order = 0
        self._acted = False
        self._queue: deque[Packet] = deque()
        self._service: Service | None = None
        self._built: AbstractContextManager[Service] | None = None
        self._write_site()
        self.people = People(
            self.rng, run.faults.careless, self.book, self.at, self.apply, self.clock.now, lambda: self.clock.true_ms
        )
        down = {p: spans(self.rng, self.start_ms, self.until_ms, run.faults.channel_outages_a_day, 3.0) for p in PEOPLE}
        self.channels = Channels(self.clock, self.fuse, self.rng, run.faults.bad_sends, Window(down), self.book)
        self._plan()

    def _write_site(self) -> None:
        (self.folder / "var").mkdir(parents=True)
        text = _SITE.format(site=SITE, plan=self.run.plan, sign_offs=self.run.sign_offs)
        text += "".join(_PERSON.format(id=p, role=_ROLES[p]) for p in PEOPLE)
        (self.folder / "site.toml").write_text(text, encoding="utf-8")
        (self.folder / "c32-s.toml").write_text(CALIBRATION, encoding="utf-8")
        self.setup = load(self.folder / "site.toml")

    def _plan(self) -> None:
        rng, truth, faults = self.rng, self._truth, self.run.faults
        air, slabs = Air.random(truth), []
        first = self.start_ms + truth.randrange(30, 300) * MINUTE_MS
        for n, placed in enumerate(range(first, self.until_ms, round(self.run.pour_every_days * DAY_MS)), 1):
            slabs.append(Slab(air, placed, self.until_ms, truth))
            self.people.plan(PourPlan(f"3-b1-p{n}", slabs[-1], placed + truth.randrange(40, 180) * MINUTE_MS))
        came: dict[Ms, list[Packet]] = {}
        for packet in packets(slabs, air, (self.start_ms, self.until_ms), faults, rng, truth):
            came.setdefault(packet.arrives_ms, []).append(packet)
        for arrives_ms, several in came.items():
            self.at(arrives_ms, partial(self._queue.extend, several))
        for _ in range(poisson(rng, faults.restarts_a_day * self.run.days)):
            self.at(self._some_time(), self._light)
        for _ in range(poisson(rng, faults.clock_jumps)):
            self.at(self._some_time(), self._jump)
        if rng.random() < faults.careless * 0.3:
            self.at(self._some_time(), self.people.stops)
        self.at(self.start_ms + LOOK_EVERY_MS, self._look)

    def _some_time(self) -> Ms:
        return self.rng.randrange(self.start_ms, self.until_ms)

    def at(self, true_ms: Ms, deed: Callable[[], None]) -> None:
        """Let something happen at a true hour."""
        self._order += 1
        heapq.heappush(self._heap, (max(true_ms, self.clock.true_ms), self._order, deed))

    def _look(self) -> None:
        if self._service is not None:
            self.people.look()
        self.at(self.clock.true_ms + LOOK_EVERY_MS, self._look)

    def _light(self) -> None:
        """The process dies at one of the next commits or sends."""
        self.fuse.left = self.rng.randrange(1, 30)

    def _jump(self) -> None:
        """The service's clock is set to a wrong hour, and right again later."""
        sizes = (-2 * HOUR_MS, 2 * HOUR_MS, -3 * MINUTE_MS, 3 * MINUTE_MS, 10 * DAY_MS, 26 * HOUR_MS)
        self.clock.offset_ms = self.rng.choice(sizes)

        def right() -> None:
            self.clock.offset_ms = 0

        self.at(self.clock.true_ms + self.rng.randrange(20, 400) * MINUTE_MS, right)

    def apply(self, act: Act) -> bool:
        """Hand in an act; return whether it was accepted."""
        if self._service is None:
            return False
        try:
            self._service.apply(act)
        except (ActRefusedError, SlabError):
            self.told.refused_acts += 1
            return False
        self.told.accepted_acts.append(act)
        self._acted = True
        return True

    def _begin(self) -> None:
        """Start the service, as `serve` does."""
        self.fuse.left, self.fuse.dead = None, False
        built = build(self.setup, clock=self.clock, transport=self.channels)
        self._service = built.__enter__()
        self._built = built
        self.told.up.append((self.clock.true_ms, self.until_ms))
        self._service.dispatcher.recover()
        self._acted = True

    def _die(self) -> None:
        """The process is gone; what it had open is closed without another commit."""
        self.told.died += 1
        self.told.up[-1] = (self.told.up[-1][0], self.clock.true_ms)
        self.fuse.dead = True
        built, self._built, self._service = self._built, None, None
        if built is not None:
            with suppress(DiedError):
                built.__exit__(DiedError, DiedError(), None)
        self.fuse.dead, self.fuse.left = False, None
        if self.rng.random() < 0.3:
            self.clock.reboot()
        self.at(self.clock.true_ms + self.rng.choice((5_000, 60_000, 20 * MINUTE_MS, 2 * HOUR_MS)), self._begin)

    def _turn(self, *, due: bool) -> None:
        service = self._service
        if service is None or not (due or self._queue or self._acted):
            return
        self._acted = False
        if self._queue:
            batch = list(self._queue)
            service.intake.take([Incoming(p.topic, p.payload) for p in batch])
            self.told.taken += [(self.clock.true_ms, p) for p in batch]
            self._queue.clear()
        service.tick()
        self._step(self)
        service.dispatcher.run_due()

    def _next(self) -> tuple[Ms, Callable[[], None] | None]:
        due = self.until_ms
        if self._service is not None:
            due = next_due_ms(self.book, self.clock.now()) - self.clock.offset_ms
        if self._heap and self._heap[0][0] <= due:
            at_ms, _, deed = heapq.heappop(self._heap)
            return at_ms, deed
        return due, None

    def simulate(self) -> None:
        """Run to the end."""
        with dying(self.fuse):
            self._begin()
            while True:
                at_ms, deed = self._next()
                if at_ms >= self.until_ms:
                    break
                self.clock.true_ms = max(self.clock.true_ms, at_ms)
                try:
                    if deed is not None:
                        deed()
                    self._turn(due=deed is None)
                except DiedError:
                    self._die()
                self._step(self)
            self.fuse.left = None
            if self._built is not None:
                self._built.__exit__(None, None, None)
        self._step(self)

    def close(self) -> None:
        """Give back what the ledgers' readers opened."""
        let_go(self.folder / "var")


@contextmanager
def dying(fuse: Fuse) -> Iterator[None]:
    """Count every commit of a site book on the fuse, and let its file system be quick."""

    def quick(connection: Any, _record: Any) -> None:
        connection.execute("PRAGMA synchronous = OFF")

    event.listen(Engine, "commit", fuse.burn)
    event.listen(Engine, "connect", quick)
    try:
        yield
    finally:
        event.remove(Engine, "commit", fuse.burn)
        event.remove(Engine, "connect", quick)
