"""README's own site, typed as it stands: Debian's mosquitto, mosquitto_pub, a real mail server."""

from __future__ import annotations

import json
import shutil
import socket
import time
from pathlib import Path
from threading import Event

import pytest
from mqtt_support import free_port
from readme_support import background, blocks, checkout, shell

pytestmark = [
    pytest.mark.needs_mosquitto,
    pytest.mark.skipif(
        shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/bin") is None
        or not shutil.which("mosquitto_pub"),
        reason="Debian's mosquitto and mosquitto-clients are not installed",
    ),
]


def listening(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def until(claim: object, seconds: float = 60.0) -> None:
    assert callable(claim)
    end = time.monotonic() + seconds
    while not claim():
        assert time.monotonic() < end, "it did not happen in time"
        Event().wait(0.2)


def test_readme_has_the_blocks_in_their_order() -> None:
    assert list(blocks()) == ["servers", "site", "serve", "publish", "sign"]


def test_readmes_commands_lead_from_a_buffer_to_a_release_by_mail(tmp_path: Path) -> None:
    folder, ports, run = checkout(tmp_path), (free_port(), free_port()), blocks()
    env = {"MQTT_PORT": str(ports[0]), "SMTP_PORT": str(ports[1])}
    log = folder / "background.log"
    status = ".venv/bin/slabhour status --site yard/site.toml --json"

    def entered() -> bool:
        return (folder / "yard/var/site.db").exists() and bool(
            [p for p in json.loads(shell(status, folder, env))["pours"] if p["estimate"] and p["estimate"]["age_h"]]
        )

    with background(run["servers"], folder, env):
        until(lambda: all(listening(p) for p in ports))
        assert "WRONG" not in shell(run["site"], folder, env)
        with background(run["serve"], folder, env):
            until(entered)
            shell(run["publish"], folder, env)
            assert "walk  MET, not signed" in shell(run["sign"], folder, env)
            until(lambda: log.read_text().count("Subject: RELEASED") >= 4)
    said = log.read_text()
    assert "Traceback" not in said
    # Strip and walk, to the superintendent and to QC, once each.
    assert said.count("Subject: RELEASED") == 4
    assert said.count("sign-off wanted") >= 4
