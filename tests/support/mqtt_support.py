"""MQTT at the other end of the wire: a scripted broker that shows every byte, and a bare publisher."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from threading import Thread
from types import TracebackType
from typing import Final, Self

from ingest_support import SITE, TOPIC, Bench, until
from paho.mqtt import publish
from ports_support import free_port

from ingest.address import BrokerAddress
from ingest.listener import Listener

__all__ = ["MOSQUITTO", "ScriptedBroker", "free_port", "listener_of", "listening", "send"]

MOSQUITTO: Final = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")
"""Debian keeps it where only root looks."""
PUBLISH: Final = 0x32
"""QoS 1."""


@contextmanager
def listener_of(address: BrokerAddress, bench: Bench) -> Iterator[Listener]:
    """Run a listener that feeds a bench's intake, from when its broker is connected on."""
    listener = Listener(address, SITE, bench.intake)
    listener.start()
    try:
        until(lambda: listener.healthy() is None)
        yield listener
    finally:
        listener.stop()


def listening(port: int) -> bool:
    """Return whether somebody takes connections on a loopback port."""
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def send(port: int, payloads: Iterable[bytes], topic: str = TOPIC) -> None:
    """Publish at QoS 1 and return when the broker has acknowledged every message."""
    publish.multiple([(topic, payload, 1, False) for payload in payloads], hostname="127.0.0.1", port=port)


class ScriptedBroker:
    """Says yes to CONNECT and SUBSCRIBE unless told otherwise; sends only what the test sends."""

    def __init__(self, *, connack: int = 0, suback: int = 1, session_present: bool = True) -> None:
        self.connack = connack
        self.suback = suback
        self.session_present = session_present
        self.mute = False
        """Takes what comes and answers nothing, as a peer that is gone without a word."""
        self.subscribed = 0
        self.pubacks: list[tuple[int, int]] = []
        """(number of the connection, packet id)."""
        self._connections: list[socket.socket] = []
        self._server = socket.create_server(("127.0.0.1", 0))
        self._threads = [Thread(target=self._accept)]

    @property
    def port(self) -> int:
        """Where it listens."""
        port: int = self._server.getsockname()[1]
        return port

    @property
    def connections(self) -> int:
        """How many it has accepted."""
        return len(self._connections)

    def __enter__(self) -> Self:
        self._threads[0].start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        for connection in self._connections:
            _hang_up(connection)
        for thread in self._threads:
            thread.join()
        for connection in self._connections:
            connection.close()

    def publish(
        self, mid: int, payload: bytes, topic: bytes = TOPIC.encode(), *, copy: bool = False, qos: int = 1
    ) -> None:
        """Send one message on the newest connection."""
        body = len(topic).to_bytes(2) + topic + (mid.to_bytes(2) if qos else b"") + payload
        assert len(body) < 16_384
        length = bytes([len(body)]) if len(body) < 128 else bytes([len(body) % 128 + 128, len(body) // 128])
        self._connections[-1].sendall(bytes([PUBLISH & ~(0 if qos else 2) | (0x08 if copy else 0)]) + length + body)

    def hang_up(self) -> None:
        """Cut the newest connection."""
        _hang_up(self._connections[-1])

    def _accept(self) -> None:
        while True:
            try:
                connection, _ = self._server.accept()
            except OSError:
                return
            self._connections.append(connection)
            thread = Thread(target=self._serve, args=(len(self._connections), connection))
            self._threads.append(thread)
            thread.start()

    def _serve(self, number: int, connection: socket.socket) -> None:
        try:
            with connection.makefile("rb") as stream:
                while header := stream.read(1):
                    length = stream.read(1)[0]
                    if length >= 128:
                        length += (stream.read(1)[0] - 1) * 128
                    self._answer(number, connection, header[0] >> 4, stream.read(length))
        except (OSError, IndexError):
            return

    def _answer(self, number: int, connection: socket.socket, kind: int, body: bytes) -> None:
        if self.mute:
            return
        if kind == 1:
            present = int(self.session_present and number > 1 and not self.connack)
            connection.sendall(bytes([0x20, 2, present, self.connack]))
        elif kind == 8:
            connection.sendall(b"\x90\x03" + body[:2] + bytes([self.suback]))
            self.subscribed = number
        elif kind == 4:
            self.pubacks.append((number, int.from_bytes(body[:2])))
        elif kind == 12:
            connection.sendall(b"\xd0\x00")


def _hang_up(connection: socket.socket) -> None:
    try:
        connection.shutdown(socket.SHUT_RDWR)
    except OSError:
        return
