"""What Mosquitto refuses with the shipped configuration, TLS and all: each row of the table is tried on it."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from authority_support import Authority, authority_in
from fuzz_mqtt import CONNECTIONS, connect, throw, thrown
from ingest_support import NOW, SITE, TOPIC, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, free_port, listening
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from deploy.bench.brokers import shipped_config
from deploy.broker_name import named
from ingest.address import BrokerAddress
from ingest.listener import Listener

USERS = {"slabhour": "the-service-itself", "lg-01": "a-long-password-1", "lg-02": "a-long-password-2"}
REFUSED = "Not authorized"
pytestmark = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(
        MOSQUITTO is None or shutil.which("mosquitto_passwd") is None, reason="Debian's mosquitto is not installed"
    ),
]


@dataclass(frozen=True)
class Shipped:
    """The running broker: as shipped, at another port with a certificate that is past its end, and at one without."""

    port: int
    past_port: int
    bare_port: int
    authority: Authority
    foreign: Authority
    process: subprocess.Popen[bytes]

    def address(self, **other: object) -> BrokerAddress:
        """Return where the service reaches it."""
        ca = str(self.authority.certificate)
        mine = BrokerAddress("127.0.0.1", self.port, "slabhour", USERS["slabhour"], tls=True, ca_file=ca)
        return replace(mine, **other)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shipped]:
    folder = tmp_path_factory.mktemp("shipped")
    authority, foreign = authority_in(folder, "site"), authority_in(folder, "foreign")
    port, past_port, bare_port = free_port(), free_port(), free_port()
    config = shipped_config(folder, port, USERS)
    text = config.read_text(encoding="utf-8")

    def tls(name: str, days: int) -> str:
        certificate, key = authority.signed(name, days)
        return f"certfile {certificate}\nkeyfile {key}\ntls_version tlsv1.2\n"

    before = f"listener {port} 127.0.0.1\n"
    assert text.count(before) == 1
    text = text.replace(before, before + tls("broker", 2))
    more = f"sys_interval 1\nlistener {past_port} 127.0.0.1\n{tls('past', -1)}listener {bare_port} 127.0.0.1\n"
    config.write_text(f"{text}{more}", encoding="utf-8")
    with subprocess.Popen([str(MOSQUITTO), "-c", config], stderr=subprocess.DEVNULL) as process:
        try:
            until(lambda: all(map(listening, (port, past_port, bare_port))))
            yield Shipped(port, past_port, bare_port, authority, foreign, process)
        finally:
            process.kill()


@dataclass
class Client:
    """A bare client of MQTT 5, whose refusals have words."""

    mqtt: mqtt.Client
    connected: list[str] = field(default_factory=list)
    published: dict[int, str] = field(default_factory=dict)
    granted: list[str] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)

    def publish(self, topic: str, payload: bytes = b"x", *, retain: bool = False) -> str:
        """Return what the broker answers; "ended": it hung up."""
        mid = self.mqtt.publish(topic, payload, 1, retain).mid
        until(lambda: mid in self.published or bool(self.ended))
        return self.published.get(mid, "ended")


@contextmanager
def client(
    shipped: Shipped, user: str | None, password: str | None = None, name: str = "", will: str | None = None
) -> Iterator[Client]:
    bare = mqtt.Client(CallbackAPIVersion.VERSION2, name, protocol=mqtt.MQTTv5, reconnect_on_failure=False)
    found = Client(bare)
    bare.on_connect = lambda *said: found.connected.append(str(said[3]))
    bare.on_publish = lambda _c, _u, mid, code, _p: found.published.update({mid: str(code)})
    bare.on_subscribe = lambda _c, _u, _m, codes, _p: found.granted.extend(map(str, codes))
    bare.on_message = lambda _c, _u, message: found.heard.append(message.topic)
    bare.on_disconnect = lambda *said: found.ended.append(str(said[3]))
    if user is not None:
        bare.username_pw_set(user, USERS.get(user, "") if password is None else password)
    if will is not None:
        bare.will_set(will, pack(warm(99.0)), 1)
    bare.tls_set_context(ssl.create_default_context(cafile=str(shipped.authority.certificate)))
    bare.connect("127.0.0.1", shipped.port)
    bare.loop_start()
    try:
        until(lambda: bool(found.connected))
        yield found
    finally:
        bare.disconnect()
        bare.loop_stop()


@contextmanager
def service(address: BrokerAddress, bench: Bench) -> Iterator[Listener]:
    listener = Listener(address, SITE, bench.intake)
    listener.start()
    try:
        until(lambda: listener.healthy() is None)
        yield listener
    finally:
        listener.stop()


def test_nobody_comes_in_without_name_and_password_and_tls(shipped: Shipped) -> None:
    for user, password in (
        (None, None),
        ("", ""),
        ("lg-01", ""),
        ("lg-01", "guess"),
        ("lg-01", USERS["lg-02"]),
        ("slabhour", USERS["lg-01"]),
        ("lg-99", USERS["lg-01"]),
        ("%u", "x"),
        ("+", "x"),
    ):
        with client(shipped, user, password) as found:
            assert found.connected == [REFUSED], (user, password)
    # Without TLS nothing that is said is understood.
    with socket.create_connection(("127.0.0.1", shipped.port), timeout=20) as bare, suppress(ConnectionResetError):
        bare.sendall(connect("bare", "lg-01", USERS["lg-01"]))
        assert bare.recv(4)[:1] != b"\x20"
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.load_verify_locations(shipped.authority.certificate)
    # Debian's own floor is lowered, so that it is the broker that refuses.
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1_1"):
        old.minimum_version = old.maximum_version = ssl.TLSVersion.TLSv1_1
    with socket.create_connection(("127.0.0.1", shipped.port), timeout=20) as bare, pytest.raises(ssl.SSLError):
        old.wrap_socket(bare, server_hostname="127.0.0.1")


@pytest.mark.row("M7", "M19")
def test_a_logger_says_nothing_on_any_topic_but_its_own_and_hears_nothing(shipped: Shipped) -> None:
    foreign = [
        f"slabhour/{SITE}/{rest}"
        for rest in ("r/lg-01", "r/lg-02/x", "r/LG-02", "r/lg-02/../lg-01", "r", "canary", "verdict/2-b1", "weather")
    ]
    foreign += ["slabhour/r/lg-02", "r/lg-02", f"/slabhour/{SITE}/r/lg-02", "other", "$SYS/broker/clients"]
    with client(shipped, "slabhour") as own, client(shipped, "lg-02") as logger:
        own.mqtt.subscribe(f"slabhour/{SITE}/#", 1)
        wanted = ["#", "slabhour/#", TOPIC, f"slabhour/+/r/{'lg-02'}", "$SYS/#", "$share/all/slabhour/#", "+/+/+/+"]
        for topic in wanted:
            logger.mqtt.subscribe(topic, 1)
        until(lambda: len(logger.granted) == len(wanted) and bool(own.granted))
        assert {topic: logger.publish(topic) for topic in foreign} == dict.fromkeys(foreign, REFUSED)
        assert logger.publish(f"slabhour/{SITE}/r/lg-02") == "Success"
        assert own.publish(f"slabhour/{SITE}/verdict/2-b1") in {"Success", "No matching subscribers"}
        # The service hears its logger; by then the logger would have heard itself, and the verdict.
        until(lambda: f"slabhour/{SITE}/r/lg-02" in own.heard)
        assert logger.heard == []


def test_what_is_too_big_or_meant_for_whoever_comes_later_is_not_taken(shipped: Shipped) -> None:
    own = f"slabhour/{SITE}/r/lg-02"
    with client(shipped, "slabhour") as service_itself:
        service_itself.mqtt.subscribe(f"slabhour/{SITE}/r/#", 1)
        until(lambda: bool(service_itself.granted))
        for payload in (b"x" * 66_000, b"x" * 140_000):
            with client(shipped, "lg-02") as logger:
                assert logger.publish(own, payload) != "Success"
        with client(shipped, "lg-02") as logger:
            assert logger.publish(own, b"kept?", retain=True) != "Success"
        # A last will is a message like any other: it must be the logger's to say.
        with client(shipped, "lg-02", will=TOPIC) as dying:
            sock = dying.mqtt.socket()
            assert isinstance(sock, socket.socket)
            sock.shutdown(socket.SHUT_RDWR)
            until(lambda: bool(dying.ended))
        with client(shipped, "lg-01") as honest:
            assert honest.publish(TOPIC) == "Success"
        until(lambda: TOPIC in service_itself.heard)
        assert service_itself.heard == [TOPIC]
    with client(shipped, "slabhour") as later:
        later.mqtt.subscribe(f"slabhour/{SITE}/r/#", 1)
        until(lambda: bool(later.granted))
        with client(shipped, "lg-01") as honest:
            assert honest.publish(TOPIC) == "Success"
        until(lambda: bool(later.heard))
        assert later.heard == [TOPIC]


def test_whoever_has_a_logger_s_password_cannot_take_what_waits_for_the_service(
    shipped: Shipped, tmp_path: Path
) -> None:
    """Mosquitto gives a session to whoever says its name: the shipped broker cannot help, so the name is a secret."""
    bench, address = Bench(), named(shipped.address(), tmp_path, lasting=True)
    with service(address, bench):
        pass
    with client(shipped, "lg-01") as logger:
        assert {logger.publish(TOPIC, pack(warm(20.0, NOW - n * 60_000))) for n in range(5)} == {"Success"}
    for name in (f"slabhour-{SITE}-ingest", f"slabhour-{SITE}-ingest-", "slabhour", address.name_end):
        with client(shipped, "lg-02", name=name) as thief:
            assert thief.connected == ["Success"]
    with service(address, bench) as listener:
        until(lambda: len(bench.readings.stored) == 5)
        assert listener.counters().sessions_lost == 0


# paho leaves the socket of a handshake that failed to the collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.row("B9")
@pytest.mark.parametrize("wrong", ["foreign authority", "past its end", "another's name"])
def test_the_service_sends_its_password_to_no_broker_whose_certificate_is_not_right(
    shipped: Shipped, wrong: str
) -> None:
    address = {
        "foreign authority": shipped.address(ca_file=str(shipped.foreign.certificate)),
        "past its end": shipped.address(port=shipped.past_port),
        "another's name": shipped.address(host="localhost"),
    }[wrong]
    listener = Listener(address, SITE, Bench().intake)
    listener.start()
    try:
        until(lambda: "certificate" in (listener.healthy() or ""))
        assert listener.counters().connections == 0
    finally:
        listener.stop()


@pytest.mark.row("M6", "M7")
def test_bytes_of_no_sense_and_spoilt_packets_leave_broker_and_service_well(shipped: Shipped) -> None:
    bench, seed = Bench(), 20261128
    address = BrokerAddress("127.0.0.1", shipped.bare_port, "slabhour", USERS["slabhour"], name_end="-fuzzed")
    with service(address, bench) as listener:
        payload = pack(warm(18.0, NOW - 60_000))
        assert throw(shipped.bare_port, thrown(seed, TOPIC, payload, "lg-01", USERS["lg-01"])) == CONNECTIONS
        # At the port that speaks TLS, too.
        assert throw(shipped.port, thrown(seed + 1, TOPIC, payload, "lg-01", USERS["lg-01"])) == CONNECTIONS
        with client(shipped, "lg-01") as honest:
            assert honest.publish(TOPIC, pack(warm(20.0))) == "Success"
        until(lambda: 20_000 in bench.readings.values().values())
        assert (shipped.process.poll(), listener.healthy(), listener.counters().sessions_lost) == (None, None, 0)
