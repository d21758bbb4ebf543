from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from threading import Event, Thread

import pytest
from ingest_support import AIR, EDGE, INSIDE, NOW, SITE, Bench, pack, until, warm
from listener_process import rows
from mqtt_support import free_port, listener_of, send
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from ingest.listener import Listener
from shared.errors import BrokerError
from shared.models.base import Ms, SensorId
from shared.models.readings import Reason

SUPPORT = Path(__file__).parents[1] / "support"


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EmbeddedBroker]:
    with EmbeddedBroker(tmp_path_factory.mktemp("data"), free_port(), ack_wait_s=1) as running:
        yield running


def listening(port: int, bench: Bench) -> AbstractContextManager[Listener]:
    return listener_of(BrokerAddress("127.0.0.1", port), bench)


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def test_what_is_published_is_stored_and_acknowledged_and_not_sent_again(broker: EmbeddedBroker) -> None:
    bench = Bench()
    with listening(broker.port, bench) as listener:
        send(broker.port, [pack(warm(20.0 + n / 10, NOW - n * 60_000)) for n in range(100)])
        # On a machine that is slow to acknowledge, some come twice.
        until(lambda: listener.counters().acknowledged >= 100 and not listener.waiting())
        assert len(bench.readings.stored) == 100
    after = Bench()
    with listening(broker.port, after) as listener:
        Event().wait(1.5)  # longer than ack_wait
        assert listener.counters().received == 0


@pytest.mark.row("N2", "N8", "L3", "M6")
def test_twenty_kinds_of_poison_do_not_hold_up_a_hundred_good_readings(broker: EmbeddedBroker) -> None:
    bench = Bench()
    poison = [b"\x00" * n for n in range(1, 11)] + [b"[" * 5000, b"[" * 20_000, b"[{}]", b'[{"n":1}]', b"\xff"]
    poison += [pack(warm(celsius)) for celsius in (85.0, -127.0, 2345.0, 296.5, 100.4)]
    with listening(broker.port, bench):
        send(broker.port, poison)
        send(broker.port, [pack(warm(20.0, NOW - n * 60_000)) for n in range(1, 101)])
        until(lambda: len(bench.readings.stored) == 100)
        assert len(bench.book.refused()) == 20
        assert [r.reason for r in bench.book.refused()[-5:]] == [Reason.RANGE] * 5


@pytest.mark.row("N5")
def test_a_store_that_fails_and_heals_loses_nothing(broker: EmbeddedBroker) -> None:
    bench = Bench()
    bench.readings.failures = 3
    with listening(broker.port, bench) as listener:
        send(broker.port, [pack(warm(20.0, NOW - n * 60_000)) for n in range(50)])
        until(lambda: bench.readings.merges >= 3)
        assert listener.counters().acknowledged == 0
        until(lambda: len(bench.readings.stored) == 50)
        until(lambda: listener.counters().connections >= 2)
        # What was stored over the lost connection comes again, as copies, and is acknowledged then.
        until(lambda: listener.counters().acknowledged >= 50, 60)


def a_reading(n: int) -> tuple[bytes, tuple[SensorId, Ms]]:
    sensor = (EDGE, INSIDE)[n % 2]
    taken = NOW - (n // 2) * 60_000
    return pack(warm(5.0 + n / 100, taken, sensor)), (sensor, taken)


@pytest.mark.row("N3", "B1")
def test_three_kills_of_the_listener_in_mid_stream_lose_nothing(broker: EmbeddedBroker, tmp_path: Path) -> None:
    file = tmp_path / "rows.jsonl"
    sent: set[tuple[SensorId, Ms]] = set()
    acknowledged = 0
    publisher = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="logger")

    def on_publish(*_: object) -> None:
        nonlocal acknowledged
        acknowledged += 1

    publisher.on_publish = on_publish
    publisher.connect("127.0.0.1", broker.port)
    publisher.loop_start()
    # The session must exist before the first reading: only then does the broker keep them for us.
    with listening(broker.port, Bench()):
        pass
    child = None
    try:
        for n in range(600):
            if n % 150 == 0:
                child = started(broker.port, file)
                before = len(stored(file))
            payload, key = a_reading(n)
            publisher.publish("slabhour/millrace/r/lg-01", payload, qos=1)
            sent.add(key)
            if n % 150 == 50:
                until(lambda before=before: len(stored(file)) > before, 60)  # type: ignore[misc]
            if n % 150 == 149 and n < 599:
                # A hundred are on their way and the writer is in the middle of some of them.
                Event().wait(0.15)
                killed(child)
        until(lambda: acknowledged == 600)
        until(lambda: sent <= stored(file), 60)
    finally:
        killed(child)
        publisher.disconnect()
        publisher.loop_stop()
    assert stored(file) == sent


def started(port: int, file: Path) -> subprocess.Popen[bytes]:
    root = SUPPORT.parents[1]
    return subprocess.Popen(
        [sys.executable, SUPPORT / "listener_process.py", str(port), file],
        stdin=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": f"{SUPPORT}:{root}"},
    )


def killed(child: subprocess.Popen[bytes] | None) -> None:
    assert child is not None
    assert child.stdin is not None
    child.send_signal(signal.SIGKILL)
    child.wait(10)
    child.stdin.close()


def stored(file: Path) -> set[tuple[SensorId, Ms]]:
    return {(row.sensor, row.taken_ms) for row in rows(file)}


@pytest.mark.row("B1", "B2")
def test_a_broker_that_is_killed_keeps_what_it_acknowledged_and_the_listener_comes_back(tmp_path: Path) -> None:
    port = free_port()
    bench = Bench()
    with EmbeddedBroker(tmp_path, port, ack_wait_s=1), listening(port, bench):
        pass
    with EmbeddedBroker(tmp_path, port, ack_wait_s=1) as first:
        send(port, [pack(warm(3.0, NOW - n * 60_000)) for n in range(20)])
        assert first.pid is not None
        os.kill(first.pid, signal.SIGKILL)
        until(lambda: not first.alive())
    listener = Listener(BrokerAddress("127.0.0.1", port), SITE, bench.intake)
    listener.start()
    until(lambda: listener.healthy() is not None)
    with EmbeddedBroker(tmp_path, port, ack_wait_s=1):
        until(lambda: len(bench.readings.stored) == 20)
        send(port, [pack(warm(4.0, NOW, AIR))], "slabhour/millrace/r/lg-09")
        until(lambda: (AIR, NOW) in bench.readings.stored)
    until(lambda: listener.healthy() is not None)
    with EmbeddedBroker(tmp_path, port, ack_wait_s=1):
        until(lambda: listener.healthy() is None, 60)
        send(port, [pack(warm(5.0, NOW, INSIDE))])
        until(lambda: (INSIDE, NOW) in bench.readings.stored)
        assert listener.counters().sessions_lost == 0
        listener.stop()


def test_the_broker_dies_with_its_parent_however_the_parent_dies(tmp_path: Path) -> None:
    port = free_port()
    parent = subprocess.Popen(
        [sys.executable, SUPPORT / "broker_process.py", tmp_path, str(port)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(SUPPORT.parents[1])},
    )
    assert parent.stdout is not None
    assert int(parent.stdout.readline()) > 0
    assert answers(port)
    killed(parent)
    parent.stdout.close()
    until(lambda: not answers(port))


def test_a_taken_port_is_named(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(BrokerError, match=f"port {port} .* is not free"):
            EmbeddedBroker(tmp_path, port).__enter__()


def test_a_broker_that_cannot_start_says_why(tmp_path: Path) -> None:
    (tmp_path / "broker").mkdir()
    (tmp_path / "broker" / "stream").write_text("not a folder")
    with pytest.raises(BrokerError, match=r"(?s)ended while starting.*not a directory"):
        EmbeddedBroker(tmp_path, free_port()).__enter__()
    (tmp_path / "file").write_text("")
    with pytest.raises(BrokerError, match="cannot be started"):
        EmbeddedBroker(tmp_path / "file", free_port()).__enter__()


def test_a_broker_is_started_from_the_main_thread_only(tmp_path: Path) -> None:
    found: list[str] = []

    def start() -> None:
        try:
            EmbeddedBroker(tmp_path, free_port()).__enter__()
        except BrokerError as error:
            found.append(str(error))

    thread = Thread(target=start)
    thread.start()
    thread.join()
    assert found == ["the embedded broker must be started from the main thread"]


def test_the_broker_ends_with_its_block_and_listens_on_loopback_only(tmp_path: Path) -> None:
    port = free_port()
    broker = EmbeddedBroker(tmp_path, port)
    assert not broker.alive()
    with broker:
        assert broker.alive()
        children = subprocess.run(["ss", "-Hltnp"], capture_output=True, text=True, check=True).stdout
        mine = [line.split()[3] for line in children.splitlines() if f"pid={broker.pid}," in line]
        assert f"127.0.0.1:{port}" in mine
        assert all(address.startswith("127.0.0.1:") for address in mine)
    assert not broker.alive()
    assert not answers(port)
