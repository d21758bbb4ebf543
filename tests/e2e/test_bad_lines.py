"""The line between service and broker is cut and heals, loses, delays and breaks: what was sent is all stored."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event

import pytest
from bad_line import FAR, Cable, Relay, cable
from ingest_support import EDGE, NOW, SITE, TOPIC, Bench, pack, until, warm
from listener_process import rows
from mqtt_support import MOSQUITTO, free_port, send
from scale import SCALE

from deploy.bench.brokers import shipped_config
from ingest.address import BrokerAddress
from ingest.broker import EmbeddedBroker
from ingest.listener import Listener

SUPPORT = Path(__file__).parents[1] / "support"
WORDS = {"slabhour": "the-service-itself", "lg-01": "a-long-password-1"}
SEED = random.SystemRandom().randrange(10**9)
ENVIRONMENT = {**os.environ, "PYTHONPATH": f"{SUPPORT}:{SUPPORT.parents[1]}"}
BATCH = round(100 * SCALE)


@contextmanager
def started(command: list[str | Path]) -> Iterator[subprocess.Popen[bytes]]:
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL, env=ENVIRONMENT) as process:
        try:
            yield process
        finally:
            process.kill()


class Yard:
    """A broker and a logger at one end of the cable, the listener at the other."""

    def __init__(self, line: Cable, port: int, file: Path) -> None:
        self._line, self._port, self._file = line, port, file

    def say(self, first: int, count: int) -> bool:
        """Send readings at the broker's end; return whether a broker has acknowledged them all."""
        words = [FAR, str(self._port), "lg-01", WORDS["lg-01"], str(first), str(count)]
        command = self._line.inside(self._line.far, sys.executable, SUPPORT / "burst_process.py", *words)
        ran = subprocess.run(command, env=ENVIRONMENT, capture_output=True, timeout=120, check=False)
        return ran.returncode == 0

    def stored(self) -> set[int]:
        return {(NOW - row.taken_ms) // 1000 for row in rows(self._file) if row.sensor == EDGE}


@pytest.mark.row("R1", "R6")
@pytest.mark.needs_mosquitto
@pytest.mark.skipif(MOSQUITTO is None, reason="Debian's mosquitto is not installed")
def test_what_was_sent_while_the_cable_was_cut_is_stored_when_it_heals(tmp_path: Path) -> None:
    port, file = free_port(), tmp_path / "rows.jsonl"
    config = shipped_config(tmp_path, port, WORDS)
    text = config.read_text(encoding="utf-8")
    config.write_text(text.replace(f"listener {port} 127.0.0.1", f"listener {port} {FAR}"), encoding="utf-8")
    with cable() as line, started(line.inside(line.far, str(MOSQUITTO), "-c", config)):
        yard = Yard(line, port, file)
        own = (f"{FAR}:{port}", str(file), "slabhour", WORDS["slabhour"])
        listener = line.inside(line.near, sys.executable, SUPPORT / "listener_process.py", *own)
        with started(listener):
            # From the first that is stored on the broker keeps for the service what it takes.
            until(lambda: yard.say(0, 1) and bool(yard.stored()), 120)
            line.cut()
            assert yard.say(1, BATCH)
            Event().wait(2)
            assert yard.stored() == {0}, "it came through a cable that is cut"
            line.heal()
            until(lambda: yard.stored() == set(range(BATCH + 1)), 180)
            print("30 % of packets are lost" if line.lose(30) else "this kernel loses no packets: see the relay")
            assert yard.say(BATCH + 1, BATCH)
            until(lambda: yard.stored() == set(range(2 * BATCH + 1)), 180)


@pytest.mark.row("R6", "N3", "N4")
def test_over_a_line_that_holds_back_and_breaks_every_reading_is_stored_once(tmp_path: Path) -> None:
    print(f"seed {SEED}")
    bench, port = Bench(), free_port()
    with EmbeddedBroker(tmp_path, port, ack_wait_s=1), Relay(port, random.Random(SEED), at_most=6_000) as relay:
        listener = Listener(BrokerAddress("127.0.0.1", relay.port), SITE, bench.intake, roll=lambda: -0.99)
        listener.start()
        try:
            until(lambda: listener.healthy() is None, 60)
            hours = [NOW - n * 1000 for n in range(2 * BATCH)]
            for first in range(0, len(hours), 20):
                send(port, [pack(warm(20.0, hour)) for hour in hours[first : first + 20]], TOPIC)
            until(lambda: len(bench.readings.stored) == len(hours), 120)
        finally:
            listener.stop()
    assert sorted(bench.readings.stored) == sorted((EDGE, hour) for hour in hours)
    assert bench.book.refused() == []
    assert relay.cuts >= 3, "the line was too good to say anything"
