"""A broker that forgets us, falls silent, hands us to another, or repeats itself."""

from __future__ import annotations

import pytest
from ingest_support import EDGE, NOW, SITE, Bench, until
from listener_support import gated, running
from mqtt_support import ScriptedBroker

from ingest.address import BrokerAddress
from ingest.listener import KEEPALIVE_S, Listener
from ingest.reconnect import TAKEN_OVER


@pytest.mark.row("B5")
def test_a_forgotten_session_is_counted_and_told() -> None:
    with running(session_present=False) as run:
        until(lambda: run.listener.healthy() is None)
        run.broker.hang_up()
        until(lambda: run.broker.subscribed == 2)
        assert run.listener.counters().sessions_lost == 1
        (said,) = run.listener.alarms()
        assert "has forgotten our session: what loggers sent from 2" in said


@pytest.mark.row("B6")
def test_a_second_client_of_our_name_is_told_and_the_waits_grow() -> None:
    waits: list[int] = []
    with ScriptedBroker() as broker:
        listener = Listener(BrokerAddress("127.0.0.1", broker.port), SITE, Bench().intake, roll=lambda: _tiny(waits))
        listener.start()
        for taken in range(1, TAKEN_OVER + 1):
            until(lambda taken=taken: broker.subscribed == taken and listener.healthy() is None)  # type: ignore[misc]
            broker.hang_up()
        until(lambda: len(listener.alarms()) == 1, 60)
        listener.stop()
    assert "another client seems to use the name slabhour-millrace-ingest" in listener.alarms()[0]
    assert len(waits) >= TAKEN_OVER


@pytest.mark.row("R6")
def test_a_broker_that_answers_no_more_is_found_out_and_what_it_had_sent_comes_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("ingest.listener.KEEPALIVE_S", 1)
    bench, readings = gated()
    with running(bench) as run:
        until(lambda: run.listener.healthy() is None)
        run.publish(7)
        assert readings.entered.wait(60)
        # The connection stands, as when the other end has lost its power.
        run.broker.mute = True
        until(lambda: run.broker.connections >= 2)
        run.broker.mute = False
        until(lambda: run.broker.subscribed >= 2)
        readings.gate.set()
        run.publish(8, copy=True)
        until(lambda: any(mid == 8 and connection >= 2 for connection, mid in run.broker.pubacks))
        assert len(readings.stored) == 1


@pytest.mark.row("R6")
def test_a_silent_broker_is_found_out_within_two_keepalives_of_fifteen_seconds() -> None:
    assert KEEPALIVE_S == 15


@pytest.mark.row("B8")
def test_a_reading_that_the_broker_keeps_and_sends_at_each_connection_is_stored_once() -> None:
    with running() as run:
        for connection in (1, 2, 3):
            until(lambda c=connection: run.broker.subscribed == c)  # type: ignore[misc]
            run.publish(5)
            until(lambda c=connection: (c, 5) in run.broker.pubacks)  # type: ignore[misc]
            run.broker.hang_up()
        assert list(run.bench.readings.values()) == [(EDGE, NOW)]
        assert run.bench.book.revision(EDGE) == 1


def _tiny(waits: list[int]) -> float:
    """Return a roll that leaves hardly any wait, and note that one was asked for."""
    waits.append(1)
    return -0.99
