"""Others than this machine reach the embedded broker only by TLS, signed in, and only on topics of their own."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event

import pytest
from ingest_support import EDGE, TOPIC, Bench, pack, until, warm
from mqtt_support import free_port, listener_of
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from tls_support import certificate_in

from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from ingest.broker_access import LOOPBACK, OWN_USER, Access, read_users
from shared.errors import SetupError
from shared.models.base import LoggerId

GOOD, OTHER = LoggerId("lg-01"), LoggerId("lg-02")
USERS = {GOOD: "a-long-password-1", OTHER: "a-long-password-2"}
FILTERS = ("slabhour/millrace/r/{logger}", "board/{logger}/{channel}", "gateway/up")


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return a certificate of this test's own, for a name that is not this machine's, and its key."""
    return certificate_in(tmp_path_factory.mktemp("tls"))


@dataclass
class Logger:
    """A bare MQTT client."""

    client: mqtt.Client
    answers: list[str] = field(default_factory=list)
    heard: list[bytes] = field(default_factory=list)


@contextmanager
def logger(port: int, user: str | None, password: str | None, context: ssl.SSLContext | None) -> Iterator[Logger]:
    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=f"test-{user}", reconnect_on_failure=False)
    found = Logger(client)
    client.on_connect = lambda *said: found.answers.append(str(said[3]))
    client.on_message = lambda *said: found.heard.append(said[2].payload)
    if user is not None:
        client.username_pw_set(user, password)
    if context is not None:
        client.tls_set_context(context)
    client.connect("127.0.0.1", port)
    client.loop_start()
    try:
        until(lambda: bool(found.answers))
        yield found
    finally:
        client.disconnect()
        client.loop_stop()


@contextmanager
def served(access: Access, folder: Path) -> Iterator[tuple[EmbeddedBroker, Bench]]:
    """Run the broker, and a listener that signs in as the service does."""
    bench = Bench()
    with EmbeddedBroker(folder, free_port(), access, ack_wait_s=1) as broker:
        user, password = (OWN_USER, access.own_password) if access.users else (None, None)
        address = BrokerAddress(access.host, broker.port, user, password, context=access.own_context())
        with listener_of(address, bench):
            yield broker, bench


@pytest.fixture(scope="module")
def reached(
    certificate: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[EmbeddedBroker, Bench, Access]]:
    access = Access(LOOPBACK, *certificate, users=USERS, filters=FILTERS)
    with served(access, tmp_path_factory.mktemp("data")) as (broker, bench):
        yield broker, bench, access


Reached = tuple[EmbeddedBroker, Bench, Access]


def test_a_logger_that_signs_in_is_heard_on_its_own_topic_and_on_no_other(reached: Reached) -> None:
    broker, bench, access = reached
    with logger(broker.port, GOOD, USERS[GOOD], access.own_context()) as one:
        assert one.answers == ["Success"]
        one.client.publish(TOPIC.replace(GOOD, OTHER), pack(warm(99.0)), 1).wait_for_publish(30)
        one.client.publish(TOPIC, pack(warm(20.0)), 1).wait_for_publish(30)
        until(lambda: bool(bench.readings.stored))
    assert bench.readings.values() == {(EDGE, warm()["t"] * 1000): 20_000}
    assert bench.book.refused() == []


def test_a_logger_hears_nothing_of_what_others_say(reached: Reached) -> None:
    broker, _, access = reached
    with logger(broker.port, OTHER, USERS[OTHER], access.own_context()) as ear:
        ear.client.subscribe("slabhour/#", 1)
        with logger(broker.port, GOOD, USERS[GOOD], access.own_context()) as one:
            one.client.publish(TOPIC, pack(warm(20.0)), 1).wait_for_publish(30)
        Event().wait(0.5)
        assert ear.heard == []


@pytest.mark.parametrize(("user", "password"), [(GOOD, "wrong-password-x"), ("lg-77", USERS[GOOD]), (None, None)])
def test_nobody_else_gets_in(reached: Reached, user: str | None, password: str | None) -> None:
    broker, _, access = reached
    with logger(broker.port, user, password, access.own_context()) as stranger:
        assert stranger.answers == ["Not authorized"]


def test_without_tls_there_is_no_connection(reached: Reached) -> None:
    client = mqtt.Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    answers: list[str] = []
    client.on_connect = lambda *said: answers.append(str(said[3]))
    client.username_pw_set(GOOD, USERS[GOOD])
    client.connect("127.0.0.1", reached[0].port)
    client.loop_start()
    Event().wait(1.0)
    client.loop_stop()
    assert answers == []


def test_the_service_takes_no_other_certificate_for_its_own_broker(reached: Reached, tmp_path: Path) -> None:
    context = Access(LOOPBACK, *certificate_in(tmp_path, "other")).own_context()
    assert context is not None
    with (
        socket.create_connection((LOOPBACK, reached[0].port), timeout=5.0) as plain,
        pytest.raises(ssl.SSLCertVerificationError),
        context.wrap_socket(plain),
    ):
        pass


def test_its_configuration_is_for_its_own_user_alone(reached: Reached) -> None:
    broker = reached[0]
    config = broker._folder / "nats.conf"
    assert config.stat().st_mode & 0o077 == 0
    assert USERS[GOOD] in config.read_text(encoding="utf-8")


def test_users_may_be_asked_for_on_loopback_too(tmp_path: Path) -> None:
    with served(Access(users=USERS, filters=FILTERS), tmp_path) as (broker, bench):
        with logger(broker.port, None, None, None) as stranger:
            assert stranger.answers == ["Not authorized"]
        with logger(broker.port, GOOD, USERS[GOOD], None) as one:
            one.client.publish(TOPIC, pack(warm(20.0)), 1).wait_for_publish(30)
            until(lambda: len(bench.readings.stored) == 1)


def test_a_user_may_publish_on_topics_of_its_name_and_on_those_that_name_nobody() -> None:
    access = Access(users=USERS, filters=FILTERS)
    assert access.subjects(GOOD) == ["slabhour.millrace.r.lg-01", "board.lg-01.*", "gateway.up"]


def test_by_default_it_is_this_machine_alone_and_nobody_signs_in() -> None:
    access = Access()
    assert Access("0.0.0.0").host == LOOPBACK  # noqa: S104  nothing is bound
    assert (access.listen, access.config(), access.tls_config(), access.own_context()) == (LOOPBACK, "", "", None)


def test_no_password_is_shown() -> None:
    assert "password" not in repr(Access(users=USERS))


def test_the_file_of_users_has_a_name_and_a_password_a_line() -> None:
    text = "# loggers\n\nlg-01  a-long-password-1   # at the edge\nlg-02\ta-long-password-2\n"
    assert read_users(text, "loggers") == USERS


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("lg-01", "a line that is none"),
        ("lg-01 short", "a line that is none"),
        ("LG-01 a-long-password-1", "a line that is none"),
        ("lg-01 a-long-password-1 more", "a line that is none"),
        ("slabhour a-long-password-1", "'slabhour'"),
        ("lg-02 a-long-password-9", "'lg-02'"),
    ],
)
def test_a_line_that_is_none_is_named_by_its_number_and_its_password_is_not_repeated(line: str, found: str) -> None:
    with pytest.raises(SetupError) as error:
        read_users(f"lg-02 a-long-password-2\n{line}\n", "loggers")
    (fault,) = error.value.faults
    assert (fault.line, fault.found) == (2, found)
    assert "password-1" not in str(error.value)
