"""Whatever is thrown at the embedded broker's port, it goes on, and so does the service behind it."""

from __future__ import annotations

from pathlib import Path

import pytest
from fuzz_mqtt import CONNECTIONS, throw, thrown
from ingest_support import NOW, TOPIC, Bench, pack, until, warm
from mqtt_support import free_port, listener_of, send

from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker


@pytest.mark.row("M6", "M7")
def test_bytes_of_no_sense_and_spoilt_packets_leave_broker_and_service_well(tmp_path: Path) -> None:
    bench, seed = Bench(), 20261127
    with (
        EmbeddedBroker(tmp_path, free_port()) as broker,
        listener_of(BrokerAddress("127.0.0.1", broker.port), bench) as listener,
    ):
        child = broker.pid
        assert throw(broker.port, thrown(seed, TOPIC, pack(warm(18.0, NOW - 60_000)), "", "")) == CONNECTIONS
        send(broker.port, [pack(warm(20.0))])
        until(lambda: 20_000 in bench.readings.values().values())
        until(lambda: listener.healthy() is None)
        assert (broker.pid, listener.counters().sessions_lost) == (child, 0)
