"""The listener killed twenty times and the broker ten times, in any order: half on Mosquitto as shipped, half embedded.

What the broker has acknowledged is stored, or refused with a reason, or its number is in a gap that has a name.
`FAULT_SCALE=5` kills five times as often.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from typing import Final

import pytest
from buffered_logger import Buffered
from ingest_support import EDGE, NOW, TOPIC, Bench, pack, until, warm
from listener_process import notes, notes_of, rows
from mqtt_support import MOSQUITTO, free_port, listener_of, listening
from scale import SCALE

from deploy.bench.brokers import shipped_config
from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from shared.models.base import LoggerId, Ms
from shared.models.readings import Heard
from shared.sequence import Followed, followed

LISTENER_KILLS: Final = round(10 * SCALE)
BROKER_KILLS: Final = round(5 * SCALE)
"""Of each kind of broker."""
SEED: Final = random.SystemRandom().randrange(10**9)
SUPPORT: Final = Path(__file__).parents[1] / "support"
LOGGER: Final = LoggerId("lg-01")
WORDS: Final = {"slabhour": "the-service-itself", LOGGER: "a-long-password-1"}
BAD_EVERY: Final = 17
"""Each so many messages one is hotter than any concrete: it must be refused, and not be lost."""


@dataclass
class Place:
    """A broker that is killed and started again at the same port, on the same data."""

    port: int
    start: Callable[[ExitStack], int]
    """Start it, to be ended with the stack; return its process id."""
    users: dict[str, str] = field(default_factory=dict)
    _stack: ExitStack = field(default_factory=ExitStack)
    pid: int = 0

    def up(self) -> None:
        self.pid = self.start(self._stack)
        until(lambda: listening(self.port), 60)

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)
        self.close()

    def close(self) -> None:
        self._stack.close()
        self._stack = ExitStack()


@contextmanager
def mosquitto(folder: Path) -> Iterator[Place]:
    if MOSQUITTO is None:
        pytest.skip("Debian's mosquitto is not installed")
    port = free_port()
    config = shipped_config(folder, port, WORDS)

    def start(stack: ExitStack) -> int:
        broker = subprocess.Popen([str(MOSQUITTO), "-c", config], stderr=subprocess.DEVNULL)
        stack.callback(broker.wait)
        stack.callback(broker.kill)
        return broker.pid

    yield Place(port, start, WORDS)


@contextmanager
def embedded(folder: Path) -> Iterator[Place]:
    port = free_port()

    def start(stack: ExitStack) -> int:
        broker = stack.enter_context(EmbeddedBroker(folder, port, ack_wait_s=1))
        assert broker.pid is not None
        return broker.pid

    yield Place(port, start)


def taken_ms(n: int) -> Ms:
    return NOW - n * 1000


def message(n: int) -> bytes:
    celsius = 95.0 if n % BAD_EVERY == 5 else 20.0 + n % 40 / 10
    return pack(warm(celsius, taken_ms(n)), {"n": f"{LOGGER}.seq", "v": n}, {"n": f"{LOGGER}.boot", "vs": "a"})


@dataclass
class Killed:
    """The listener's process, started again after each kill."""

    place: Place
    file: Path
    child: subprocess.Popen[bytes] | None = None

    def up(self) -> None:
        words = ["slabhour", self.place.users["slabhour"]] if self.place.users else []
        self.child = subprocess.Popen(
            [sys.executable, SUPPORT / "listener_process.py", str(self.place.port), self.file, *words],
            stdin=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": f"{SUPPORT}:{SUPPORT.parents[1]}"},
        )

    def kill(self) -> None:
        if self.child is not None:
            self.child.kill()
            self.child.wait(10)
            assert self.child.stdin is not None
            self.child.stdin.close()
            self.child = None

    def stored(self) -> int:
        return self.file.read_bytes().count(b"]\n") if self.file.exists() else 0


def gaps(file: Path) -> Followed | None:
    """Follow the numbers as the site book does."""
    kept = None
    for said in notes(notes_of(file)):
        if "sequence" in said:
            kept = followed(kept, Heard(LoggerId(said["logger"]), 0, said["boot"], said["sequence"]))
    return kept


def storm(place: Place, listener: Killed, logger: Buffered, dice: random.Random) -> None:
    kills = ["listener"] * LISTENER_KILLS + ["broker"] * BROKER_KILLS
    dice.shuffle(kills)
    for whom in kills:
        # In the middle of something: some are stored since the last kill, others are on their way.
        before = listener.stored()
        until(lambda before=before: listener.stored() > before, 180)  # type: ignore[misc]
        Event().wait(dice.uniform(0.0, 0.2))
        victim = listener if whom == "listener" else place
        victim.kill()
        victim.up()


@pytest.mark.long
@pytest.mark.row("N3", "B1", "B2")
@pytest.mark.parametrize("kind", [pytest.param("mosquitto", marks=pytest.mark.needs_mosquitto), "embedded"])
def test_what_a_broker_acknowledged_is_stored_or_refused_or_missed_by_name(kind: str, tmp_path: Path) -> None:
    print(f"seed {SEED}")
    begun, file = time.monotonic(), tmp_path / "rows.jsonl"
    with {"mosquitto": mosquitto, "embedded": embedded}[kind](tmp_path) as place:
        place.up()
        own = BrokerAddress("127.0.0.1", place.port, *(("slabhour", WORDS["slabhour"]) if place.users else ()))
        # The session must exist before the first reading: only then does the broker keep them for us.
        with listener_of(own, Bench()):
            pass
        user = (LOGGER, place.users[LOGGER]) if place.users else None
        listener, logger = Killed(place, file), Buffered(place.port, lambda n: (TOPIC, message(n)), user=user)
        listener.up()
        try:
            storm(place, listener, logger, random.Random(SEED))
            sent = logger.stop()
            settled(listener, file, sent)
        finally:
            logger.end()
            listener.kill()
            place.close()
    judge(file, sent, logger.acknowledged, kind)
    print(f"{kind}: {sent} messages in {time.monotonic() - begun:.0f} s, gaps: {gaps(file)}")


def settled(listener: Killed, file: Path, sent: int) -> None:
    """Wait until nothing more comes for longer than the embedded broker waits before it sends again.

    As long as the last number has not come, for longer than a listener needs to start and to connect on a busy machine.
    """
    seen, since = -1, time.monotonic()
    while time.monotonic() - since < (3.0 if all_heard(file, sent) else 30.0):
        if listener.stored() != seen:
            seen, since = listener.stored(), time.monotonic()
        Event().wait(0.5)


def all_heard(file: Path, sent: int) -> bool:
    kept = gaps(file)
    return kept is not None and kept.newest == sent - 1


def judge(file: Path, sent: int, acknowledged: set[int], kind: str) -> None:
    assert acknowledged == set(range(sent))
    stored = {row.taken_ms for row in rows(file) if row.sensor == EDGE}
    refused = {said["refused"] for said in notes(notes_of(file)) if "refused" in said}
    lost = {
        n
        for n in range(sent)
        if (message(n).decode() not in refused if n % BAD_EVERY == 5 else taken_ms(n) not in stored)
    }
    kept = gaps(file)
    assert kept is not None
    named = {n for first, last in kept.missing for n in range(first, last + 1)}
    # The last numbers have nothing behind them that would show their absence.
    assert lost <= named | {n for n in lost if n > kept.newest}
    assert not {n for n in lost if n > kept.newest}
    if kind == "embedded":
        assert lost == set(), "the embedded broker has synced whatever it acknowledged"
