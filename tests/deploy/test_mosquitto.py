"""The shipped configuration on Debian's Mosquitto: nothing acknowledged is lost when it is killed; who may speak."""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Event

import pytest
from ingest_support import EDGE, INSIDE, NOW, SITE, TOPIC, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, free_port, listening
from paho.mqtt import client as mqtt
from paho.mqtt import publish
from paho.mqtt.enums import CallbackAPIVersion
from scale import SCALE

from deploy.bench.brokers import SHIPPED, shipped_config
from ingest.address import BrokerAddress
from ingest.listener import Listener

PASSWORDS = shutil.which("mosquitto_passwd")
USERS = {"slabhour": "the-service-itself", "lg-01": "a-long-password-1", "lg-02": "a-long-password-2"}
pytestmark = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(MOSQUITTO is None or PASSWORDS is None, reason="Debian's mosquitto is not installed"),
]
KILLS = 3
AT_ONCE = 25


def configured(folder: Path, port: int, data: Path | None = None) -> Path:
    """Return the shipped configuration with the places of this test, on loopback without TLS."""
    return shipped_config(folder, port, USERS, data)


@contextmanager
def running(config: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    with subprocess.Popen([str(MOSQUITTO), "-c", config], stderr=subprocess.DEVNULL) as broker:
        try:
            until(lambda: listening(port))
            yield broker
        finally:
            broker.kill()


def say(port: int, user: str, payloads: list[bytes], topic: str = TOPIC) -> None:
    auth = {"username": user, "password": USERS[user]}
    messages = [(topic, payload, 1, False) for payload in payloads]
    publish.multiple(messages, hostname="127.0.0.1", port=port, client_id=f"test-{user}", auth=auth)  # type: ignore[arg-type]


def service(port: int, bench: Bench) -> Listener:
    return Listener(BrokerAddress("127.0.0.1", port, "slabhour", USERS["slabhour"]), SITE, bench.intake)


def saved_after(database: Path, what: Callable[[], None]) -> None:
    """Return once the broker has begun and ended to save after that was done: it is one thread."""
    what()
    before = database.stat().st_mtime_ns if database.exists() else 0
    until(lambda: database.exists() and database.stat().st_mtime_ns != before, 60)


def known(port: int, bench: Bench) -> None:
    """Let the broker know the service once: from then on it keeps messages for it."""
    listener = service(port, bench)
    listener.start()
    until(lambda: listener.healthy() is None)
    listener.stop()


@pytest.mark.row("B2")
def test_what_it_has_saved_survives_every_kill_while_the_service_is_away(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    config, database = configured(tmp_path, port), tmp_path / "data" / "mosquitto.db"
    with running(config, port):
        saved_after(database, lambda: known(port, bench))
    for kill in range(KILLS):
        with running(config, port) as broker:
            minutes = range(kill * AT_ONCE, (kill + 1) * AT_ONCE)
            readings = [pack(warm(20.0 + n / 100, NOW - n * 60_000)) for n in minutes]
            saved_after(database, lambda readings=readings: say(port, "lg-01", readings))  # type: ignore[misc]
            broker.kill()
            broker.wait(10)
    with running(config, port):
        last = service(port, bench)
        last.start()
        until(lambda: len(bench.readings.stored) == KILLS * AT_ONCE, 30.0)
        last.stop()
    assert bench.book.refused() == []


@pytest.mark.row("B3")
def test_two_weeks_of_messages_wait_for_a_service_that_is_away_and_none_is_dropped(tmp_path: Path) -> None:
    """5 000 here, `FAULT_SCALE=10` makes it 50 000; what may wait is two weeks of 300 loggers."""
    (limit,) = re.findall(r"^max_queued_messages (\d+)$", (SHIPPED / "slabhour.conf").read_text(), re.MULTILINE)
    assert int(limit) >= 300 * 4 * 24 * 14
    count = round(5_000 * SCALE)
    port, bench = free_port(), Bench()
    with running(configured(tmp_path, port), port):
        known(port, bench)
        say(port, "lg-01", [pack(warm(20.0, NOW - n * 1000)) for n in range(count)])
        last = service(port, bench)
        last.start()
        until(lambda: len(bench.readings.stored) == count, 60.0 + count / 100)
        assert last.alarms() == ()
        last.stop()


@pytest.mark.row("B3")
def test_what_it_drops_beyond_that_is_told(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    config = configured(tmp_path, port)
    text = config.read_text(encoding="utf-8").replace("max_queued_messages 500000", "max_queued_messages 10")
    config.write_text(f"{text}sys_interval 1\n", encoding="utf-8")
    with running(config, port):
        listener = service(port, bench)
        listener.start()
        until(lambda: listener.healthy() is None)
        # The queue that is too small is that of another client, which is away.
        auth = {"username": "slabhour", "password": USERS["slabhour"]}
        other = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="other", clean_session=False)
        other.username_pw_set(**auth)
        granted: list[object] = []
        other.on_subscribe = lambda *said: granted.append(said)
        other.connect("127.0.0.1", port)
        other.loop_start()
        until(other.is_connected)
        other.subscribe(TOPIC, 1)
        until(lambda: bool(granted))
        other.disconnect()
        other.loop_stop()
        say(port, "lg-01", [pack(warm(20.0, NOW - n * 1000)) for n in range(50)])
        until(lambda: bool(listener.alarms()), 60)
        listener.stop()
    assert "the broker's queue is full" in listener.alarms()[0]


@pytest.mark.row("B4")
def test_with_a_damaged_file_it_does_not_start_and_the_service_says_that_nobody_answers(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    config, database = configured(tmp_path, port), tmp_path / "data" / "mosquitto.db"
    with running(config, port):
        saved_after(database, lambda: known(port, bench))
    size = database.stat().st_size
    database.write_bytes(random.Random(1).randbytes(size))
    broker = subprocess.run([str(MOSQUITTO), "-c", config], capture_output=True, timeout=30, check=False)
    assert broker.returncode != 0
    listener = service(port, bench)
    listener.start()
    until(lambda: (listener.healthy() or "").startswith(f"no connection to the broker at 127.0.0.1:{port}"))
    listener.stop()


@pytest.mark.row("B10")
def test_a_full_disk_of_the_broker_costs_nothing_while_it_runs(tmp_path: Path) -> None:
    data, port, bench = tmp_path / "small", free_port(), Bench()
    data.mkdir()
    if os.geteuid() != 0:
        pytest.skip("only root can make a small disk")
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", data], capture_output=True, text=True, check=False
    )
    if made.returncode:
        pytest.skip(f"a small disk cannot be made here: {made.stderr.strip()}")
    try:
        with running(configured(tmp_path, port, data), port):
            known(port, bench)
            say(port, "lg-01", [pack(warm(20.0, NOW - n * 1000)) for n in range(2000)])
            # Its saves fail; what it holds in memory is not lost by that.
            Event().wait(3.0)
            last = service(port, bench)
            last.start()
            until(lambda: len(bench.readings.stored) == 2000, 60.0)
            last.stop()
    finally:
        subprocess.run(["umount", "-l", data], check=True, capture_output=True)


@pytest.mark.row("R9")
def test_a_logger_on_another_topic_is_told_success_and_only_its_missing_first_reading_shows_it(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    with running(configured(tmp_path, port), port):
        listener = service(port, bench)
        listener.start()
        until(lambda: listener.healthy() is None)
        # Returns without a fault: MQTT 3.1.1 has no word for "not allowed".
        say(port, "lg-02", [pack(warm(20.0))], TOPIC)
        say(port, "lg-01", [pack(warm(20.0, NOW, INSIDE))])
        until(lambda: bool(bench.readings.stored))
        listener.stop()
    assert bench.book.arrival([EDGE]) == {}
    assert bench.book.heard == []


def test_a_logger_speaks_on_its_own_topic_alone_and_nobody_without_a_name(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    with running(configured(tmp_path, port), port):
        listener = service(port, bench)
        listener.start()
        until(lambda: listener.healthy() is None)
        say(port, "lg-02", [pack(warm(99.0))])
        with pytest.raises(Exception, match=r"(?i)not authori"):
            publish.single(TOPIC, pack(warm(99.0)), 1, hostname="127.0.0.1", port=port)
        say(port, "lg-01", [pack(warm(20.0))])
        until(lambda: bool(bench.readings.stored))
        listener.stop()
    assert list(bench.readings.values().values()) == [20_000]


def test_what_is_meant_for_whoever_comes_later_is_not_kept(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    with running(configured(tmp_path, port), port):
        said = ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(port), "-u", "lg-01", "-P", USERS["lg-01"], "-q", "1"]
        # 2.0 ends the connection, and this client tries again for ever.
        with suppress(subprocess.TimeoutExpired):
            subprocess.run([*said, "-r", "-t", TOPIC, "-s"], input=pack(warm(99.0)), check=False, timeout=3)
        listener = service(port, bench)
        listener.start()
        until(lambda: listener.healthy() is None)
        say(port, "lg-01", [pack(warm(20.0, NOW - 60_000))])
        until(lambda: bool(bench.readings.stored))
        listener.stop()
    assert list(bench.readings.values().values()) == [20_000]
