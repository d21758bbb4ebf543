"""The power is off from Friday 18:00 to Monday 06:00 and the loggers go on: real processes, by a clock that runs fast.

Nothing is permitted until the buffers are in; then what has earned it, and only that, by one mail for a bay and person.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from threading import Event, Thread
from typing import Final
from zoneinfo import ZoneInfo

import pytest
from aiosmtpd.controller import Controller
from ingest_support import pack, until, warm
from mqtt_support import free_port, listening, send
from oracle_files import INSISTENT, PERMITS, kept, numbers_of, rows, told, whole, whom
from quick_service import FastClock
from readme_support import Postbox
from setup_support import CALIBRATION

from deploy.control import hand_in
from shared.models.acts import PourEnd, PourStart, instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.messages import MessageKind

QUICK: Final = Path(__file__).parents[1] / "support" / "quick_service.py"
RATE: Final = 60.0
ZONE: Final = ZoneInfo("America/Halifax")
PEOPLE: Final = {"super": "superintendent", "qc": "qc"}
BAYS: Final = ("warm", "cold", "lost")
QUARTER_MS: Final = 15 * MINUTE_MS
FULL_H: Final = 12
"""So much the logger of the third bay can keep: what came before is written over."""


def at(day: int, hour: int, minute: int = 0) -> Ms:
    """Return an hour of November 2026; the 20th is a Friday."""
    return int(datetime(2026, 11, day, hour, minute, tzinfo=ZONE).timestamp()) * 1000


START_MS, END_MS = at(20, 8), at(20, 10)
OFF_MS, ON_MS = at(20, 18), at(23, 6)
NIGHT_MS: Final = at(21, 0)
"""From then on the second bay is cold: 14 of its hours count, of the 24 that it needs."""


def write_site(folder: Path, mqtt: int, smtp: int) -> Path:
    text = (
        '[site]\nid = "yard"\nname = "Test Yard"\nzone = "America/Halifax"\nclock_sync = "required"\n'
        'interval_s = 900\nshift = "00:00-23:59"\n[plan]\nuse = "common-practice"\nadopted_by = "engineer"\n'
        'document = "plan.pdf"\nsign_offs = 0\nsecond_check = false\n'
        f'[broker]\nkind = "embedded"\nport = {mqtt}\n[web]\nport = 0\n'
        '[[mix]]\nid = "c32-f"\nsupplementary = false\ncalibration = "calibrations/c32-f-v1.toml"\n'
        f'[channel.email]\nhost = "127.0.0.1"\nport = {smtp}\nsender = "slabhour@yard.example"\n'
    )
    for bay in BAYS:
        text += (
            f'[[bay]]\nid = "{bay}"\nfloor = "1"\nmix = "c32-f"\nthickness_mm = 100\njoist_spacing_mm = 1220\n'
            f'exclusions = "none"\nsensors = [{{ id = "lg-{bay}.1", zone = "exposed edge" }}]\n'
        )
    for who, role in PEOPLE.items():
        channels = f'[{{ kind = "email", to = "{who}@yard.example" }}]'
        text += f'[[recipient]]\nid = "{who}"\nrole = "{role}"\nshift = "00:00-23:59"\nchannels = {channels}\n'
    (folder / "calibrations").mkdir()
    (folder / "calibrations" / "c32-f-v1.toml").write_text(CALIBRATION, encoding="utf-8")
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder / "site.toml"


@contextmanager
def powered(site: Path, mqtt: int, since_ms: Ms, boot: str) -> Iterator[FastClock]:
    """Lend the clock of a service that began at an hour; end it, and its broker, as a power cut does."""
    base_s = time.monotonic()
    command = [sys.executable, str(QUICK), str(site), str(since_ms), repr(base_s), str(RATE), boot]
    control = site.parent / "var" / "control.sock"
    with (site.parent / "serve.log").open("ab") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            until(lambda: process.poll() is not None or (listening(mqtt) and control.exists()), 120)
            assert process.poll() is None, (site.parent / "serve.log").read_text(encoding="utf-8")
            yield FastClock(since_ms, base_s, RATE)
        finally:
            process.kill()
            process.wait()
            control.unlink(missing_ok=True)
            until(lambda: not listening(mqtt), 30)


class Loggers:
    """One a bay, each with what it has measured; the ledger of what the broker has acknowledged."""

    def __init__(self, mqtt: int, data: Path) -> None:
        self.acknowledged: dict[bytes, list[tuple[str, int, int]]] = {}
        self._mqtt, self._data = mqtt, data

    def send(self, bay: str, hours: Sequence[Ms], at_once: int = 10) -> None:
        sensor = SensorId(f"lg-{bay}.1")
        for some in (hours[n : n + at_once] for n in range(0, len(hours), at_once)):
            said = [
                (str(sensor), t, 3_000 if bay == "cold" and t >= NIGHT_MS else 18_000 + t // 60_000 % 7) for t in some
            ]
            payload = pack(*(warm(milli_c / 1000, t, sensor) for _, t, milli_c in said))
            send(self._mqtt, [payload], f"slabhour/yard/r/lg-{bay}")
            self.acknowledged[payload] = said

    def stored(self) -> None:
        """Return once all of it is stored."""
        until(lambda: list(kept(self._data, self.acknowledged)) == [], 60)

    def live(self, clock: FastClock, over: Event) -> None:
        """Tell what is measured now, every quarter of an hour on site."""
        while not over.is_set():
            for bay in BAYS:
                self.send(bay, [clock.now() // 1000 * 1000])
            over.wait(15 * 60 / RATE)


def measured(from_ms: Ms, until_ms: Ms) -> list[Ms]:
    return list(range(from_ms, until_ms, QUARTER_MS))


def poured(data: Path, clock: FastClock) -> None:
    for bay in BAYS:
        now = instant(clock.now())
        hand_in(data, PourStart(at=now, who="super", bay=bay, pour=f"{bay}-p1", happened=instant(START_MS)))
        hand_in(data, PourEnd(at=now, who="super", pour=f"{bay}-p1", happened=instant(END_MS)))


def permitted(data: Path) -> set[str]:
    """Return the bays whose gates are open, or of which somebody was told so."""
    open_ = rows(data / "site.db", "SELECT pour FROM gate WHERE state IN ('met', 'released', 'under way', 'done')")
    said = [m for m in rows(data / "site.db", "SELECT kind, pour FROM message") if m["kind"] in PERMITS]
    return {row["pour"].partition("-")[0] for row in [*open_, *said]}


def passed(clock: FastClock, minutes: int) -> None:
    """Return when so many minutes have passed on site."""
    hour, pause = clock.now() + minutes * MINUTE_MS, Event()
    while clock.now() < hour:
        pause.wait(0.1)


def judged(data: Path, since_ms: Ms) -> None:
    """Return when every pour was judged later than that: what is new of it was looked at."""
    query = "SELECT p.id, s.as_of_ms FROM pour p LEFT JOIN pour_state s ON s.pour = p.id"
    until(lambda: all((r["as_of_ms"] or 0) > since_ms for r in rows(data / "site.db", query)), 120)


@pytest.mark.row("R1", "L14", "H4", "C11")
def test_a_weekend_without_power_permits_nothing_before_the_buffers_are_in_and_then_only_what_is_right(
    tmp_path: Path,
) -> None:
    box, mqtt, smtp, data = Postbox(), free_port(), free_port(), tmp_path / "var"
    site, loggers, over = write_site(tmp_path, mqtt, smtp), Loggers(mqtt, tmp_path / "var"), Event()
    mail = Controller(box, hostname="127.0.0.1", port=smtp)
    mail.start()
    try:
        with powered(site, mqtt, OFF_MS - 20 * MINUTE_MS, "friday") as clock:
            poured(data, clock)
            for bay in BAYS:
                loggers.send(bay, measured(START_MS, OFF_MS - 20 * MINUTE_MS))
            loggers.stored()
            judged(data, OFF_MS - 20 * MINUTE_MS)
        assert permitted(data) == set()
        friday = len(box.mails)
        with powered(site, mqtt, ON_MS, "monday") as clock:
            passed(clock, 5)
            assert permitted(data) == set(), "nobody has told anything since Friday"
            living = Thread(target=loggers.live, args=(clock, over))
            living.start()
            try:
                began = clock.now()
                passed(clock, 5)
                judged(data, began)
                assert permitted(data) == set(), "the hours of two days are not there"
                buffers(loggers)
                wanted = {("warm-p1", who) for who in PEOPLE}
                box.wait_for(lambda mails: {(p, w) for p, w, _ in about(data, mails[friday:])} >= wanted, 90)
                passed(clock, 5)
            finally:
                over.set()
                living.join()
            loggers.stored()
    finally:
        over.set()
        mail.stop()
    assert permitted(data) == {"warm"}
    judge(data, box, friday)
    assert [*kept(data, loggers.acknowledged), *told(data, box.mails), *whole(data)] == []
    assert "Traceback" not in (tmp_path / "serve.log").read_text(encoding="utf-8")


def buffers(loggers: Loggers) -> None:
    """Send what every logger has kept, all at once and in no order."""
    dice, first = random.Random(20), OFF_MS - 20 * MINUTE_MS
    senders = []
    for bay in BAYS:
        hours = measured(ON_MS - FULL_H * HOUR_MS if bay == "lost" else first, ON_MS)
        dice.shuffle(hours)
        senders.append(Thread(target=loggers.send, args=(bay, hours)))
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()


def about(data: Path, mails: Sequence[object]) -> list[tuple[str, str, str]]:
    """Return (pour, person, kind) of what was told, once a mail."""
    named = {m["no"]: m for m in rows(data / "site.db", "SELECT no, kind, pour FROM message")}
    found = []
    for one in mails:
        told_of = {(named[no]["pour"], named[no]["kind"]) for no in numbers_of(one)}  # type: ignore[arg-type]
        found += [(pour, whom(one), kind) for pour, kind in told_of]  # type: ignore[arg-type]
    return found


def judge(data: Path, box: Postbox, friday: int) -> None:
    monday = about(data, box.mails[friday:])
    # What is told of a logger, or of frost, is another matter than a permit; of each no more than one. But on a busy
    # machine a logger does fall silent again: a minute of ours is an hour of the site.
    told_of = Counter(
        (pour, who, "permit" if kind in PERMITS else kind)
        for pour, who, kind in monday
        if kind != MessageKind.LOGGER_SILENT
    )
    assert max(told_of.values()) == 1, told_of
    assert not {kind for _, _, kind in monday} & INSISTENT
    assert {(pour, who) for pour, who, kind in monday if kind in PERMITS} == {("warm-p1", who) for who in PEOPLE}
