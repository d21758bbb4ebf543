"""As little MQTT as measuring needs, so that what is measured is the broker: a publisher and a bare subscriber.

Both are processes of their own: `python -m deploy.bench.wire`, told by a line of JSON on standard input. Each says
`ready`, waits for a line, and answers with a line of JSON.
"""

from __future__ import annotations

import json
import selectors
import socket
import sys
import time
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from deploy.bench.brokers import LOOPBACK, SERVICE

KEEPALIVE_S: Final = 600
AT_ONCE: Final = 64
ACKNOWLEDGED: Final = 4
"""Bytes of a PUBACK."""


def text(said: str) -> bytes:
    """Return a string as MQTT writes it."""
    raw = said.encode()
    return len(raw).to_bytes(2, "big") + raw


def packet(kind: int, body: bytes) -> bytes:
    """Return a control packet."""
    length, left = bytearray(), len(body)
    while True:
        left, digit = divmod(left, 128)
        length.append(digit | (0x80 if left else 0))
        if not left:
            return bytes([kind]) + bytes(length) + body


def connected(port: int, name: str, password: str | None, *, clean: bool) -> socket.socket:
    """Return a connection that the broker has accepted. Raises `OSError`."""
    flags = (0x02 if clean else 0) | (0xC0 if password is not None else 0)
    body = text("MQTT") + bytes([4, flags]) + KEEPALIVE_S.to_bytes(2, "big") + text(f"bench-{name}")
    if password is not None:
        body += text(name) + text(password)
    connection = socket.create_connection((LOOPBACK, port), 30.0)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    connection.sendall(packet(0x10, body))
    answer = connection.recv(4)
    if answer[3:4] != b"\x00":
        raise ConnectionError(f"the broker refuses {name}: {answer!r}")
    return connection


def reading(site: str, logger: str, taken_ms: int, mid: int) -> bytes:
    """Return a PUBLISH at QoS 1 with one reading, whose hour comes first and has always as many digits."""
    said = b'[{"t":%d.%03d,"n":"%s.1","u":"Cel","v":20.5}]' % (*divmod(taken_ms, 1000), logger.encode())
    return packet(0x32, text(f"slabhour/{site}/r/{logger}") + mid.to_bytes(2, "big") + said)


def hour_in(payload: bytes) -> int:
    """Return the hour of a message of `reading`. [ms]"""
    return int(payload[6:16]) * 1000 + int(payload[17:20])


class Publisher:
    """Publishes messages `first`, `first + step` ... below `count`, message `n` with the hour `base_ms + n`."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        self._told = told
        self._loggers: list[str] = told["loggers"]
        self._window: int = told["window"]
        self._next: int = told["first"]
        self._sent_ns: npt.NDArray[np.int64] = np.zeros(told["count"], dtype=np.int64)
        self._links: dict[str, socket.socket] = {}
        self._flying: dict[str, int] = {}
        self.acknowledged = 0
        for n in range(self._next, len(self._loggers), told["step"]):
            name = self._loggers[n]
            self._links[name] = connected(told["port"], name, told["passwords"].get(name), clean=True)
            self._flying[name] = 0

    def run(self) -> dict[str, Any]:
        """Publish for so many seconds or until all are out, wait for what is not acknowledged yet; say what came."""
        begun, rate = time.monotonic(), self._told["rate"]
        end = begun + self._told["seconds"]
        mine = -(-(self._told["count"] - self._told["first"]) // self._told["step"])
        sent = 0
        with selectors.DefaultSelector() as ready:
            for name, link in self._links.items():
                ready.register(link, selectors.EVENT_READ, name)
            while sent < mine and (now := time.monotonic()) < end:
                due = mine if rate is None else min(mine, int((now - begun) * rate) + 1)
                fresh = self._send(due - sent)
                sent += fresh
                self._hear(ready, 0.0 if fresh else 0.001)
            while any(self._flying.values()) and time.monotonic() < end + self._told["patience_s"]:
                self._hear(ready, 0.05)
        if self._told["file"]:
            np.save(self._told["file"], self._sent_ns)
        return {"sent": sent, "acknowledged": self.acknowledged, "seconds": time.monotonic() - begun}

    def _send(self, most: int) -> int:
        """Send the next ones, until one's logger has its window full."""
        out: dict[str, list[bytes]] = {}
        step, base = self._told["step"], self._told["base_ms"]
        sent = 0
        while sent < min(most, AT_ONCE):
            name = self._loggers[self._next % len(self._loggers)]
            if self._flying[name] >= self._window:
                break
            self._flying[name] += 1
            mid = self._next // len(self._loggers) % 65_535 + 1
            out.setdefault(name, []).append(reading(self._told["site"], name, base + self._next, mid))
            self._sent_ns[self._next] = time.monotonic_ns()
            self._next += step
            sent += 1
        for name, packets in out.items():
            self._links[name].sendall(b"".join(packets))
        return sent

    def _hear(self, ready: selectors.BaseSelector, patience_s: float) -> None:
        for key, _ in ready.select(patience_s):
            name, link = key.data, self._links[key.data]
            heard = link.recv(1 << 16)
            if not heard:
                raise ConnectionError(f"the broker ended the connection of {name}")
            while len(heard) % ACKNOWLEDGED:
                heard += link.recv(ACKNOWLEDGED - len(heard) % ACKNOWLEDGED)
            self._flying[name] -= len(heard) // ACKNOWLEDGED
            self.acknowledged += len(heard) // ACKNOWLEDGED


class Subscriber:
    """Acknowledges at once and counts, in a session as the service's, which is forgotten at the end."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        self._told = told
        name = SERVICE
        self._link = connected(told["port"], name, told["passwords"].get(name), clean=False)
        filter_ = text(f"slabhour/{told['site']}/r/+") + b"\x01"
        self._link.sendall(packet(0x82, b"\x00\x01" + filter_))
        self._rest = b""
        self.count = 0

    def run(self) -> dict[str, Any]:
        """Take what comes until as many have come, or nothing has for a while; say how many, and how long it took."""
        self._link.settimeout(self._told["patience_s"])
        begun = last = time.monotonic()
        end = begun + self._told["seconds"]
        while self.count < self._told["count"] and last < end:
            try:
                heard = self._link.recv(1 << 18)
            except TimeoutError:
                break
            if not heard:
                raise ConnectionError("the broker ended the connection")
            answers = self._taken(self._rest + heard)
            if answers:
                self._link.sendall(answers)
            last = time.monotonic()
        self._link.close()
        # Else the broker goes on keeping messages for it.
        connected(self._told["port"], SERVICE, self._told["passwords"].get(SERVICE), clean=True).close()
        return {"received": self.count, "seconds": last - begun}

    def _taken(self, data: bytes) -> bytes:
        """Return the acknowledgements of all whole messages."""
        at, answers = 0, []
        while True:
            length, shift, body = 0, 0, at + 1
            while body < len(data):
                length |= (data[body] & 0x7F) << shift
                shift += 7
                body += 1
                if not data[body - 1] & 0x80:
                    break
            else:
                break
            if body + length > len(data):
                break
            if data[at] & 0xF0 == 0x30:
                topic = int.from_bytes(data[body : body + 2], "big")
                answers.append(b"\x40\x02" + data[body + 2 + topic : body + 4 + topic])
                self.count += 1
            at = body + length
        self._rest = data[at:]
        return b"".join(answers)


class Client:
    """The same by the library that the service uses, in its plain form: it acknowledges when the callback returns."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        self._told = told
        self._client = mqtt.Client(
            CallbackAPIVersion.VERSION2, client_id=f"bench-{SERVICE}", clean_session=False, protocol=mqtt.MQTTv311
        )
        if SERVICE in told["passwords"]:
            self._client.username_pw_set(SERVICE, told["passwords"][SERVICE])
        self._client.on_message = self._on_message
        self._client.connect(LOOPBACK, told["port"], KEEPALIVE_S)
        while not self._client.is_connected():
            self._client.loop(0.1)
        self._client.subscribe(f"slabhour/{told['site']}/r/+", 1)
        self.count = 0
        self._last = 0.0

    def _on_message(self, *_: Any) -> None:
        self.count += 1
        self._last = time.monotonic()

    def run(self) -> dict[str, Any]:
        """Take what comes; say how many, and how long it took."""
        begun = self._last = time.monotonic()
        end = begun + self._told["seconds"]
        while self.count < self._told["count"] and (now := time.monotonic()) < end:
            if now - self._last > self._told["patience_s"]:
                break
            self._client.loop(0.1)
        self._client.disconnect()
        connected(self._told["port"], SERVICE, self._told["passwords"].get(SERVICE), clean=True).close()
        return {"received": self.count, "seconds": self._last - begun}


ROLES: Final[dict[str, type[Publisher | Subscriber | Client]]] = {
    "publisher": Publisher,
    "subscriber": Subscriber,
    "client": Client,
}


def main() -> int:
    """Do what the first line says."""
    told = json.loads(sys.stdin.readline())
    worker = ROLES[told["role"]](told)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    if sys.stdin.readline():
        try:
            done = worker.run()
        except OSError as error:
            done = {"failed": f"{told['role']}: {error}"}
        sys.stdout.write(json.dumps(done) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
