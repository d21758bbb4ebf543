"""A listener at work against a scripted broker, with a store that waits to be let go."""

from __future__ import annotations

import queue
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from threading import Event
from typing import Any

from ingest_support import NOW, SITE, Bench, MemoryReadings, pack, until, warm
from mqtt_support import ScriptedBroker

from ingest.address import BrokerAddress
from ingest.listener import Listener
from shared.models.readings import Conflict, Reading


class GatedReadings(MemoryReadings):
    """Holds every merge until the gate opens."""

    def __init__(self) -> None:
        super().__init__()
        self.gate = Event()
        self.entered = Event()

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        self.entered.set()
        assert self.gate.wait(60)
        return super().merge(batch)


class Running:
    """A listener at work against a scripted broker."""

    def __init__(self, broker: ScriptedBroker, bench: Bench) -> None:
        self.broker = broker
        self.bench = bench
        self.listener = Listener(BrokerAddress("127.0.0.1", broker.port), SITE, bench.intake)

    def publish(self, mid: int, celsius: float = 20.0, *, minutes_ago: int = 0, copy: bool = False) -> None:
        self.broker.publish(mid, pack(warm(celsius, NOW - minutes_ago * 60_000)), copy=copy)


@contextmanager
def running(bench: Bench | None = None, *, held: int | None = None, **script: Any) -> Iterator[Running]:
    with ScriptedBroker(**script) as broker:
        run = Running(broker, bench or Bench())
        if held is not None:
            run.listener.writer._queue = queue.Queue(held)
        run.listener.start()
        try:
            if not script.get("connack"):
                until(lambda: broker.subscribed == 1)
            yield run
        finally:
            run.listener.stop()


def gated() -> tuple[Bench, GatedReadings]:
    bench = Bench()
    readings = GatedReadings()
    bench.readings = readings
    bench.restarted()
    return bench, readings
