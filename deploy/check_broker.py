"""Whether a site's broker answers, lets the service in, and lets nobody else in: tried, not read in a configuration."""

from __future__ import annotations

import secrets
import socket
import ssl
import time
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from deploy.broker_parts import access_of, broker_address, filters_of, own_address
from ingest.address import BrokerAddress
from ingest.broker import server_binary
from shared.errors import SlabError
from shared.models.base import DAY_MS, Ms
from shared.models.setup import Setup

PATIENCE_S: Final = 5.0
TURN_S: Final = 0.1
ANYBODY: Final = "anybody"
"""Stands for a logger's name in what is tried to be published. A broker that takes it has let in a refused message."""
NOTHING: Final = b"[]"
ELSEWHERE: Final = ("192.0.2.1", 9)
"""An address that nobody has (RFC 5737): by which of its own this machine would go there. Nothing is sent."""
OPEN: Final = "takes readings from anybody who reaches it: warm readings could be made up"
SHUT: Final = "write allow_anonymous false, a password_file and an acl_file into the broker's configuration, as in "
MEND_OPEN: Final = f"{SHUT}deploy/mosquitto/slabhour.conf; slabhour init writes all of it"
RENEW_DAYS: Final = 21
LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})


class Looked(NamedTuple):
    """What was found: whether all is well, what, how to mend it."""

    ok: bool
    found: str
    mend: str = ""


@dataclass(slots=True)
class _Try:
    """How far one connection came."""

    connected: str | None = None
    """What the broker said to CONNECT."""
    let_in: bool = False
    taken: bool | None = None
    """Whether it took a message; None: it did not say."""
    ended: bool = False
    unknown: bool = False
    """Whether it does not know the version of the protocol."""


def reachable(host: str, port: int) -> str | None:
    """Return why nobody answers there, or None."""
    try:
        with socket.create_connection((host, port), PATIENCE_S):
            return None
    except OSError as error:
        return str(error)


def outward_address() -> str | None:
    """Return the address of this machine by which others reach it; None: it has no network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE)
        except OSError:
            return None
        address: str = probe.getsockname()[0]
        return address


def _tried(where: BrokerAddress, topic: str | None, protocol: MQTTProtocolVersion) -> _Try:
    """Connect, publish on `topic` if there is one, and go. Raises `OSError`."""
    found = _Try()
    name = f"slabhour-check-{secrets.token_hex(4)}"
    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=name, protocol=protocol)

    def connected(_client: mqtt.Client, _data: object, _flags: object, code: Any, _more: object) -> None:
        found.connected, found.let_in = str(code), not code.is_failure
        found.unknown = "nsupported protocol" in found.connected

    def published(_client: mqtt.Client, _data: object, _mid: int, code: Any, _more: object) -> None:
        found.taken = not code.is_failure

    def ended(*_: object) -> None:
        found.ended = True

    client.on_connect, client.on_publish, client.on_disconnect = connected, published, ended
    where.sign_in(client)
    client.connect(where.host, where.port, keepalive=15)
    end, asked = time.monotonic() + PATIENCE_S, False
    while time.monotonic() < end and not found.ended and found.taken is None:
        if found.connected is not None and (not found.let_in or topic is None):
            break
        if client.loop(TURN_S) != mqtt.MQTT_ERR_SUCCESS:
            found.ended = True
        if found.let_in and topic is not None and not asked:
            asked = client.publish(topic, NOTHING, qos=1).rc == mqtt.MQTT_ERR_SUCCESS
    client.disconnect()
    return found


def _bare(where: BrokerAddress, topic: str | None, protocol: MQTTProtocolVersion) -> _Try:
    """Connect as somebody who has neither name nor certificate. Raises `OSError`."""
    try:
        return _tried(where.nobody(), topic, protocol)
    except ssl.SSLCertVerificationError:
        raise
    except (ssl.SSLError, ConnectionError):
        # One that asks for a certificate hangs up on whoever has none.
        if where.cert_file is None:
            raise
        return _Try(ended=True)


def takes_anybody(where: BrokerAddress, topic: str | None) -> bool:
    """Return whether a broker lets in somebody without a name, and takes a message on `topic` from them.

    MQTT 5 says whether it took it. A broker that knows 3.1.1 alone does not: letting in counts then, as does silence.

    Args:
        where: the broker, whoever signs in there.
        topic: of a logger; None: letting in counts.

    Raises:
        OSError: nobody answers there, or not as whom the site trusts.
    """
    found = _bare(where, topic, mqtt.MQTTv5)
    if found.unknown or (found.ended and found.connected is None):
        found = _bare(where, None, mqtt.MQTTv311)
        return found.let_in
    if not found.let_in:
        return False
    return topic is None or (found.taken if found.taken is not None else not found.ended)


def _topic(filters: list[str]) -> str:
    return filters[0].replace("{logger}", ANYBODY).replace("{channel}", "0").replace("+", ANYBODY)


def _certificate(where: BrokerAddress, now: Ms) -> str | None:
    """Return what is wrong with the broker's certificate; None: nothing, or it has none. Raises `OSError`."""
    trusted = where.tls_context()
    if trusted is None:
        return None
    with (
        socket.create_connection((where.host, where.port), PATIENCE_S) as plain,
        trusted.wrap_socket(plain, server_hostname=where.host) as wrapped,
    ):
        ends_s = ssl.cert_time_to_seconds(str((wrapped.getpeercert() or {})["notAfter"]))
    left = (ends_s - now / 1000.0) / (DAY_MS / 1000.0)
    return None if left >= RENEW_DAYS else f"its certificate ends in {left:.0f} days: loggers will turn away then"


def _own_way_in(where: BrokerAddress, now: Ms) -> str | None:
    """Return why the service itself is not let in, or soon will not be; None: it is."""
    try:
        if (said := _certificate(where, now)) is not None:
            return said
        found = _tried(where, None, mqtt.MQTTv311)
    except ssl.SSLCertVerificationError as error:
        return f"its certificate is not trusted: {error.verify_message}"
    except (OSError, ValueError) as error:
        return str(error)
    if found.let_in:
        return None
    asks = "; does it ask for a certificate (cert_file, key_file)?" if where.tls and where.cert_file is None else ""
    return f"it says: {found.connected or f'nothing{asks}'}"


def _open(where: BrokerAddress, topic: str) -> Looked | None:
    """Return that a broker is open, to others or to this machine; None: it is not."""
    place = f"{where.host}:{where.port}"
    if where.host not in LOOPBACK:
        return Looked(False, f"{place} {OPEN}", MEND_OPEN) if takes_anybody(where, topic) else None
    outward = outward_address()
    if outward is not None and reachable(outward, where.port) is None:
        # Its certificate may be for another name than this address.
        outside = replace(where, host=outward, context=_unchecked() if where.tls or where.context else None)
        if takes_anybody(outside, topic):
            return Looked(False, f"{outward}:{where.port} {OPEN}", MEND_OPEN)
    if takes_anybody(where, None):
        return Looked(True, f"{place} answers, open to this machine alone: any program here may speak for a logger")
    return None


def _unchecked() -> ssl.SSLContext:
    """Return TLS with whoever it is: nothing of ours is said there, not even a name."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def _embedded(setup: Setup, wrong: str | None, place: str) -> Looked:
    try:
        server_binary()
    except SlabError as error:
        return Looked(False, str(error), "install slabhour again with its dependencies")
    if wrong:
        return Looked(True, f"embedded, not running now ({place})")
    said = f"something answers: a running service, or another broker ({place})"
    address = own_address(access_of(setup), setup.site.broker.port)
    try:
        found = _open(replace(address, host=broker_address(setup).host), _topic(filters_of(setup)))
    except (OSError, ValueError) as error:
        return Looked(True, f"{said}; who may speak there could not be tried: {error}")
    return found if found is not None and not found.ok else Looked(True, said)


def look_at_broker(setup: Setup, now: Ms) -> Looked:
    """Look at the site's broker: does it answer, the service too, and nobody else."""
    where = broker_address(setup)
    place = f"{where.host}:{where.port}"
    wrong = reachable(where.host, where.port)
    if setup.site.broker.kind == "embedded":
        return _embedded(setup, wrong, place)
    if wrong:
        return Looked(False, f"{place}: {wrong}", "start the broker, or correct [broker] url")
    if (refused := _own_way_in(where, now)) is not None:
        mend = "correct [broker] user, password_file, ca_file or cert_file, or renew the broker's own files"
        return Looked(False, f"{place} does not let the service in, or soon will not; {refused}", mend)
    try:
        found = _open(where, _topic(filters_of(setup)))
    except (OSError, ValueError) as error:
        return Looked(False, f"{place}: {error}", "start the broker, or correct [broker] url")
    return found or Looked(True, f"{place} answers, the service is let in and nobody without a name")
