"""An open broker is found by trying it, with Debian's Mosquitto and the embedded one."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from threading import Thread

import pytest
from authority_support import Authority, authority_in
from ingest_support import TOPIC, Bench, pack, until, warm
from mqtt_support import MOSQUITTO, ScriptedBroker, free_port, listener_of
from paho.mqtt import publish
from store_support import make_setup
from tls_support import certificate_in

from deploy.bench.brokers import shipped_config
from deploy.broker_name import named
from deploy.broker_parts import broker_address
from deploy.check_broker import Looked, look_at_broker, outward_address, reachable, takes_anybody
from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from shared.clock import SystemClock
from shared.errors import SetupError
from shared.models.base import DAY_MS
from shared.models.setup import BrokerSettings, Setup

USERS = {"slabhour": "the-service-itself", "lg-01": "a-long-password-1"}
EVERYWHERE = "0.0.0.0"  # noqa: S104  an open broker is what is looked for
needs_mosquitto = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(
        MOSQUITTO is None or shutil.which("mosquitto_passwd") is None, reason="Debian's mosquitto is not installed"
    ),
]


def setup_of(folder: Path, **broker: object) -> Setup:
    plain = make_setup()
    site = plain.site.model_copy(update={"broker": BrokerSettings.model_validate(broker)})
    return replace(plain, site=site, folder=str(folder))


def looked_at(setup: Setup) -> Looked:
    return look_at_broker(setup, SystemClock().now())


@contextmanager
def mosquitto(config: Path, port: int, host: str = "127.0.0.1") -> Iterator[None]:
    with subprocess.Popen([str(MOSQUITTO), "-c", config], stderr=subprocess.DEVNULL) as broker:
        try:
            until(lambda: reachable(host, port) is None, 60)
            yield
        finally:
            broker.kill()


@pytest.mark.needs_mosquitto
@needs_mosquitto[1]
def test_a_broker_that_anybody_may_write_to_is_refused_unless_only_this_machine_reaches_it(tmp_path: Path) -> None:
    port, outward = free_port(), outward_address()
    config = tmp_path / "open.conf"
    for listens, host in (("127.0.0.1", "127.0.0.1"), (EVERYWHERE, "127.0.0.1"), (EVERYWHERE, outward)):
        if host is None or (listens == EVERYWHERE and outward is None):
            continue
        config.write_text(f"listener {port} {listens}\nallow_anonymous true\nuser root\n", encoding="utf-8")
        with mosquitto(config, port, host):
            found = looked_at(setup_of(tmp_path, kind="url", url=f"mqtt://{host}:{port}"))
        if listens == "127.0.0.1":
            assert (found.ok, "open to this machine alone" in found.found) == (True, True)
        else:
            assert (found.ok, found.found.startswith(f"{outward}:{port} takes readings from anybody")) == (False, True)
            assert "allow_anonymous false" in found.mend


@pytest.mark.needs_mosquitto
@needs_mosquitto[1]
def test_the_shipped_configuration_lets_the_service_in_and_nobody_else(tmp_path: Path) -> None:
    port = free_port()
    (tmp_path / "right").write_text(USERS["slabhour"], encoding="utf-8")
    (tmp_path / "wrong").write_text("no such password", encoding="utf-8")

    def looked(password_file: str) -> Looked:
        way_in = {"user": "slabhour", "password_file": password_file}
        return looked_at(setup_of(tmp_path, kind="url", url=f"mqtt://127.0.0.1:{port}", **way_in))

    with mosquitto(shipped_config(tmp_path, port, USERS), port):
        right, wrong = looked("right"), looked("wrong")
    assert right == Looked(True, f"127.0.0.1:{port} answers, the service is let in and nobody without a name")
    assert (wrong.ok, "does not let the service in, or soon will not; it says: Not authorized" in wrong.found) == (
        False,
        True,
    )
    assert "password_file" in wrong.mend
    gone = looked("right")
    assert (gone.ok, gone.mend) == (False, "start the broker, or correct [broker] url")


@pytest.mark.needs_mosquitto
@needs_mosquitto[1]
def test_who_may_connect_without_a_name_and_publish_nothing_is_no_open_broker_and_a_foreign_certificate_is_told(
    tmp_path: Path,
) -> None:
    port, outward = free_port(), outward_address()
    if outward is None:
        pytest.skip("this machine has no address but its own")
    (tmp_path / "acl").write_text("user slabhour\ntopic readwrite #\n", encoding="utf-8")
    (tmp_path / "acl").chmod(0o600)
    text = f"listener {port} 0.0.0.0\nallow_anonymous true\nacl_file {tmp_path / 'acl'}\nuser root\n"
    config = tmp_path / "acl.conf"
    config.write_text(text, encoding="utf-8")
    with mosquitto(config, port):
        assert looked_at(setup_of(tmp_path, kind="url", url=f"mqtt://{outward}:{port}")).ok
    cert, key = certificate_in(tmp_path)
    config.write_text(
        f"listener {port} 127.0.0.1\ncertfile {cert}\nkeyfile {key}\nallow_anonymous true\nuser root\n",
        encoding="utf-8",
    )
    with mosquitto(config, port):
        found = looked_at(setup_of(tmp_path, kind="url", url=f"mqtts://127.0.0.1:{port}"))
    assert (found.ok, "its certificate is not trusted" in found.found) == (False, True)


@pytest.mark.parametrize(
    ("connack", "said"), [(0, "open to this machine alone"), (5, "does not let the service in, or soon will not")]
)
def test_a_broker_that_knows_the_older_protocol_alone_is_judged_by_whom_it_lets_in(
    tmp_path: Path, connack: int, said: str
) -> None:
    with ScriptedBroker(connack=connack) as broker:
        assert said in looked_at(setup_of(tmp_path, kind="url", url=f"mqtt://127.0.0.1:{broker.port}")).found


def test_the_embedded_broker_is_of_this_machine_or_not_running(tmp_path: Path) -> None:
    port = free_port()
    setup = setup_of(tmp_path, kind="embedded", port=port)
    assert looked_at(setup) == Looked(True, f"embedded, not running now (127.0.0.1:{port})")
    with EmbeddedBroker(tmp_path, port):
        found = looked_at(setup)
    assert found == Looked(True, f"something answers: a running service, or another broker (127.0.0.1:{port})")


# paho leaves the socket of a handshake that failed to the collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.needs_mosquitto
@needs_mosquitto[1]
@pytest.mark.row("B9")
def test_a_broker_that_asks_for_certificates_lets_the_service_in_by_its_own_and_nobody_without(tmp_path: Path) -> None:
    authority, foreign, port = authority_in(tmp_path, "site"), authority_in(tmp_path, "foreign"), free_port()
    certificate, key = authority.signed("broker", 30)
    config = tmp_path / "asks.conf"
    tls = f"cafile {authority.certificate}\ncertfile {certificate}\nkeyfile {key}\nrequire_certificate true\n"
    config.write_text(
        f"listener {port} 127.0.0.1\n{tls}use_identity_as_username true\nallow_anonymous false\nuser root\n",
        encoding="utf-8",
    )

    def setup(of: Authority | None) -> Setup:
        files = {} if of is None else dict(zip(("cert_file", "key_file"), map(str, of.signed("service")), strict=True))
        return setup_of(tmp_path, kind="url", url=f"mqtts://127.0.0.1:{port}", ca_file="site.pem", **files)

    bench = Bench()
    with mosquitto(config, port):
        own, nobody, another = (looked_at(setup(of)) for of in (authority, None, foreign))
        soon = look_at_broker(setup(authority), SystemClock().now() + 10 * DAY_MS)
        where = named(broker_address(setup(authority)), tmp_path, lasting=True)
        assert where.name_end, "whoever has another certificate could take what waits"
        with listener_of(where, bench):
            shown = {"ca_certs": str(authority.certificate), "certfile": str(certificate), "keyfile": str(key)}
            publish.single(TOPIC, pack(warm(20.0)), 1, hostname="127.0.0.1", port=port, tls=shown)  # type: ignore[arg-type]
            until(lambda: len(bench.readings.stored) == 1)
    assert own == Looked(True, f"127.0.0.1:{port} answers, the service is let in and nobody without a name")
    assert (nobody.ok, "does it ask for a certificate (cert_file, key_file)?" in nobody.found) == (False, True)
    assert (another.ok, "does not let the service in" in another.found) == (False, True)
    assert "cert_file" in nobody.mend
    assert (soon.ok, "its certificate ends in 20 days" in soon.found) == (False, True)
    with pytest.raises(SetupError, match=r"broker\.cert_file.*no such file"):
        broker_address(setup_of(tmp_path, kind="url", url="mqtts://b", cert_file="absent", key_file="site.key"))


# paho leaves the socket of a handshake that failed to the collector.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_broker_that_ends_the_handshake_of_whoever_has_no_certificate_takes_nobody(tmp_path: Path) -> None:
    """As with TLS 1.2, where it is refused before anything is said."""
    authority = authority_in(tmp_path, "site")
    (certificate, key), (own, own_key) = authority.signed("broker"), authority.signed("service")
    asks = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    asks.load_cert_chain(certificate, key)
    asks.load_verify_locations(authority.certificate)
    asks.verify_mode, asks.maximum_version = ssl.CERT_REQUIRED, ssl.TLSVersion.TLSv1_2
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(30)

        def refuse() -> None:
            for _ in range(2):
                with server.accept()[0] as came, suppress(OSError):
                    came.settimeout(30)
                    asks.wrap_socket(came, server_side=True)

        refusing = Thread(target=refuse)
        refusing.start()
        plain = BrokerAddress("127.0.0.1", server.getsockname()[1], tls=True, ca_file=str(authority.certificate))
        try:
            assert not takes_anybody(replace(plain, cert_file=str(own), key_file=str(own_key)), None)
        finally:
            refusing.join()
