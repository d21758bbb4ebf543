"""A line between two machines that is bad: a relay that delays and cuts, and two network namespaces with a cable."""

from __future__ import annotations

import os
import random
import select
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread
from types import TracebackType
from typing import Final, Self

import pytest

IP: Final = "/usr/sbin/ip"
FAR, NEAR = "10.77.31.2", "10.77.31.1"


class Relay:
    """Passes bytes on, of each connection only so many; now and then it holds them back, as lost packets do."""

    def __init__(
        self, port: int, dice: random.Random, *, at_most: int, held: float = 0.3, longest_s: float = 0.2
    ) -> None:
        """`at_most`: bytes of a connection before it is cut, or half as many; `held`: how often it waits."""
        self.cuts = 0
        self._port, self._dice, self._at_most, self._held, self._longest_s = port, dice, at_most, held, longest_s
        self._over = Event()
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(0.2)
        self._thread = Thread(target=self._accept)

    @property
    def port(self) -> int:
        """Where it listens."""
        port: int = self._server.getsockname()[1]
        return port

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._over.set()
        self._thread.join()
        self._server.close()

    def _accept(self) -> None:
        threads = []
        while not self._over.is_set():
            with suppress(TimeoutError):
                near, _ = self._server.accept()
                threads.append(Thread(target=self._pass, args=(near,)))
                threads[-1].start()
        for thread in threads:
            thread.join()

    def _pass(self, near: socket.socket) -> None:
        # Longer and longer: else a machine that is slow to acknowledge gets the same messages again for ever.
        left = self._dice.randrange(self._at_most // 2, self._at_most) * (1 + self.cuts // 3)
        with near, socket.create_connection(("127.0.0.1", self._port)) as far:
            while not self._over.is_set():
                for source in select.select([near, far], [], [], 0.2)[0]:
                    some = source.recv(4096)
                    if self._dice.random() < self._held:
                        self._over.wait(self._dice.uniform(0.0, self._longest_s))
                    with suppress(OSError):
                        (far if source is near else near).sendall(some[:left] if left < len(some) else some)
                    left -= len(some)
                    if not some or left < 0:
                        self.cuts += left < 0
                        return


@dataclass(frozen=True)
class Cable:
    """Two namespaces, near and far, that see nothing but each other."""

    near: str
    far: str

    def inside(self, where: str, *command: str | Path) -> list[str | Path]:
        """Return a command that runs in a namespace."""
        return [IP, "netns", "exec", where, *command]

    def cut(self) -> None:
        """Nothing goes through any more, and nobody is told."""
        _ip("-n", self.far, "link", "set", "slab1", "down")

    def heal(self) -> None:
        """Everything goes through again."""
        _ip("-n", self.far, "link", "set", "slab1", "up")

    def lose(self, percent: int) -> bool:
        """Lose so many packets from here on; return False where the kernel does not know how."""
        return _tc(self.near, "slab0", percent) and _tc(self.far, "slab1", percent)


def _ip(*words: str) -> None:
    subprocess.run([IP, *words], check=True, capture_output=True)


def _tc(where: str, link: str, percent: int) -> bool:
    command = [IP, "netns", "exec", where, "tc", "qdisc", "add", "dev", link, "root", "netem", "loss", f"{percent}%"]
    return subprocess.run(command, check=False, capture_output=True).returncode == 0


@contextmanager
def cable() -> Iterator[Cable]:
    """Lend two namespaces; skip where nobody may make them."""
    made = Cable(f"slab-near-{os.getpid()}", f"slab-far-{os.getpid()}")
    with _namespace(made.near), _namespace(made.far):
        _ip("-n", made.near, "link", "add", "slab0", "type", "veth", "peer", "name", "slab1", "netns", made.far)
        for where, link, address in ((made.near, "slab0", NEAR), (made.far, "slab1", FAR)):
            _ip("-n", where, "address", "add", f"{address}/30", "dev", link)
            _ip("-n", where, "link", "set", link, "up")
            _ip("-n", where, "link", "set", "lo", "up")
        yield made


@contextmanager
def _namespace(name: str) -> Iterator[None]:
    if not Path(IP).exists() or subprocess.run([IP, "netns", "add", name], capture_output=True, check=False).returncode:
        pytest.skip("only one who may make network namespaces can cut them apart")
    try:
        yield
    finally:
        _ip("netns", "delete", name)
