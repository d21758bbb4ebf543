"""Everything comes at once: a buffer of every logger, and a logger that never stops. On both brokers, as shipped.

2000 readings; `FAULT_SCALE=10` makes it the 20 000 of row L14.
"""

from __future__ import annotations

import os
import queue
import time
from collections.abc import Iterator, Sequence
from threading import Event, Thread
from typing import Final

import pytest
from ingest_support import NOW, SITE, Bench, MemoryReadings, pack, placement, until, warm
from listener_support import GatedReadings
from mqtt_support import MOSQUITTO
from paho.mqtt import client as mqtt
from paho.mqtt import publish
from paho.mqtt.enums import CallbackAPIVersion

from deploy.bench.brokers import BROKERS, Reached
from ingest.listener import Listener
from ingest.unkept import HELD as UNKEPT_HELD
from shared.models.base import MINUTE_MS, SensorId

SCALE: Final = float(os.environ.get("FAULT_SCALE", "1"))
LOGGERS: Final = [f"lg-{n:02}" for n in range(20)]
A_MESSAGE: Final = 10
MESSAGES: Final = round(10 * SCALE)
"""Of each logger."""
LINE: Final = 30
"""Messages that may wait here, far fewer than come."""
LIMIT_S: Final = 60.0
"""For so long at most one that never stops may delay what others send (M5)."""
CHATTERS: Final = LOGGERS[0]
QUIET: Final = LOGGERS[1]


@pytest.fixture(scope="module", params=sorted(BROKERS))
def broker(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reached]:
    if request.param == "mosquitto" and MOSQUITTO is None:
        pytest.skip("mosquitto is not installed")
    with BROKERS[request.param](tmp_path_factory.mktemp(request.param), LOGGERS) as running:
        yield running


def bench_of(readings: MemoryReadings) -> Bench:
    bench = Bench([placement(SensorId(f"{logger}.1")) for logger in LOGGERS])
    bench.readings = readings
    bench.restarted()
    return bench


def buffer_of(logger: str) -> list[bytes]:
    sensor = SensorId(f"{logger}.1")
    hours = [NOW - n * MINUTE_MS for n in range(MESSAGES * A_MESSAGE)]
    return [
        pack(*(warm(20.0, hour, sensor) for hour in hours[n : n + A_MESSAGE])) for n in range(0, len(hours), A_MESSAGE)
    ]


def send_all(broker: Reached, logger: str, payloads: Sequence[bytes]) -> None:
    user = {"username": logger, "password": broker.passwords[logger]} if broker.passwords else None
    topic = f"slabhour/{SITE}/r/{logger}"
    publish.multiple(
        [(topic, payload, 1, False) for payload in payloads],
        hostname="127.0.0.1",
        port=broker.port,
        auth=user,  # type: ignore[arg-type]
    )


@pytest.mark.row("L14", "N5", "N6")
def test_the_buffers_of_all_loggers_at_once_are_taken_whole_though_the_line_is_short_and_the_store_stands_still(
    broker: Reached,
) -> None:
    readings = GatedReadings()
    bench = bench_of(readings)
    listener = Listener(broker.address, SITE, bench.intake)
    listener.writer._queue = queue.Queue(LINE)
    listener.start()
    longest = 0
    try:
        until(lambda: listener.healthy() is None)
        senders = [Thread(target=send_all, args=(broker, logger, buffer_of(logger))) for logger in LOGGERS]
        for sender in senders:
            sender.start()
        until(lambda: listener.counters().missed > 0, 60)
        assert listener.healthy() == "too many messages wait to be stored"
        assert listener.counters().acknowledged == 0
        readings.gate.set()
        wanted = len(LOGGERS) * MESSAGES * A_MESSAGE
        deadline = time.monotonic() + 60 * max(1.0, SCALE / 2)
        while len(readings.stored) < wanted and time.monotonic() < deadline:
            longest = max(longest, listener.waiting())
            Event().wait(0.02)
        for sender in senders:
            sender.join()
        assert len(readings.stored) == wanted
        assert bench.book.refused() == []
        assert longest <= LINE
        until(lambda: listener.healthy() is None and listener.waiting() == 0)
    finally:
        listener.stop()


class Chatterer:
    """Sends until it is told to be quiet: at QoS 1 as fast as the broker takes it, at QoS 0 some 2000 a second."""

    def __init__(self, broker: Reached, qos: int) -> None:
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="chatterer")
        if broker.passwords:
            self._client.username_pw_set(CHATTERS, broker.passwords[CHATTERS])
        self._client.max_inflight_messages_set(1000)
        self._client.connect("127.0.0.1", broker.port)
        self._client.loop_start()
        self._ended, self._qos = Event(), qos
        self.sent = 0
        self._thread = Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        # One hour again and again: what it says costs as much as any reading, and fills no memory here.
        payload = pack(warm(20.0, NOW, SensorId(f"{CHATTERS}.1")))
        while not self._ended.is_set():
            said = self._client.publish(f"slabhour/{SITE}/r/{CHATTERS}", payload, self._qos)
            self.sent += 1
            if self.sent % 500 == 0 and self._qos:
                said.wait_for_publish(30)
            elif self.sent % 20 == 0 and not self._qos:
                self._ended.wait(0.01)

    def end(self) -> None:
        self._ended.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()


@pytest.mark.row("N6", "M5")
@pytest.mark.parametrize("qos", [0, 1])
def test_a_logger_that_never_stops_sending_keeps_no_other_waiting(broker: Reached, qos: int) -> None:
    bench = bench_of(MemoryReadings())
    listener = Listener(broker.address, SITE, bench.intake)
    listener.start()
    took = []
    try:
        until(lambda: listener.healthy() is None)
        chatterer = Chatterer(broker, qos)
        try:
            until(lambda: chatterer.sent > 2 * UNKEPT_HELD, 60)
            for n in range(5):
                taken = NOW - (n + 1) * MINUTE_MS
                began = time.monotonic()
                send_all(broker, QUIET, [pack(warm(20.0, taken, SensorId(f"{QUIET}.1")))])
                until(lambda taken=taken: (f"{QUIET}.1", taken) in bench.readings.stored, LIMIT_S)  # type: ignore[misc]
                took.append(time.monotonic() - began)
        finally:
            chatterer.end()
        assert max(took) < LIMIT_S
        # Of what the broker keeps nothing is dropped, and nothing has to be asked for again.
        assert listener.counters().missed == 0 or qos == 0
        assert listener.waiting() <= 2 * UNKEPT_HELD
    finally:
        listener.stop()
