from __future__ import annotations

from collections.abc import Sequence
from threading import Event

import pytest
from ingest_support import EDGE, NOW, SITE, Bench, pack, until, warm
from listener_support import gated, running
from mqtt_support import ScriptedBroker, free_port

from ingest.address import BrokerAddress
from ingest.intake import Intake
from ingest.listener import AT_ONCE, Listener
from ingest.message import Incoming
from ingest.sheet import Taken
from ingest.unkept import OF_ONE_TOPIC
from shared.models.readings import Reason


def test_a_message_is_acknowledged_after_it_is_stored_and_noted() -> None:
    bench, readings = gated()
    with running(bench) as run:
        until(lambda: run.listener.healthy() is None)
        run.publish(7)
        assert readings.entered.wait(60)
        Event().wait(0.2)
        assert run.broker.pubacks == []
        readings.gate.set()
        until(lambda: run.broker.pubacks == [(1, 7)])
        assert bench.book.revision(EDGE) == 1
        until(lambda: run.listener.counters().acknowledged == 1)
        assert run.listener.waiting() == 0
        assert run.listener.stale_s() < 5


@pytest.mark.row("N1", "N2", "M7")
def test_poison_is_refused_and_acknowledged_and_the_queue_drains() -> None:
    with running() as run:
        for mid, topic in enumerate(
            (b"slabhour/millrace/r/\xff\xfe", b"\xff", b"x", b"slabhour/millrace/r/lg-01/../x"), 1
        ):
            run.broker.publish(mid, b"[%d]" % mid, topic)
        for mid, payload in enumerate((b"", b"\x00", b"[" * 9000, b"[" + b"1" * 16_000, b'[{"n":"\\ud800"}]'), 11):
            run.broker.publish(mid, payload)
        run.publish(21)
        until(lambda: len(run.broker.pubacks) == 10)
        assert [mid for _, mid in run.broker.pubacks] == [1, 2, 3, 4, 11, 12, 13, 14, 15, 21]
        assert (EDGE, NOW) in run.bench.readings.stored
        assert [r.reason for r in run.bench.book.refused()][:4] == [Reason.TOPIC] * 4
        assert run.listener.healthy() is None


@pytest.mark.row("N4")
def test_an_acknowledgement_never_crosses_a_reconnect() -> None:
    bench, readings = gated()
    with running(bench) as run:
        run.publish(1, 20.0)
        assert readings.entered.wait(60)
        run.broker.hang_up()
        until(lambda: run.broker.subscribed == 2)
        # The new session counts from 1 again: this is another reading under the same packet id.
        run.publish(1, 10.0, minutes_ago=15)
        bench.book.failures = 2
        readings.gate.set()
        until(lambda: len(readings.stored) == 2)
        until(lambda: run.broker.pubacks == [(2, 1)])
        assert run.listener.counters().stale == 1
        assert bench.book.arrivals[EDGE].newest_ms == NOW


@pytest.mark.row("N5")
def test_while_the_store_fails_nothing_is_acknowledged_and_the_broker_is_asked_again() -> None:
    bench = Bench()
    bench.readings.failures = 3
    with running(bench) as run:
        run.publish(7)
        until(lambda: bench.readings.merges >= 2)
        assert "the disk is full" in (run.listener.healthy() or "")
        assert run.broker.pubacks == []
        until(lambda: run.broker.subscribed == 2)
        assert run.broker.pubacks == []
        run.publish(7, copy=True)
        until(lambda: run.broker.pubacks == [(2, 7)])
        assert len(bench.readings.stored) == 1
        assert run.listener.counters().store_failures == 3
        until(lambda: run.listener.healthy() is None)


@pytest.mark.row("N1")
def test_a_fault_of_ours_in_storing_loses_nothing_and_stops_nothing(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench()
    faults = [ZeroDivisionError(), KeyError("x")]

    class Faulty(Intake):
        def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
            if faults:
                raise faults.pop()
            return super().take(batch)

    bench.intake = Faulty(SITE, bench.readings, bench.book, bench.clock)
    with running(bench) as run:
        run.publish(7)
        until(lambda: run.broker.pubacks == [(1, 7)])
        assert len(bench.readings.stored) == 1


@pytest.mark.row("N1")
def test_a_fault_in_a_callback_costs_a_connection_and_not_the_thread(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench()
    faults = [ZeroDivisionError()]

    class Faulty(Intake):
        def incoming(self, topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
            if faults:
                raise faults.pop()
            return super().incoming(topic, payload, may_have_waited=may_have_waited)

    bench.intake = Faulty(SITE, bench.readings, bench.book, bench.clock)
    with running(bench) as run:
        run.publish(7)
        until(lambda: run.broker.subscribed == 2)
        run.publish(7, copy=True)
        until(lambda: run.broker.pubacks == [(2, 7)])


@pytest.mark.row("N5", "N6")
def test_what_finds_no_room_is_not_acknowledged_and_asked_for_again() -> None:
    bench, readings = gated()
    with running(bench, held=2) as run:
        run.publish(1)
        assert readings.entered.wait(60)
        for mid in range(2, 7):
            run.publish(mid, minutes_ago=mid)
        until(lambda: run.listener.counters().missed == 3)
        assert run.listener.healthy() == "too many messages wait to be stored"
        assert run.broker.pubacks == []
        readings.gate.set()
        until(lambda: run.broker.subscribed == 2)
        assert [mid for _, mid in run.broker.pubacks] == [1, 2, 3][: len(run.broker.pubacks)]
        for mid in range(4, 7):
            run.publish(mid, minutes_ago=mid, copy=True)
        until(lambda: {(2, 4), (2, 5), (2, 6)} <= set(run.broker.pubacks))
        assert len(readings.stored) == 6
        until(lambda: run.listener.healthy() is None)


@pytest.mark.row("N6")
def test_a_flood_of_what_no_broker_keeps_leaves_room_for_all_else_and_asks_for_nothing_again() -> None:
    bench, readings = gated()
    with running(bench) as run:
        run.publish(1)
        assert readings.entered.wait(60)
        for _ in range(OF_ONE_TOPIC + 3):
            run.broker.publish(0, b"[]", qos=0)
        until(lambda: run.listener.counters().dropped == 3)
        # What others send at QoS 0 has its own share of the room.
        run.broker.publish(0, pack(warm(21.0, NOW - 120_000)), b"slabhour/millrace/r/lg-02", qos=0)
        run.publish(2, minutes_ago=1)
        readings.gate.set()
        until(lambda: run.broker.pubacks == [(1, 1), (1, 2)])
        assert (run.listener.counters().missed, run.broker.connections) == (0, 1)
        assert run.listener.counters().dropped == 3


class HeldUp(Bench):
    """An intake at which the network thread waits for a while, so that messages gather on the line."""

    def __init__(self) -> None:
        super().__init__()
        self.entered, self.gate = Event(), Event()
        stamped = self.intake.incoming

        def incoming(topic: str, payload: bytes, *, may_have_waited: bool = False) -> Incoming:
            self.entered.set()
            assert self.gate.wait(60)
            return stamped(topic, payload, may_have_waited=may_have_waited)

        self.intake.incoming = incoming  # type: ignore[method-assign]


@pytest.mark.row("N6", "M5")
def test_a_line_that_is_full_of_what_no_broker_keeps_for_too_long_is_left_and_a_person_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("ingest.unkept.LINE_S", 0.0)
    bench = HeldUp()
    with running(bench) as run:
        until(lambda: run.listener.healthy() is None)
        run.broker.publish(0, b"[]", qos=0)
        assert bench.entered.wait(60)
        for _ in range(3 * AT_ONCE):
            run.broker.publish(0, b"[]", qos=0)
        bench.gate.set()
        # What the broker keeps is the first thing that it sends on the new one.
        until(lambda: run.broker.subscribed == 2)
        run.publish(7)
        until(lambda: (2, 7) in run.broker.pubacks)
        (said,) = run.listener.alarms()
        assert "more messages at QoS 0 come than can be taken, most on 'slabhour/millrace/r/lg-01'" in said


@pytest.mark.row("B7")
def test_a_refused_subscription_is_not_healthy_until_it_is_granted() -> None:
    with running(suback=0x80) as run:
        until(lambda: "refuses the subscription" in (run.listener.healthy() or ""))
        run.broker.suback = 1
        until(lambda: run.listener.healthy() is None)


def test_a_refused_connection_is_not_healthy_and_is_tried_again() -> None:
    with running(connack=5) as run:
        until(lambda: "refuses the connection: Not authorized" in (run.listener.healthy() or ""))
        until(lambda: run.broker.connections >= 2)


def test_stopping_stores_and_acknowledges_what_waits() -> None:
    bench, readings = gated()
    with running(bench) as run:
        for mid in range(1, 6):
            run.publish(mid, minutes_ago=mid)
        until(lambda: run.listener.counters().received == 5)
        readings.gate.set()
        run.listener.stop()
        assert len(readings.stored) == 5
        until(lambda: run.broker.pubacks == [(1, mid) for mid in range(1, 6)])
        assert run.listener.healthy() == "the listener does not run"
        assert run.listener.stale_s() == float("inf")


def test_stopping_while_the_store_fails_ends_and_acknowledges_nothing() -> None:
    bench = Bench()
    bench.readings.failures = 1_000
    with running(bench) as run:
        run.publish(1)
        until(lambda: bench.readings.merges >= 2)
        run.listener.stop()
        assert run.broker.pubacks == []
        assert not run.listener._thread.is_alive()


def test_a_broker_that_is_not_there_is_named_and_a_listener_never_started_can_be_stopped() -> None:
    listener = Listener(BrokerAddress("127.0.0.1", free_port()), SITE, Bench().intake)
    listener.stop()
    listener = Listener(BrokerAddress("127.0.0.1", free_port()), SITE, Bench().intake)
    listener.start()
    until(lambda: "no connection to the broker at 127.0.0.1" in (listener.healthy() or ""))
    listener.stop()


@pytest.mark.row("B9")
@pytest.mark.filterwarnings(
    "ignore::pytest.PytestUnraisableExceptionWarning"
)  # paho leaves a failed handshake's socket
def test_an_encrypted_connection_never_falls_back_to_plain_text() -> None:
    with ScriptedBroker() as broker:
        listener = Listener(BrokerAddress("127.0.0.1", broker.port, tls=True), SITE, Bench().intake)
        listener.start()
        for tried in (1, 2):
            until(lambda tried=tried: broker.connections >= tried)  # type: ignore[misc]
            broker.hang_up()
        listener.stop()
        assert broker.subscribed == 0
        assert "no connection" in (listener._trouble or "")


def test_an_address_is_read_from_its_url() -> None:
    assert BrokerAddress.from_url("mqtt://broker.lan") == BrokerAddress("broker.lan", 1883)
    secret = BrokerAddress.from_url("mqtts://broker.lan:8884", "site", "hunter2", "ca.pem")
    assert secret == BrokerAddress("broker.lan", 8884, "site", "hunter2", tls=True, ca_file="ca.pem")
    assert "hunter2" not in repr(secret)
    assert BrokerAddress.from_url("mqtts://broker.lan").port == 8883
