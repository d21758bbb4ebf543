"""A service whose disk runs full, and a second one on its folder: real processes, a real small disk.

While the disk is full no reading is acknowledged for good and nothing is released, and who must stop is told all the
same. When there is room again what waited drains, and the gates go on.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from threading import Event

import pytest
from aiosmtpd.controller import Controller
from buffered_logger import Buffered
from ingest_support import until
from mqtt_support import free_port
from oracle_files import kept, rows, told, whole, whom
from outages import filled, small_disk
from quick_service import FastClock
from readme_support import Postbox
from yard_process import (
    BASE_MS,
    LOGGER,
    OPERATIONS,
    PEOPLE,
    RATE,
    WORD,
    fill,
    handed,
    listened,
    message,
    said,
    serving,
    write_site,
)

from deploy.control import hand_in
from deploy.reserve import FILE as RESERVE
from shared.errors import SlabError
from shared.models.acts import Sign, Stop, instant

SLABHOUR = Path(sys.executable).with_name("slabhour")
FIRST, SECOND = "1-b0-p1", "1-b1-p1"
SIZE = "160m"
"""Room for the reserve of 64 MiB, and for what a full disk is told by."""


def heard(data: Path, box: Postbox, kind: str) -> set[str]:
    """Return who has a message of a kind."""
    numbers = {r["no"] for r in rows(data / "site.db", "SELECT no FROM message WHERE kind = ?", [kind])}
    return {whom(mail) for mail in box.mails for no in numbers if f"no. {no}" in " ".join(str(mail["Subject"]).split())}


def state(data: Path, pour: str) -> str:
    found = rows(data / "site.db", "SELECT state FROM gate WHERE pour = ? AND operation = 'strip'", [pour])
    return str(found[0]["state"])


def second_service(site: Path) -> str:
    """Return what a second service on the same folder says; it must end by itself, and with an error."""
    command: list[str | Path] = [SLABHOUR, "serve", "--site", site]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert ran.returncode not in {0, -9}
    return ran.stderr


def never_signed(data: Path, site: Path, seconds: float) -> list[str]:
    """Try to sign for a while; return why it was refused."""
    refusals, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        with pytest.raises(SlabError) as refused:
            hand_in(data, Sign(at=instant(BASE_MS), who="qc", pour=SECOND, operations=OPERATIONS))
        refusals.append(str(refused.value))
        assert state(data, SECOND) != "released", site
        Event().wait(0.5)
    return refusals


@pytest.mark.row("H1", "J6", "N5")
@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk and fill it")
def test_on_a_full_disk_nothing_is_released_and_who_must_stop_is_told_and_what_waited_drains(tmp_path: Path) -> None:
    box, mqtt, smtp, now = Postbox(), free_port(), free_port(), instant(BASE_MS)
    site, data, base_s = write_site(tmp_path, mqtt, smtp, 2), tmp_path / "var", time.monotonic()
    mail = Controller(box, hostname="127.0.0.1", port=smtp)
    mail.start()
    try:
        with small_disk(data, SIZE):
            fill(site, FastClock(BASE_MS, base_s, RATE), 2)
            with serving(site, base_s):
                listened(data, mqtt)
                handed(site, Sign(at=now, who="qc", pour=FIRST, operations=OPERATIONS))
                until(lambda: bool(heard(data, box, "released")), 90)
                assert "owns" in second_service(site)
                logger = Buffered(mqtt, message, every_s=0.02, user=(LOGGER, WORD))
                try:
                    until(lambda: logger.count() > 20, 60)
                    filled(data / "filler")
                    until(lambda: not (data / RESERVE).exists(), 60)
                    handed(site, Stop(at=now, who="super", pour=FIRST, why="crack seen"))
                    refusals = never_signed(data, site, 4)
                    until(lambda: heard(data, box, "withdrawal") >= set(PEOPLE), 90)
                    assert state(data, FIRST) == "withdrawn"
                    (data / "filler").unlink()
                    sent = logger.stop()
                    ledger = {message(n)[1]: said(n) for n in range(sent)}
                    until(lambda: list(kept(data, ledger)) == [], 90)
                    handed(site, Sign(at=now, who="qc", pour=SECOND, operations=OPERATIONS))
                    assert state(data, SECOND) == "released"
                finally:
                    logger.end()
            assert [*told(data, box.mails), *whole(data)] == []
    finally:
        mail.stop()
    print(f"{sent} messages; refused while full: {set(refusals)}")
    assert "Traceback" not in (tmp_path / "serve.log").read_text(encoding="utf-8")
