"""The two brokers that we ship, on loopback for measuring: Mosquitto as we configure it, and the embedded one."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from shared.errors import BrokerError

SHIPPED: Final = Path(__file__).parents[1] / "mosquitto"
LOOPBACK: Final = "127.0.0.1"
SERVICE: Final = "slabhour"
PATIENCE_S: Final = 15.0


@dataclass(frozen=True, slots=True)
class Reached:
    """A running broker."""

    name: str
    port: int
    passwords: Mapping[str, str]
    """Of everybody who signs in; none: nobody does."""
    pid: int

    @property
    def address(self) -> BrokerAddress:
        """Where the service reaches it."""
        if not self.passwords:
            return BrokerAddress(LOOPBACK, self.port)
        return BrokerAddress(LOOPBACK, self.port, SERVICE, self.passwords[SERVICE])


def free_port() -> int:
    """Return a loopback port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port: int = probe.getsockname()[1]
        return port


def syncs_a_second(folder: Path, seconds: float = 1.0) -> float:
    """Return how often a second the folder's disk syncs one small write after the other.

    The embedded broker needs one a message, one after the other: this is the most that any disk lets it take.
    """
    count, begun = 0, time.monotonic()
    with (folder / "sync").open("wb", buffering=0) as file:
        while time.monotonic() < begun + seconds:
            file.write(b"\0" * 200)
            os.fsync(file.fileno())
            count += 1
    return count / (time.monotonic() - begun)


def mosquitto_program(name: str = "mosquitto") -> str:
    """Return the program. Debian keeps the broker where only root looks. Raises `BrokerError`."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin")
    if found is None:
        raise BrokerError(f"{name} is not installed: apt-get install mosquitto")
    return found


def shipped_config(folder: Path, port: int, passwords: Mapping[str, str], data: Path | None = None) -> Path:
    """Write the shipped configuration with the places of this folder, on loopback without TLS; return the file.

    Args:
        folder: where configuration, passwords and, by default, data are put.
        port: to listen at.
        passwords: of everybody who signs in.
        data: where the broker keeps its file; None: a folder in `folder`.
    """
    file, data = folder / "passwd", folder / "data" if data is None else data
    data.mkdir(exist_ok=True)
    file.touch(mode=0o600)
    file.write_text("".join(f"{user}:{password}\n" for user, password in passwords.items()), encoding="utf-8")
    subprocess.run([mosquitto_program("mosquitto_passwd"), "-U", file], check=True, capture_output=True)  # noqa: S603
    text = (SHIPPED / "slabhour.conf").read_text(encoding="utf-8")
    for shipped, ours in (
        ("listener 8883", f"listener {port} {LOOPBACK}"),
        ("certfile /etc/mosquitto/certs/site.pem\n", ""),
        ("keyfile /etc/mosquitto/certs/site.key\n", ""),
        ("tls_version tlsv1.2\n", ""),
        ("/etc/mosquitto/slabhour.passwd\nacl_file", f"{file}\nacl_file"),
        ("/etc/mosquitto/conf.d/acl.conf\n", f"{SHIPPED / 'acl.conf'}\n"),
        ("persistence_location /var/lib/mosquitto/", f"persistence_location {data}/\nuser root"),
    ):
        if text.count(shipped) != 1:
            raise BrokerError(f"deploy/mosquitto/slabhour.conf does not hold this once: {shipped!r}")
        text = text.replace(shipped, ours)
    path = folder / "mosquitto.conf"
    path.write_text(text, encoding="utf-8")
    return path


@contextmanager
def mosquitto(folder: Path, loggers: list[str]) -> Iterator[Reached]:
    """Run Mosquitto as shipped, with a user for the service and for each logger."""
    port = free_port()
    passwords = {user: f"a-long-password-of-{user}" for user in (SERVICE, *loggers)}
    config = shipped_config(folder, port, passwords)
    command = [mosquitto_program(), "-c", str(config)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as broker:  # noqa: S603
        try:
            _wait(port)
            yield Reached("mosquitto", port, passwords, broker.pid)
        finally:
            broker.terminate()


@contextmanager
def embedded(folder: Path, _loggers: list[str]) -> Iterator[Reached]:
    """Run the embedded broker as a site gets it that says nothing about it."""
    with EmbeddedBroker(folder, free_port()) as broker:
        if broker.pid is None:
            raise BrokerError("the embedded broker has no process")
        yield Reached("embedded", broker.port, {}, broker.pid)


BROKERS: Final = {"mosquitto": mosquitto, "embedded": embedded}


def _wait(port: int) -> None:
    end, pause = time.monotonic() + PATIENCE_S, threading.Event()
    while time.monotonic() < end:
        with suppress(OSError), socket.create_connection((LOOPBACK, port), 1.0):
            return
        pause.wait(0.02)
    raise BrokerError(f"nothing listens at port {port} after {PATIENCE_S:.0f} s")
