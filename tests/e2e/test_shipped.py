"""What README ships, run as it stands: its own site with Debian's mosquitto, mosquitto_pub and a real mail server, and
the recorded site of the demo, replayed as it is, and with every forecast replaced by "met now". The replays run while
the commands wait for real minutes to pass.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from ingest_support import until
from mqtt_support import MOSQUITTO, free_port, listening
from readme_support import background, blocks, checkout, shell

from deploy.demo.ledger import LEDGER_FILE, differences, from_json, lines_of
from deploy.demo.people import LOOK_EVERY_MS
from deploy.demo.rehearsal import ACTS_FILE
from deploy.demo.scenario import READINGS_FILE, SITE_FILE, opening_acts
from deploy.demo.truth import true_strength_mpa
from deploy.replay import read_acts
from shared.models.acts import ms
from shared.models.base import BayId
from shared.models.decisions import LogEntry

MET_NOW = Path(__file__).parents[1] / "support" / "met_now_process.py"
TOLD_OF_HOURS = frozenset({"cold delay", "morning list", "shift handover", "cover tonight"})
"""Messages that say when something is expected, and with it differ."""


@dataclass(frozen=True, slots=True)
class Replaying:
    """A replay of the shipped site in a process of its own."""

    process: subprocess.Popen[bytes]
    out: Path


@pytest.fixture
def replays(tmp_path: Path) -> Iterator[list[Replaying]]:
    script = Path(sys.executable).with_name("slabhour")
    commands: dict[str, list[str | Path]] = {
        "as it is": [script, "replay", SITE_FILE, READINGS_FILE, "--acts", ACTS_FILE],
        "met now": [sys.executable, MET_NOW],
    }
    started = []
    for name, command in commands.items():
        with (tmp_path / name).open("wb") as out:
            started.append(Replaying(subprocess.Popen(command, stdout=out), tmp_path / name))
    try:
        yield started
    finally:
        for one in started:
            one.process.kill()
            one.process.wait()


def test_readme_has_the_blocks_in_their_order() -> None:
    assert list(blocks()) == ["servers", "site", "serve", "publish", "sign"]


@pytest.mark.needs_mosquitto
@pytest.mark.skipif(
    MOSQUITTO is None or shutil.which("mosquitto_pub") is None,
    reason="Debian's mosquitto and mosquitto-clients are not installed",
)
def test_readmes_commands_lead_from_a_buffer_to_a_release_by_mail(tmp_path: Path) -> None:
    folder, ports, run = checkout(tmp_path), (free_port(), free_port(), free_port()), blocks()
    env = {"MQTT_PORT": str(ports[0]), "SMTP_PORT": str(ports[1]), "WEB_PORT": str(ports[2])}
    log = folder / "background.log"
    status = ".venv/bin/slabhour status --site yard/site.toml --json"

    def entered() -> bool:
        return (folder / "yard/var/site.db").exists() and bool(
            [p for p in json.loads(shell(status, folder, env))["pours"] if p["estimate"] and p["estimate"]["age_h"]]
        )

    with background(run["servers"], folder, env):
        until(lambda: all(listening(p) for p in ports[:2]), 60)
        assert "WRONG" not in shell(run["site"], folder, env)
        with background(run["serve"], folder, env):
            until(entered, 60)
            shell(run["publish"], folder, env)
            assert "walk  MET, not signed" in shell(run["sign"], folder, env)
            until(lambda: log.read_text().count("Subject: RELEASED") >= 2, 240)
    said = log.read_text()
    assert "Traceback" not in said
    # Strip and walk in one mail, to the superintendent and to QC, once each.
    assert said.count("Subject: RELEASED") == 2


def told(replay: Replaying) -> list[LogEntry]:
    lines = [json.loads(line) for line in replay.out.read_text(encoding="utf-8").splitlines()]
    return [LogEntry(ms(datetime.fromisoformat(x["at"])), x["who"], x["what"], x) for x in lines if "who" in x]


def decided(replay: Replaying) -> list[bytes]:
    """Return each line, byte for byte, of what was decided, and of each message that it was, when and of what."""
    found = []
    for line in replay.out.read_bytes().splitlines():
        of = json.loads(line)
        if of["what"] == "act" and of["kind"] == "confirm":
            # Of which message it was, whatever that is numbered.
            found.append(json.dumps(of | {"message": None}).encode())
        elif of["what"] != "message":
            found.append(line)
        elif of["kind"] not in TOLD_OF_HOURS:
            # Its number and its words tell of the messages before it.
            found.append(repr([of[name] for name in ("at", "kind", "pour", "subject", "epoch")]).encode())
    return found


@pytest.mark.long
def test_whatever_is_foreseen_gates_and_releases_of_the_shipped_site_are_the_same_bytes_and_the_shipped_ledger(
    replays: list[Replaying],
) -> None:
    assert [one.process.wait(900) for one in replays] == [0, 0]
    first, second = (one.out.read_bytes() for one in replays)
    assert decided(replays[0]) == decided(replays[1])
    assert sum(b'"to": "released"' in line for line in decided(replays[0])) >= 8
    # It was told: what hangs on an expected hour is not the same.
    assert first != second
    assert b"refused act" not in first
    shipped = from_json(LEDGER_FILE.read_text(encoding="utf-8"))
    # The ledger was made with people who look every other minute; a replay looks when something happens.
    assert differences(shipped, lines_of(told(replays[0])), within_ms=LOOK_EVERY_MS) == []


def test_the_shipped_acts_begin_as_the_story_does() -> None:
    acts = read_acts(ACTS_FILE)
    assert list(acts[: len(opening_acts())]) == list(opening_acts())
    assert all(act.scripted for act in acts)


@pytest.mark.row("L5")
def test_no_release_of_the_shipped_site_comes_before_the_true_strength_at_the_coldest_point() -> None:
    needed = {"strip": 3.5, "walk": 3.5, "load": 7.0}
    released = [x for x in from_json(LEDGER_FILE.read_text(encoding="utf-8")) if x.after == "released"]
    assert len(released) >= 8
    for line in released:
        bay = BayId(line.pour.removesuffix("-p1"))
        assert true_strength_mpa(bay, line.at_ms) >= needed[line.operation], line
