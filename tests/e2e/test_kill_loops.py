"""The whole service killed with -9 five times under load: it releases, withdraws, and a logger sends without end.

What the broker has acknowledged is stored or refused, by the publisher's own ledger; what was told is told once, by a
mail server that is slow, and the last thing that anybody holds is true. `FAULT_SCALE=4` kills twenty times.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from threading import Event

import numpy as np
import pytest
from aiosmtpd.controller import Controller
from buffered_logger import Buffered
from ingest_support import pack, until, warm
from mqtt_support import free_port
from oracle_files import PERMITS, kept, numbers_of, planted, rows, told, whole
from paho.mqtt import publish
from quick_service import FastClock
from readme_support import Postbox
from scale import SCALE
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

LOOPS = max(2, round(5 * SCALE))
RATE = 30.0
SEED = random.SystemRandom().randrange(10**9)
QUICK = Path(__file__).parents[1] / "support" / "quick_service.py"
BASE_MS = 1_795_600_000_000
OPERATIONS = ("strip", "walk")
PEOPLE = ("super", "qc", "engineer")
LOGGER, WORD = "lg-air", "the-word-of-the-logger"
A_MESSAGE, CHANNELS = 5, 6
BAD_EVERY = 17
"""Each so many messages are hotter than any concrete: they must be refused, and not be lost."""


def write_site(folder: Path, mqtt: int, smtp: int) -> Path:
    """Write a site with a bay a loop."""
    text = (
        '[site]\nid = "yard"\nname = "Test Yard"\nzone = "America/Halifax"\nclock_sync = "not-checked"\n'
        'shift = "00:00-23:59"\n[plan]\nuse = "common-practice"\nadopted_by = "engineer"\ndocument = "plan.pdf"\n'
        f'sign_offs = 1\nsecond_check = false\n[broker]\nkind = "embedded"\nport = {mqtt}\n'
        'loggers_file = "loggers"\n[web]\nport = 0\n'
        '[[mix]]\nid = "c32-f"\nsupplementary = false\ncalibration = "calibrations/c32-f-v1.toml"\n'
        f'[channel.email]\nhost = "127.0.0.1"\nport = {smtp}\nsender = "slabhour@yard.example"\n'
    )
    # While late readings of a pour still come in nobody signs it: what comes in a burst is of a bay that waits for one.
    told = ", ".join(f'{{ id = "{LOGGER}.{n}", zone = "interior" }}' for n in range(1, CHANNELS + 1))
    sensors = {f"1-b{n}": f'{{ id = "lg-{n}.1", zone = "exposed edge" }}' for n in range(LOOPS)} | {"2-b1": told}
    for bay, some in sensors.items():
        text += (
            f'[[bay]]\nid = "{bay}"\nfloor = "{bay[0]}"\nmix = "c32-f"\nthickness_mm = 100\njoist_spacing_mm = 1220\n'
            f'exclusions = "none"\nsensors = [{some}]\n'
        )
    for role, who in zip(("superintendent", "qc", "engineer"), PEOPLE, strict=True):
        channels = f'[{{ kind = "email", to = "{who}@yard.example" }}]'
        text += f'[[recipient]]\nid = "{who}"\nrole = "{role}"\nchannels = {channels}\n'
    (folder / "calibrations").mkdir()
    (folder / "calibrations" / "c32-f-v1.toml").write_text(CALIBRATION, encoding="utf-8")
    (folder / "site.toml").write_text(text, encoding="utf-8")
    (folder / "loggers").write_text(f"{LOGGER} {WORD}\n", encoding="utf-8")
    (folder / "loggers").chmod(0o600)
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

    refusals: list[str] = []

    def taken() -> bool:
        try:
            hand_in(site.parent / "var", act)
        except SlabError as refused:
            refusals.append(str(refused))
            return False
        return True

    try:
        until(taken, 60)
    except AssertionError:
        raise AssertionError(f"{act.kind} was not taken: {refusals[-1:]}") from None


def said(n: int) -> list[tuple[str, int, int]]:
    """Return what message `n` of the burst says: (sensor, taken [ms], thousandths of a degree)."""
    taken = [BASE_MS - (n * A_MESSAGE + i) * 1000 for i in range(A_MESSAGE)]
    return [(f"{LOGGER}.{n % CHANNELS + 1}", t, 95_000 if n % BAD_EVERY == 5 else 12_000 + n % 40 * 100) for t in taken]


def message(n: int) -> tuple[str, bytes]:
    records = [warm(milli_c / 1000, taken, SensorId(sensor)) for sensor, taken, milli_c in said(n)]
    return f"slabhour/yard/r/{LOGGER}", pack(*records)


def listened(data: Path, port: int) -> None:
    """Return once the service takes what the broker has: from then on the broker keeps messages for it."""

    def refused() -> bool:
        hot = pack(warm(96.0, BASE_MS, SensorId(f"{LOGGER}.1")))
        auth = {"username": LOGGER, "password": WORD}
        publish.single(f"slabhour/yard/r/{LOGGER}", hot, 1, hostname="127.0.0.1", port=port, auth=auth)  # type: ignore[arg-type]
        Event().wait(0.2)
        return bool(rows(data / "site.db", "SELECT no FROM refused"))

    until(refused, 60)


class _SlowBox(Postbox):
    """Takes a while over each mail, so that a kill meets some on their way."""

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:  # noqa: N802
        Event().wait(0.15)
        return await super().handle_DATA(server, session, envelope)


@pytest.mark.row("A5", "A6", "A7", "A8", "N3", "H2")
def test_kills_under_load_lose_no_reading_and_leave_everybody_with_the_truth(tmp_path: Path) -> None:
    print(f"seed {SEED}")
    dice = random.Random(SEED)
    box, smtp, mqtt = _SlowBox(), free_port(), free_port()
    site, base_s = write_site(tmp_path, mqtt, smtp), time.monotonic()
    data, logger = tmp_path / "var", None
    fill(site, FastClock(BASE_MS, base_s, RATE))
    mail = Controller(box, hostname="127.0.0.1", port=smtp)
    mail.start()
    try:
        for n in range(LOOPS):
            with serving(site, base_s) as process:
                if logger is None:
                    listened(data, mqtt)
                    logger = Buffered(mqtt, message, every_s=0.02, user=(LOGGER, WORD))
                a_loop(site, f"1-b{n}-p1", box if n % 2 == 0 else None, dice)
                process.kill()
                process.wait()
        assert logger is not None
        with serving(site, base_s):
            sent = logger.stop()
            acknowledged = {message(k)[1]: said(k) for k in logger.acknowledged}
            until(lambda: not unfinished(data) and not list(kept(data, acknowledged)), 120)
    finally:
        mail.stop()
        if logger is not None:
            logger.end()
    log = tmp_path / "serve.log"
    assert "Traceback" not in log.read_text(encoding="utf-8")
    judge(data, box, sent, acknowledged)
    assert list(planted([log], [WORD])) == []
    print(f"{LOOPS} kills in {time.monotonic() - base_s:.0f} s: {sent} messages, {len(box.mails)} mails")


def a_loop(site: Path, pour: str, box: _SlowBox | None, dice: random.Random) -> None:
    """Release and withdraw a pour; `box`: not before somebody holds the release."""
    now, before = instant(BASE_MS), 0 if box is None else len(box.mails)
    answer_the_last(site, now)
    handed(site, Sign(at=now, who="qc", pour=pour, operations=OPERATIONS))
    if box is not None:
        assert box.wait_for(lambda mails: any(is_permit(site, no) for m in mails[before:] for no in numbers_of(m)), 60)
    Event().wait(dice.uniform(0.0, 4.0 if box is None else 0.5))
    handed(site, Stop(at=now, who="super", pour=pour, why="crack seen"))
    Event().wait(dice.uniform(0.0, 1.0))


def is_permit(site: Path, no: int) -> bool:
    (found,) = rows(site.parent / "var" / "site.db", "SELECT kind FROM message WHERE no = ?", [no])
    return found["kind"] in PERMITS


def answer_the_last(site: Path, now: datetime) -> None:
    """Say "area clear" to what was accepted of the loops before: else its repeats would fill the channel."""
    query = "SELECT DISTINCT m.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
    for (no,) in rows(site.parent / "var" / "site.db", query + "AND d.state = 'accepted'"):
        with suppress(SlabError):
            hand_in(site.parent / "var", Confirm(at=now, who="super", message=no))


def unfinished(data: Path) -> list[object]:
    """Return deliveries of withdrawals that nobody's server has accepted yet."""
    query = "SELECT d.no FROM delivery d JOIN message m ON m.no = d.message WHERE m.kind = 'withdrawal' "
    return [*rows(data / "site.db", query + "AND d.accepted_ms IS NULL AND d.state <> 'confirmed'")]


def judge(data: Path, box: _SlowBox, sent: int, acknowledged: dict[bytes, list[tuple[str, int, int]]]) -> None:
    assert len(acknowledged) == sent > 20 * LOOPS, "too few came to say anything"
    assert [*kept(data, acknowledged), *told(data, box.mails), *whole(data)] == []
    bad = {payload for payload, several in acknowledged.items() if several[0][2] > 90_000}
    assert {bytes(r["payload"]) for r in rows(data / "site.db", "SELECT payload FROM refused")} >= bad
    gates = rows(data / "site.db", "SELECT pour, operation FROM gate WHERE state = 'withdrawn'")
    withdrawn = {(g["pour"], g["operation"]) for g in gates}
    assert withdrawn >= {(f"1-b{n}-p1", operation) for n in range(LOOPS) for operation in OPERATIONS}
    about = {m["no"]: m for m in rows(data / "site.db", "SELECT no, kind, pour, subject FROM message")}
    heard = {
        (about[no]["pour"], about[no]["subject"], str(mail["To"]).split("@")[0])
        for mail in box.mails
        for no in numbers_of(mail)
        if about[no]["kind"] == "withdrawal"
    }
    assert heard >= {(*one, who) for one in withdrawn for who in PEOPLE}
