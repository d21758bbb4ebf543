"""The shipped configuration on Debian's Mosquitto: nothing acknowledged is lost when it is killed; who may speak."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Event

import pytest
from ingest_support import NOW, SITE, TOPIC, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, free_port, listening
from paho.mqtt import publish

from ingest.listener import BrokerAddress, Listener

PASSWORDS = shutil.which("mosquitto_passwd")
SHIPPED = Path(__file__).parents[2] / "deploy" / "mosquitto"
USERS = {"slabhour": "the-service-itself", "lg-01": "a-long-password-1", "lg-02": "a-long-password-2"}
pytestmark = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(MOSQUITTO is None or PASSWORDS is None, reason="Debian's mosquitto is not installed"),
]
KILLS = 8
AT_ONCE = 25


def configured(folder: Path, port: int) -> Path:
    """Return the shipped configuration with the places of this test, on loopback without TLS."""
    passwords, data = folder / "passwd", folder / "data"
    data.mkdir()
    passwords.touch(mode=0o600)
    for user, password in USERS.items():
        subprocess.run([str(PASSWORDS), "-b", passwords, user, password], check=True, capture_output=True)
    text = (SHIPPED / "slabhour.conf").read_text(encoding="utf-8")
    for shipped, ours in (
        ("listener 8883", f"listener {port} 127.0.0.1"),
        ("certfile /etc/mosquitto/certs/site.pem\n", ""),
        ("keyfile /etc/mosquitto/certs/site.key\n", ""),
        ("tls_version tlsv1.2\n", ""),
        ("/etc/mosquitto/slabhour.passwd\nacl_file", f"{passwords}\nacl_file"),
        ("/etc/mosquitto/conf.d/acl.conf\n", f"{SHIPPED / 'acl.conf'}\n"),
        ("persistence_location /var/lib/mosquitto/", f"persistence_location {data}/\nuser root"),
    ):
        assert text.count(shipped) == 1, shipped
        text = text.replace(shipped, ours)
    path = folder / "mosquitto.conf"
    path.write_text(text, encoding="utf-8")
    return path


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


def test_what_it_acknowledged_survives_every_kill_while_the_service_is_away(tmp_path: Path) -> None:
    port, bench = free_port(), Bench()
    config = configured(tmp_path, port)
    with running(config, port):
        first = service(port, bench)
        first.start()
        until(lambda: first.healthy() is None)
        first.stop()
        Event().wait(1.5)
    for kill in range(KILLS):
        with running(config, port) as broker:
            minutes = range(kill * AT_ONCE, (kill + 1) * AT_ONCE)
            say(port, "lg-01", [pack(warm(20.0 + n / 100, NOW - n * 60_000)) for n in minutes])
            # A change is on disk within `autosave_interval`.
            Event().wait(1.5)
            broker.kill()
            broker.wait(10)
    with running(config, port):
        last = service(port, bench)
        last.start()
        until(lambda: len(bench.readings.stored) == KILLS * AT_ONCE, 30.0)
        last.stop()
    assert bench.book.refused() == []


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
