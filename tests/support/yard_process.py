"""A yard whose service is a process by a clock that runs fast: pours that are met, and a logger that never stops."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event
from typing import Final

import numpy as np
from ingest_support import pack, until, warm
from oracle_files import rows
from paho.mqtt import publish
from quick_service import FastClock
from setup_support import CALIBRATION

from alerts.transport import RecordingTransport
from deploy.control import hand_in
from deploy.wiring import build
from shared.errors import SlabError
from shared.models.acts import Act, PourEnd, PourStart, instant
from shared.models.base import HOUR_MS, MINUTE_MS, SensorId
from shared.models.readings import Reading
from shared.ports import NewArrivals
from shared.sitefile import load

QUICK: Final = Path(__file__).parent / "quick_service.py"
RATE: Final = 30.0
BASE_MS: Final = 1_795_600_000_000
"""2026-11-25T09:46Z."""
OPERATIONS: Final = ("strip", "walk")
PEOPLE: Final = ("super", "qc", "engineer")
LOGGER, WORD = "lg-air", "the-word-of-the-logger"
A_MESSAGE, CHANNELS = 5, 6
BAD_EVERY: Final = 17
"""Each so many messages are hotter than any concrete: they must be refused, and not be lost."""


def write_site(folder: Path, mqtt: int, smtp: int, pours: int) -> Path:
    """Write a site with so many bays that are poured, and one that waits."""
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
    sensors = {f"1-b{n}": f'{{ id = "lg-{n}.1", zone = "exposed edge" }}' for n in range(pours)} | {"2-b1": told}
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


def fill(site: Path, clock: FastClock, pours: int) -> None:
    """Enter every pour, 40 h old, with its readings."""
    start_ms, end_ms = BASE_MS - 42 * HOUR_MS, BASE_MS - 40 * HOUR_MS
    with build(load(site), clock=clock, transport=RecordingTransport()) as service:
        for n in range(pours):
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
    """Lend the service's process, whose site time has run on since a moment of the steady clock; kill it."""
    command = [sys.executable, str(QUICK), str(site), str(BASE_MS), repr(base_s), str(RATE)]
    with (site.parent / "serve.log").open("ab") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            control = site.parent / "var" / "control.sock"
            until(lambda: process.poll() is not None or control.exists(), 120)
            assert process.poll() is None, (site.parent / "serve.log").read_text(encoding="utf-8")
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
    """Return topic and payload of message `n`."""
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
