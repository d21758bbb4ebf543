"""Three that ingest, three that judge and two that tell, beside one `serve`, on Mosquitto, PostgreSQL and InfluxDB.

One of each kind is killed with -9 at random and started again, again and again: no reading is lost, every bay is
judged by the readings that are there, no message goes out twice unless its row says unsure. `FAULT_SCALE=10` kills ten
times as often.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from threading import Event, Thread
from typing import Final

import pytest
from aiosmtpd.controller import Controller
from influx_support import BUCKET, NEEDS_INFLUXDB, influx_running
from ingest_support import until
from mqtt_support import MOSQUITTO, free_port, listening
from paho.mqtt import publish
from postgresql_support import NEEDS_POSTGRESQL, postgresql
from readme_support import Postbox, told
from scale import SCALE

from deploy.cli import main
from shared.clock import SystemClock
from shared.models.acts import instant
from shared.models.base import STRIP, WALK, SensorId
from shared.models.decisions import GateState
from shared.models.messages import MessageKind
from shared.models.setup import Setup
from shared.ports import BoardRow
from shared.sitefile import load
from shared.store import read_board, read_readings, verify_log

SLABHOUR: Final = Path(sys.executable).with_name("slabhour")
CALIBRATION: Final = Path(__file__).parents[2] / "deploy" / "demo" / "calibrations" / "c32-f-v1.toml"
BAYS: Final = 6
PACKS: Final = 120
QUARTER_S: Final = 900
KILLS: Final = max(1, round(2 * SCALE))
"""Of each kind of worker."""
SEED: Final = random.SystemRandom().randrange(10**9)
TOPICS: Final = tuple(f"slabhour/yard/r/lg-{n:02}" for n in range(1, BAYS + 1))
POURS: Final = {f"1-b{n}-p1" for n in range(1, BAYS + 1)}
BODY: Final = '[{{"bn":"lg-0{n}.","bt":{t},"bu":"Cel","n":"1","v":17.5}},{{"n":"2","v":18}},{{"n":"3","v":12}}]'
KINDS: Final[dict[str, list[list[str]]]] = {
    "ingest": [[word for topic in TOPICS[n::3] for word in ("--topic", topic)] for n in range(3)],
    "cure": [[], [], []],
    "alerts": [[], []],
}
BAY: Final = """
[[bay]]
id = "1-b{n}"
floor = "1"
mix = "c32-f"
thickness_mm = 100
joist_spacing_mm = 1220
exclusions = "none"
construction_load_kpa = 1.0
sensors = [
  {{ id = "lg-0{n}.1", zone = "exposed edge", depth_mm = 50 }},
  {{ id = "lg-0{n}.2", zone = "last-placed end", depth_mm = 50 }},
  {{ id = "lg-0{n}.3", zone = "air" }},
]
"""
SITE: Final = """
[site]
id = "yard"
name = "Test Yard"
zone = "America/Halifax"
clock_sync = "not-checked"
shift = "00:00-23:59"

[plan]
use = "common-practice"
adopted_by = "engineer of record"
document = "release-criteria.pdf"
sign_offs = 1
second_check = false

[stores]
readings = {{ kind = "influxdb", url = "{influx}", bucket = "{bucket}" }}
book = {{ kind = "postgresql", dsn_file = "dsn" }}

[broker]
kind = "url"
url = "mqtt://127.0.0.1:{mqtt}"

[web]
port = 0

[[mix]]
id = "c32-f"
supplementary = false
calibration = "calibrations/c32-f-v1.toml"

[[recipient]]
id = "super"
role = "superintendent"
channels = [{{ kind = "email", to = "super@yard.example" }}]

[[recipient]]
id = "qc"
role = "qc"
channels = [{{ kind = "email", to = "qc@yard.example" }}]

[channel.email]
host = "127.0.0.1"
port = {smtp}
sender = "slabhour@yard.example"
"""


@dataclass
class Worker:
    """One process, killed and started again by whoever holds it."""

    words: list[str]
    log: Path
    process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        with self.log.open("ab") as log:
            self.process = subprocess.Popen([SLABHOUR, *self.words], stdout=log, stderr=log)

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


@contextmanager
def site(folder: Path, box: Postbox) -> Iterator[tuple[Path, int]]:
    """Lend a site file whose stores, broker and mail server run, and the broker's port."""
    mqtt, smtp = free_port(), free_port()
    with ExitStack() as stack:
        _, front = stack.enter_context(influx_running(folder / "influx"))
        server = stack.enter_context(postgresql())
        (folder / "dsn").write_text(server.dsn(server.made()), encoding="utf-8")
        broker = stack.enter_context(subprocess.Popen([str(MOSQUITTO), "-p", str(mqtt)], stderr=subprocess.DEVNULL))
        stack.callback(broker.kill)
        until(lambda: listening(mqtt), 30)
        mail = Controller(box, hostname="127.0.0.1", port=smtp)
        mail.start()
        stack.callback(mail.stop)
        (folder / "calibrations").mkdir()
        (folder / "calibrations" / CALIBRATION.name).write_bytes(CALIBRATION.read_bytes())
        text = SITE.format(influx=front.url, bucket=BUCKET, mqtt=mqtt, smtp=smtp)
        bays = "".join(BAY.format(n=n) for n in range(1, BAYS + 1))
        (folder / "site.toml").write_text(text + bays, encoding="utf-8")
        yield folder / "site.toml", mqtt


@contextmanager
def working(site_file: Path) -> Iterator[dict[str, list[Worker]]]:
    """Lend a service that leaves everything to its workers, and them."""
    folder = site_file.parent
    away = [word for kind in KINDS for word in ("--elsewhere", kind)]
    serve = Worker(["serve", "--site", str(site_file), *away], folder / "serve.log")
    workers = {
        kind: [Worker([kind, "--site", str(site_file), *more], folder / f"{kind}-{n}.log") for n, more in enumerate(of)]
        for kind, of in KINDS.items()
    }
    every = [one for of in workers.values() for one in of]
    try:
        serve.start()
        until((folder / "var" / "control.sock").exists, 120)
        for one in every:
            one.start()
        yield workers
    finally:
        for one in (*every, serve):
            one.kill()


def command(site_file: Path, *words: str) -> None:
    """Hand an act to the service; in this process, because to start another takes longer than the act."""
    assert main([*words, "--site", str(site_file), "--who", "super"]) == 0


def send(port: int, topic: str, packs: list[str]) -> None:
    """Publish at QoS 1; return when the broker has acknowledged each."""
    publish.multiple([(topic, pack, 1, False) for pack in packs], hostname="127.0.0.1", port=port)


def now_and_then(condition: Callable[[], bool], seconds: float) -> None:
    """Wait for what takes long to ask: asked without end it would take the processor from those who bring it about."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen in time"
        Event().wait(2.0)


@contextmanager
def killing(rng: random.Random, *kinds: list[Worker]) -> Iterator[None]:
    """Meanwhile kill one of each kind at random, `KILLS` times, and start it again."""

    def kill() -> None:
        for _ in range(KILLS):
            for of in kinds:
                Event().wait(rng.uniform(0.2, 2.0))
                one = rng.choice(of)
                one.kill()
                one.start()

    killer = Thread(target=kill)
    killer.start()
    try:
        yield
    finally:
        killer.join()


def open_rows(setup: Setup, folder: Path) -> dict[str, BoardRow]:
    with read_board(setup, folder) as board:
        return {row.pour.bay: row for row in board.board()}


def numbers(setup: Setup, folder: Path, sensor: str) -> int:
    with closing(read_readings(setup, folder)) as readings:
        return len(readings.between(SensorId(sensor), 0, SystemClock().now()))


pytestmark = [
    pytest.mark.long,
    *NEEDS_POSTGRESQL,
    *NEEDS_INFLUXDB,
    pytest.mark.skipif(MOSQUITTO is None, reason="Debian's mosquitto is not installed"),
]


def test_workers_that_are_killed_lose_nothing_and_tell_nothing_twice(tmp_path: Path) -> None:
    rng, box, data = random.Random(SEED), Postbox(), tmp_path / "var"
    print(f"seed {SEED}, {KILLS} kills of each kind")
    now = SystemClock().now() // 1000
    with site(tmp_path, box) as (site_file, mqtt), working(site_file) as workers:
        setup = load(site_file)
        for n in range(1, BAYS + 1):
            ended = instant((now - PACKS * QUARTER_S) * 1000)
            command(site_file, "pour", "start", f"1-b{n}", f"1-b{n}-p1", "--happened", str(ended - timedelta(hours=2)))
            command(site_file, "pour", "end", f"1-b{n}-p1", "--happened", str(ended))
        # Sent when all listen: what nobody has ever asked the broker for it does not keep.
        until(lambda: all("works for" in one.log.read_text() for of in workers.values() for one in of), 120)
        sensors = [f"lg-0{n}.{k}" for n in range(1, BAYS + 1) for k in (1, 2, 3)]
        with killing(rng, workers["ingest"], workers["cure"]):
            for index, topic in enumerate(TOPICS, 1):
                hours = [now - (PACKS - i) * QUARTER_S for i in range(PACKS)]
                send(mqtt, topic, [BODY.format(n=index, t=t) for t in hours])
            now_and_then(lambda: all(numbers(setup, data, s) == PACKS for s in sensors), 240)
        now_and_then(lambda: all(_met(row) for row in open_rows(setup, data).values()), 300)
        with killing(rng, workers["alerts"]):
            for n in range(1, BAYS + 1):
                command(site_file, "stop", f"1-b{n}-p1", "said while those who tell are killed")
        now_and_then(lambda: _all_told_to_keep_off(setup, data), 240)
        verify_log(setup, data)
        with read_board(setup, data) as board:
            assert not board.refused()
            unsure = {(d.message, str(d.recipient)) for d in board.deliveries() if d.was_unsure}
            sent = {(m.pour, m.subject, m.kind, m.epoch) for m in board.messages()}
            assert len(sent) == len(board.messages())
    assert len(told(box.mails)) >= 2 * BAYS
    for (number, to), count in told(box.mails).items():
        assert count == 1 or (number, to) in unsure, (number, to, count)
    for log in tmp_path.glob("*.log"):
        assert "Traceback" not in log.read_text(), log.read_text()[-3000:]


def _met(row: BoardRow) -> bool:
    return all(row.gates[operation].state is GateState.MET for operation in (STRIP, WALK))


def _all_told_to_keep_off(setup: Setup, folder: Path) -> bool:
    """Say whether everybody has been told of every stop; what is less urgent waits after each start."""
    with read_board(setup, folder) as board:
        stops = {m.no for m in board.messages() if m.kind is MessageKind.WITHDRAWAL}
        told = [d for d in board.deliveries() if d.message in stops and d.accepted_ms is not None]
        return {m.pour for m in board.messages() if m.no in stops} == POURS and len(told) == 2 * len(stops)
