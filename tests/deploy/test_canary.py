from __future__ import annotations

from pathlib import Path
from threading import Event

import pytest
from deploy_support import START_MS, write_site
from ingest_support import until
from mqtt_support import free_port

from deploy.broker_parts import broker_address
from deploy.canary import Canary
from deploy.selftest import SelfTest, canary_of, heard
from deploy.serve import running
from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from shared.clock import SimulatedClock
from shared.models.base import SiteId
from shared.models.decisions import Doubt, DoubtKind
from shared.sitefile import load

SITE = SiteId("millrace")


def test_a_running_service_gives_the_canary_back_and_is_well(tmp_path: Path) -> None:
    setup = load(write_site(tmp_path, **{"port = 1883": f"port = {free_port()}"}))
    with running(setup, SimulatedClock(START_MS)) as parts:
        service = parts.service
        # The heartbeat's own.
        until(lambda: heard(service.book.service) == START_MS)
        canary = canary_of(broker_address(setup), service)
        assert canary.fly(41, Event()) is None
        assert heard(service.book.service) == 41
        test = SelfTest(service, canary, lambda: None, lambda: 0.0)
        assert test(Event()) == []
        assert SelfTest(service, canary, lambda: None, lambda: 121.0)(Event()) == ["the rounds have stopped"]
        kept = SelfTest(service, canary, lambda: None, lambda: 0.0, housekeeping=lambda: ["backup: no room"])
        assert kept(Event()) == ["backup: no room"]
        service.book.service.raise_doubt(Doubt(DoubtKind.CLOCK, START_MS, "the clock jumped"), [])
        assert "in doubt: the clock jumped" in test(Event())


def test_without_a_broker_the_canary_says_so() -> None:
    canary = Canary(BrokerAddress("127.0.0.1", free_port()), SITE, lambda: None, within_s=1.0)
    said = canary.fly(1, Event())
    assert said is not None
    assert said.startswith("the canary could not be sent: ")


@pytest.mark.row("N10")
def test_a_canary_that_nobody_hears_does_not_count(tmp_path: Path) -> None:
    with EmbeddedBroker(tmp_path, free_port()) as broker:
        older = Canary(BrokerAddress("127.0.0.1", broker.port), SITE, lambda: 6, within_s=0.5)
        assert older.fly(7, Event()) == "the canary was sent and did not come back within 0 s"


def test_a_service_that_stops_waits_for_no_canary(tmp_path: Path) -> None:
    stop = Event()
    stop.set()
    with EmbeddedBroker(tmp_path, free_port()) as broker:
        canary = Canary(BrokerAddress("127.0.0.1", broker.port), SITE, lambda: None)
        assert canary.fly(7, stop) == "stopping"
