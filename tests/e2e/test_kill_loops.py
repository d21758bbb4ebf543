"""The whole service killed with -9 twenty times at random while it releases and withdraws, by a real mail server."""

from __future__ import annotations

import json
import random
import re
import sqlite3
import subprocess
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from email.message import Message as Mail
from pathlib import Path
from threading import Event

import numpy as np
import pytest
from aiosmtpd.controller import Controller
from ingest_support import until
from mqtt_support import free_port
from quick_service import FastClock
from readme_support import Postbox
from setup_support import CALIBRATION

from alerts.transport import RecordingTransport
from deploy.control import hand_in
from deploy.wiring import build
from shared.errors import SlabError
from shared.models.acts import Act, Confirm, PourEnd, PourStart, Sign, Stop, instant
from shared.models.base import HOUR_MS, MINUTE_MS, SensorId
from shared.models.readings import Reading
from shared.ports import NewArrivals
from shared.sitefile import load

LOOPS = 20
RATE = 60.0
SEED = random.SystemRandom().randrange(10**9)
QUICK = Path(__file__).parents[1] / "support" / "quick_service.py"
BASE_MS = 1_795_600_000_000
OPERATIONS = ("strip", "walk")
PEOPLE = ("super", "qc", "engineer")


def write_site(folder: Path, mqtt: int, smtp: int) -> Path:
    """Write a site with a bay a loop."""
    text = (
        '[site]\nid = "yard"\nname = "Test Yard"\nzone = "America/Halifax"\nclock_sync = "not-checked"\n'
        'shift = "00:00-23:59"\n[plan]\nuse = "common-practice"\nadopted_by = "engineer"\ndocument = "plan.pdf"\n'
        f'sign_offs = 1\nsecond_check = false\n[broker]\nkind = "embedded"\nport = {mqtt}\n[web]\nport = 0\n'
        '[[mix]]\nid = "c32-f"\nsupplementary = false\ncalibration = "calibrations/c32-f-v1.toml"\n'
        f'[channel.email]\nhost = "127.0.0.1"\nport = {smtp}\nsender = "slabhour@yard.example"\n'
    )
    for n in range(LOOPS):
        text += (
            f'[[bay]]\nid = "1-b{n}"\nfloor = "1"\nmix = "c32-f"\nthickness_mm = 100\njoist_spacing_mm = 1220\n'
            f'exclusions = "none"\nsensors = [{{ id = "lg-{n}.1", zone = "exposed edge" }}]\n'
        )
    for role, who in zip(("superintendent", "qc", "engineer"), PEOPLE, strict=True):
        channels = f'[{{ kind = "email", to = "{who}@yard.example" }}]'
        text += f'[[recipient]]\nid = "{who}"\nrole = "{role}"\nchannels = {channels}\n'
    (folder / "calibrations").mkdir()
    (folder / "calibrations" / "c32-f-v1.toml").write_text(CALIBRATION, encoding="utf-8")
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder / "site.toml"


def fill(site: Path, clock: FastClock) -> None:
    """Enter every pour, 40 h old, with its readings."""
    start_ms, end_ms = BASE_MS - 42 * HOUR_MS, BASE_MS - 40 * HOUR_MS
    with build(load(site), clock=clock, transport=RecordingTransport()) as service:
        for n in range(LOOPS):
            bay, pour = f"1-b{n}", f"1-b{n}-p1"
            now = instant(clock.now())
            service.apply(PourStart(at=now, who="super", bay=bay, pour=pour, happened=instant(start_ms)))
            service.apply(PourEnd(at=now, who="super", pour=pour, happened=instant(end_ms)))
            # Some hours ahead too: the site's hours pass quickly, and its loggers must not fall silent.
            times = np.arange(start_ms, BASE_MS + 12 * HOUR_MS, 15 * MINUTE_MS)
            sensor = SensorId(f"lg-{n}.1")
            warm = [Reading(sensor, int(t), 20_000 + 500 * (i % 3), BASE_MS) for i, t in enumerate(times)]
            service.readings.merge(warm)
            service.book.ingest.note(
                [NewArrivals(sensor, len(warm), warm[0].taken_ms, warm[-1].taken_ms, BASE_MS)], [], [], []
            )


@contextmanager
def serving(site: Path, base_s: float) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, str(QUICK), str(site), str(BASE_MS), repr(base_s), str(RATE)]
    with (site.parent / "serve.log").open("ab") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            until((site.parent / "var" / "control.sock").exists, 60)
            yield process
        finally:
            process.kill()
            process.wait()
            (site.parent / "var" / "control.sock").unlink(missing_ok=True)


def handed(site: Path, act: Act) -> None:
    """Hand an act in until the service takes it: a round that is running may refuse what is not met yet."""

    def taken() -> bool:
        try:
            hand_in(site.parent / "var", act)
        except SlabError:
            return False
        return True

    until(taken, 60)


def rows(site: Path, query: str) -> list[tuple[object, ...]]:
    """Return rows of the site book, read apart from the service."""
    with closing(sqlite3.connect(f"file:{site.parent / 'var' / 'site.db'}?mode=ro", uri=True)) as db:
        return list(db.execute(query))


def told_whom(mail: Mail[str, str]) -> str:
    return str(mail["To"]).split("@")[0]


def number_of(mail: Mail[str, str]) -> int:
    found = re.search(r"no\. (\d+)", " ".join(str(mail["Subject"]).split()))
    assert found, mail["Subject"]
    return int(found[1])


class _SlowBox(Postbox):
    """Takes a while over each mail, so that a kill meets some on their way."""

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802
        Event().wait(0.15)
        return await super().handle_DATA(server, session, envelope)


@pytest.mark.row("A5", "A6", "A7", "A8")
def test_twenty_kills_while_releasing_and_withdrawing_leave_everybody_with_the_truth(tmp_path: Path) -> None:
    print(f"seed {SEED}")
    dice = random.Random(SEED)
    box, smtp = _SlowBox(), free_port()
    site, base_s = write_site(tmp_path, free_port(), smtp), time.monotonic()
    fill(site, FastClock(BASE_MS, base_s, RATE))
    mail = Controller(box, hostname="127.0.0.1", port=smtp)
    mail.start()
    try:
        for n in range(LOOPS):
            pour, now = f"1-b{n}-p1", instant(BASE_MS)
            with serving(site, base_s) as process:
                answer_the_last(site, now)
                handed(site, Sign(at=now, who="qc", pour=pour, operations=OPERATIONS))
                Event().wait(dice.uniform(0.0, 4.0))
                handed(site, Stop(at=now, who="super", pour=pour, why="crack seen"))
                Event().wait(dice.uniform(0.0, 1.0))
                process.kill()
                process.wait()
        with serving(site, base_s):
            until(lambda: not unfinished(site), 120)
    finally:
        mail.stop()
    assert "Traceback" not in (tmp_path / "serve.log").read_text(encoding="utf-8")
    judge(site, box.mails)


def answer_the_last(site: Path, now: datetime) -> None:
    """Say "area clear" to what was accepted of the loops before: else its repeats would fill the channel."""
    told = "SELECT DISTINCT m.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
    for (no,) in rows(site, told + "AND d.state = 'accepted'"):
        with suppress(SlabError):
            hand_in(site.parent / "var", Confirm(at=now, who="super", message=int(str(no))))


def unfinished(site: Path) -> list[tuple[object, ...]]:
    """Return deliveries of withdrawals that nobody's server has accepted yet."""
    return rows(
        site,
        "SELECT d.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
        "AND d.accepted_ms IS NULL AND d.state <> 'confirmed'",
    )


def judge(site: Path, mails: list[Mail[str, str]]) -> None:
    kinds = {
        no: (kind, pour, subject)
        for no, kind, pour, subject in rows(site, "SELECT no, kind, pour, subject FROM message")
    }
    unsure: Counter[tuple[object, object]] = Counter()
    for (text,) in rows(site, "SELECT body FROM log WHERE what = 'delivery'"):
        body = json.loads(str(text))
        if body["state"] == "unsure":
            unsure[body["message"], body["recipient"]] += 1
    got: Counter[tuple[int, str]] = Counter()
    last: dict[tuple[object, object, str], object] = {}
    releases = 0
    for mail in mails:
        no, who = number_of(mail), told_whom(mail)
        kind, pour, subject = kinds[no]
        if kind == "released":
            got[no, who] += 1
            releases += 1
        if kind in {"released", "withdrawal"}:
            last[pour, subject, who] = kind
    withdrawn = {(f"1-b{n}-p1", op) for n in range(LOOPS) for op in OPERATIONS}
    assert {key for key, (state,) in gates(site).items() if state == "withdrawn"} >= withdrawn
    assert {(pour, op, who): last.get((pour, op, who)) for pour, op in withdrawn for who in PEOPLE} == {
        (pour, op, who): "withdrawal" for pour, op in withdrawn for who in PEOPLE
    }
    doubled = {key: count for key, count in got.items() if count > 1 + unsure[key]}
    assert doubled == {}
    assert releases > 0, "no release ever got out: the kills met nothing"


def gates(site: Path) -> dict[tuple[object, object], tuple[object, ...]]:
    found: dict[tuple[object, object], tuple[object, ...]] = defaultdict(tuple)
    for pour, operation, state in rows(site, "SELECT pour, operation, state FROM gate"):
        found[pour, operation] = (state,)
    return found
