"""What a stranger throws at a broker's port: bytes of no sense, and MQTT packets with something wrong in them."""

from __future__ import annotations

import random
import socket
from collections.abc import Iterator
from contextlib import suppress
from typing import Final

CONNECTIONS: Final = 150


def _text(said: str) -> bytes:
    return len(said.encode()).to_bytes(2) + said.encode()


def _packet(first: int, body: bytes) -> bytes:
    length, left = b"", len(body)
    while True:
        left, part = divmod(left, 128)
        length += bytes([part | (0x80 if left else 0)])
        if not left:
            return bytes([first]) + length + body


def connect(name: str, user: str = "", password: str = "") -> bytes:
    """Return a CONNECT of MQTT 3.1.1."""
    flags = 0x02 | (0xC0 if user else 0)
    said = _text(user) + _text(password) if user else b""
    return _packet(0x10, _text("MQTT") + bytes([4, flags, 0, 60]) + _text(name) + said)


def packets(topic: str, payload: bytes) -> list[bytes]:
    """Return one good packet of each kind that a client sends."""
    return [
        _packet(0x32, _text(topic) + b"\x00\x07" + payload),
        _packet(0x34, _text(topic) + b"\x00\x08" + payload),
        _packet(0x30, _text(topic) + payload),
        _packet(0x82, b"\x00\x09" + _text(topic) + b"\x01"),
        _packet(0xA2, b"\x00\x0a" + _text(topic)),
        _packet(0x40, b"\x00\x01"),
        _packet(0x62, b"\x00\x02"),
        _packet(0xC0, b""),
    ]


def mutated(chance: random.Random, packet: bytes) -> bytes:
    """Return a packet with some bytes changed, left out or put in, or its length wrong."""
    found = bytearray(packet)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(found) + 1)
        match chance.randrange(4):
            case 0:
                found[at : at + 1] = chance.randbytes(1)
            case 1:
                del found[at : at + chance.randint(1, 8)]
            case 2:
                found[at:at] = chance.randbytes(chance.randint(1, 64))
            case _:
                found[1:2] = chance.randbytes(chance.randint(1, 4))
        if not found:
            return chance.randbytes(3)
    return bytes(found)


def thrown(seed: int, topic: str, payload: bytes, user: str, password: str) -> Iterator[bytes]:
    """Yield what each connection sends: a third knows nothing, a third nearly signs in, a third has signed in."""
    chance = random.Random(seed)
    for number in range(CONNECTIONS):
        in_full = connect(f"fuzz-{number}", user, password)
        match number % 3:
            case 0:
                yield chance.randbytes(chance.choice([1, 2, 5, 64, 4096]))
            case 1:
                yield mutated(chance, in_full) + b"".join(packets(topic, payload))
            case _:
                some = chance.choices(packets(topic, payload), k=5)
                yield in_full + b"".join(mutated(chance, one) for one in some)


def throw(port: int, everything: Iterator[bytes]) -> int:
    """Send each on a connection of its own, and hang up half of them rudely; return how many were taken at all."""
    taken = 0
    for number, said in enumerate(everything):
        with socket.create_connection(("127.0.0.1", port), timeout=10.0) as connection, suppress(OSError):
            connection.sendall(said)
            taken += 1
            if number % 2:
                connection.shutdown(socket.SHUT_WR)
                connection.settimeout(0.05)
                connection.recv(4096)
    return taken
