"""`serve` killed with -9 in the middle, with its embedded broker and a slow mail server, and started again."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Event

import pytest
from aiosmtpd.controller import Controller
from ingest_support import until
from mqtt_support import free_port, listening
from paho.mqtt import publish
from readme_support import Postbox, blocks, told

from shared.clock import SystemClock
from shared.store import read_board

SLABHOUR = Path(sys.executable).with_name("slabhour")
PACKS = 60
QUARTER_S = 900


def write_site(folder: Path, mqtt: int, smtp: int) -> Path:
    """Write README's site with the embedded broker and round-the-clock deliveries."""
    text = re.search(r"<<END\n(.*?)\nEND\n", blocks()["site"], re.DOTALL)
    assert text
    site = text[1].replace('kind = "url"\nurl = "mqtt://127.0.0.1:$MQTT_PORT"', f'kind = "embedded"\nport = {mqtt}')
    (folder / "calibrations").mkdir()
    source = Path(__file__).parents[2] / "deploy" / "demo" / "calibrations" / "c32-f-v1.toml"
    (folder / "calibrations" / "c32-f-v1.toml").write_bytes(source.read_bytes())
    site = site.replace("$SMTP_PORT", str(smtp)).replace("$WEB_PORT", "0")
    (folder / "loggers").write_text("lg-01 a-password-of-lg-01\n", encoding="utf-8")
    (folder / "site.toml").write_text(site, encoding="utf-8")
    return folder / "site.toml"


@contextmanager
def serving(site: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    with (site.parent / "serve.log").open("ab") as log:
        process = subprocess.Popen([SLABHOUR, "serve", "--site", site], stdout=log, stderr=log)
        try:
            until(lambda: listening(port) and (site.parent / "var" / "control.sock").exists(), 60)
            yield process
        finally:
            process.kill()
            process.wait()
            (site.parent / "var" / "control.sock").unlink(missing_ok=True)


def send(port: int, packs: list[str]) -> None:
    """Publish at QoS 1, each pack until a broker has acknowledged it: what a logger with a buffer does."""
    for pack in packs:
        for _ in range(200):
            try:
                publish.single("slabhour/yard/r/lg-01", pack, qos=1, hostname="127.0.0.1", port=port)
                break
            except OSError:
                Event().wait(0.1)


@pytest.mark.row("N3", "H2", "A8")
def test_nothing_is_lost_and_no_number_goes_out_twice_unless_its_row_says_unsure(tmp_path: Path) -> None:
    mqtt, smtp = free_port(), free_port()
    site = write_site(tmp_path, mqtt, smtp)
    box = Postbox()
    now = SystemClock().now() // 1000
    times = [now - (PACKS - i) * QUARTER_S for i in range(PACKS)]
    packs = [
        f'[{{"bn":"lg-01.","bt":{t},"bu":"Cel","n":"1","v":17.5}},{{"n":"2","v":18}},{{"n":"3","v":12}}]' for t in times
    ]

    def command(*words: str) -> None:
        subprocess.run(
            [SLABHOUR, *words, "--site", site, "--who", "super"], check=True, capture_output=True, timeout=60
        )

    with closing(_Mail(box, smtp)):
        with serving(site, mqtt) as process:
            command("pour", "start", "1-b1", "1-b1-p1")
            send(mqtt, packs[: PACKS // 2])
            process.kill()
            process.wait()
            # The embedded broker must not outlive the service that owns its port and its store.
            until(lambda: not listening(mqtt), 60)
        with serving(site, mqtt) as process:
            send(mqtt, packs[PACKS // 2 :])
            command("stop", "1-b1-p1", "killed in the middle of telling it")
            box.wait_for(lambda mails: len(mails) >= 1, 30)
            process.kill()
            process.wait()
        with serving(site, mqtt):
            until(lambda: stored(site) == 3 * PACKS, 60)
            assert box.wait_for(lambda mails: len(told(mails)) >= 6, 90), box.subjects()
    assert "Traceback" not in (tmp_path / "serve.log").read_text()
    with read_board(None, tmp_path / "var") as board:
        unsure = {(d.message, str(d.recipient)) for d in board.deliveries() if d.was_unsure}
    for (number, to), count in told(box.mails).items():
        assert count == 1 or (number, to) in unsure, (number, to, count)


def stored(site: Path) -> int:
    """Return how many readings of the logger are on disk."""
    try:
        with closing(sqlite3.connect(f"file:{site.parent / 'var' / 'readings.db'}?mode=ro", uri=True)) as db:
            return int(db.execute("SELECT count(*) FROM reading").fetchone()[0])
    except sqlite3.Error:
        return 0


class _Mail:
    """A mail server that takes its time, so that a kill meets deliveries on their way."""

    def __init__(self, box: Postbox, port: int) -> None:
        self._controller = Controller(box, hostname="127.0.0.1", port=port)
        self._controller.start()

    def close(self) -> None:
        """End it."""
        self._controller.stop()
