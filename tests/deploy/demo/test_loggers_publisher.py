from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from queue import Queue
from threading import Event

import pytest
from demo_support import sent
from mqtt_support import free_port
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from deploy.demo.loggers import Pack, Publisher, packs
from deploy.demo.scenario import OPEN_MS
from ingest.broker import EmbeddedBroker
from shared.errors import BrokerError


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    with EmbeddedBroker(tmp_path, free_port()) as running:
        yield running


@pytest.fixture
def heard(broker: EmbeddedBroker) -> Iterator[Queue[tuple[str, bytes]]]:
    messages: Queue[tuple[str, bytes]] = Queue()
    listening = Event()
    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
    client.on_message = lambda _client, _data, message: messages.put((message.topic, bytes(message.payload)))
    client.on_subscribe = lambda _client, _data, _mid, _reasons, _properties: listening.set()
    client.connect("127.0.0.1", broker.port)
    client.subscribe("slabhour/millrace/r/+", qos=1)
    client.loop_start()
    assert listening.wait(60)
    yield messages
    client.disconnect()
    client.loop_stop()


@pytest.fixture(scope="module")
def opening() -> list[Pack]:
    return packs(list(sent()))[:60]


def test_packs_go_out_as_the_sites_clock_reaches_their_hour(
    broker: EmbeddedBroker, heard: Queue[tuple[str, bytes]], opening: list[Pack]
) -> None:
    halfway = opening[len(opening) // 2].published_ms
    due = [p for p in opening if p.published_ms <= halfway]
    with Publisher(opening, "127.0.0.1", broker.port) as publisher:
        assert publisher.run_until(OPEN_MS - 1) == 0
        assert publisher.run_until(halfway) == len(due)
        assert publisher.run_until(halfway) == 0
        assert publisher.left == len(opening) - len(due)
        assert publisher.run_until(opening[-1].published_ms) == len(opening) - len(due)
    got = [heard.get(timeout=60) for _ in opening]
    assert sorted(got) == sorted((p.topic, p.payload) for p in opening)


def test_a_broker_that_is_gone_is_said_after_the_deadline(
    broker: EmbeddedBroker, opening: list[Pack], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Publisher, "DEADLINE_S", 1.0)
    with Publisher(opening, "127.0.0.1", broker.port) as publisher:
        assert publisher.run_until(opening[0].published_ms) >= 1
        broker.__exit__(None, None, None)
        with pytest.raises(BrokerError, match="no acknowledgement of"):
            publisher.run_until(opening[-1].published_ms)


def test_no_broker_is_said_in_words(opening: list[Pack]) -> None:
    port = free_port()
    with pytest.raises(BrokerError, match=f"cannot reach 127.0.0.1:{port}"), Publisher(opening, "127.0.0.1", port):
        raise AssertionError("connected to nobody")
