"""Topics of several formats, at real brokers: what may wait there does, and what must not does not."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from threading import Event
from typing import Final

import pytest
from ingest_support import EDGE, INSIDE, NOW, SITE, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, free_port, listener_of, listening, send
from paho.mqtt import publish

from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from ingest.intake import Intake
from ingest.listener import Listener
from ingest.message import Incoming
from shared.models.base import MINUTE_MS
from shared.models.payloads import TextTopic, default_topic
from shared.models.readings import Reason

BOARD: Final = "board/lg-01/1"
TOPICS: Final = (default_topic(SITE), TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC"))
QUARTER_MS: Final = 15 * MINUTE_MS


@pytest.fixture(params=["embedded", pytest.param("mosquitto", marks=pytest.mark.needs_mosquitto)])
def port(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[int]:
    number = free_port()
    if request.param == "embedded":
        with EmbeddedBroker(tmp_path, number, ack_wait_s=1):
            yield number
        return
    if MOSQUITTO is None:
        pytest.skip("Debian's mosquitto is not installed")
    config = tmp_path / "mosquitto.conf"
    config.write_text(f"listener {number} 127.0.0.1\nallow_anonymous true\npersistence false\n")
    with subprocess.Popen([MOSQUITTO, "-c", config], stderr=subprocess.DEVNULL) as broker:
        try:
            until(lambda: listening(number))
            yield number
        finally:
            broker.terminate()


def service(port: int, bench: Bench) -> AbstractContextManager[Listener]:
    return listener_of(BrokerAddress("127.0.0.1", port), bench)


@pytest.mark.row("R3")
def test_while_the_service_is_away_a_pack_waits_at_the_broker_and_a_bare_number_does_not(
    port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    came: list[str] = []
    stamped = Intake.incoming

    def counted(intake: Intake, topic: str, payload: bytes, **more: bool) -> Incoming:
        incoming = stamped(intake, topic, payload, **more)
        came.append(topic)
        return incoming

    monkeypatch.setattr(Intake, "incoming", counted)
    bench = Bench(topics=TOPICS)
    with service(port, bench):
        pass
    send(port, [b"35.0"], BOARD)
    send(port, [pack(warm(20.5, NOW, INSIDE))])
    with service(port, bench) as listener:
        until(lambda: bench.readings.values() == {(INSIDE, NOW): 20_500})
        Event().wait(1.5)  # longer than the embedded broker's ack_wait
        # The pack may have come twice: whoever acknowledges late gets it again.
        assert BOARD not in came
        send(port, [b"21.0"], BOARD)
        until(lambda: came.count(BOARD) == 1 and not listener.waiting())
        bench.clock.set(NOW + QUARTER_MS)
        send(port, [b"21.5"], BOARD)
        until(lambda: bench.readings.values() == {(INSIDE, NOW): 20_500, (EDGE, NOW): 21_000})
    assert bench.book.refused() == []


@pytest.mark.row("R3")
def test_a_bare_number_that_the_broker_keeps_for_newcomers_never_counts(port: int) -> None:
    publish.single(BOARD, b"35.0", qos=1, retain=True, hostname="127.0.0.1", port=port)
    bench = Bench(topics=TOPICS)
    with service(port, bench):
        until(lambda: [r.reason for r in bench.book.refused()] == [Reason.NOT_FRESH])
        bench.clock.set(NOW + QUARTER_MS)
        send(port, [b"20.0"], BOARD)
        send(port, [pack(warm(20.5, NOW, INSIDE))])
        until(lambda: (INSIDE, NOW) in bench.readings.stored)
    assert bench.readings.values() == {(INSIDE, NOW): 20_500}
