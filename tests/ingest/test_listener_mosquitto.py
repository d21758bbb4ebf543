from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest
from ingest_support import EDGE, NOW, SITE, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, free_port

from ingest.address import BrokerAddress
from ingest.listener import Listener
from shared.models.readings import Reason

PUBLISHER = shutil.which("mosquitto_pub")

pytestmark = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(
        MOSQUITTO is None or PUBLISHER is None, reason="Debian's mosquitto and mosquitto-clients are not installed"
    ),
]

CONFIG = """\
listener {port} 127.0.0.1
allow_anonymous {anonymous}
{password_line}
persistence false
max_inflight_messages 200
"""


@pytest.fixture
def port(tmp_path: Path) -> Iterator[int]:
    number = free_port()
    config = tmp_path / "mosquitto.conf"
    config.write_text(CONFIG.format(port=number, anonymous="true", password_line=""))
    with subprocess.Popen([str(MOSQUITTO), "-c", config], stderr=subprocess.DEVNULL) as broker:
        try:
            until(lambda: published(number, "x", b"x"))
            yield number
        finally:
            broker.terminate()


def published(port: int, topic: str, payload: bytes) -> bool:
    command = [str(PUBLISHER), "-h", "127.0.0.1", "-p", str(port), "-q", "1", "-t", topic, "-s"]
    return subprocess.run(command, input=payload, stderr=subprocess.DEVNULL, check=False).returncode == 0


def test_what_mosquitto_pub_sends_is_stored_and_acknowledged_once(port: int) -> None:
    bench = Bench()
    listener = Listener(BrokerAddress("127.0.0.1", port), SITE, bench.intake)
    listener.start()
    until(lambda: listener.healthy() is None)
    assert published(port, "slabhour/millrace/r/lg-01", pack(warm(21.5)))
    assert published(port, "slabhour/millrace/r/lg-09", pack(warm(21.5)))
    until(lambda: listener.counters().acknowledged == 2)
    listener.stop()
    assert bench.readings.values() == {(EDGE, NOW): 21_500}
    assert [r.reason for r in bench.book.refused()] == [Reason.ID_MISMATCH]
    # Kept session: what comes while we are away waits; what was acknowledged does not come again.
    assert published(port, "slabhour/millrace/r/lg-01", pack(warm(20.5, NOW - 60_000)))
    listener = Listener(BrokerAddress("127.0.0.1", port), SITE, bench.intake)
    listener.start()
    until(lambda: listener.counters().acknowledged == 1)
    Event().wait(0.2)
    assert listener.counters().received == 1
    listener.stop()
    assert len(bench.readings.stored) == 2


@pytest.mark.row("N5")
def test_with_mosquitto_too_a_failing_store_loses_nothing(port: int) -> None:
    bench = Bench()
    bench.readings.failures = 3
    listener = Listener(BrokerAddress("127.0.0.1", port), SITE, bench.intake)
    listener.start()
    until(lambda: listener.healthy() is None)
    assert published(port, "slabhour/millrace/r/lg-01", pack(warm(2.5)))
    until(lambda: listener.counters().acknowledged == 1)
    counters = listener.counters()
    listener.stop()
    assert counters.connections >= 2
    assert counters.store_failures == 3
    assert bench.readings.values() == {(EDGE, NOW): 2_500}
