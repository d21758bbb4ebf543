"""The runbook's commands, cut out and run as they stand under a folder of the test's own: a real Mosquitto with TLS,
the service, `mosquitto_pub` as the logger; then backup and restore. Nothing of systemd runs; its units are read.

Broker, service and shell lines are processes; other commands of slabhour run in this one, with the arguments that the
shell makes of them: each would take seconds to begin.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import ssl
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPSConnection
from pathlib import Path

import pytest
import yaml  # type: ignore[import-untyped]  # its types are no dependency
from deploy_support import Ran, run
from ingest_support import until
from mqtt_support import MOSQUITTO, free_port, listening
from readme_support import background, blocks, checkout, shell
from repo_support import ROOT

from deploy.secret_files import secrets_of
from shared.sitefile import load

PAGE = "deploy/RUNBOOK.md"
UNITS = ("slabhour.service", "slabhour-broker.service")
OF_PEOPLE = {"plan", "mix", "bay"}
"""What `check` finds wrong with a new site: what the engineer and the laboratory have not given yet."""
TEXT = (ROOT / PAGE).read_text(encoding="utf-8")
needs_servers = pytest.mark.skipif(
    MOSQUITTO is None or shutil.which("mosquitto_pub") is None or shutil.which("openssl") is None,
    reason="Debian's mosquitto, mosquitto-clients and openssl are not installed",
)


@dataclass(frozen=True, slots=True)
class Runbook:
    """Types the runbook's lines where it says."""

    folder: Path
    env: dict[str, str]
    capsys: pytest.CaptureFixture[str]

    @property
    def exported(self) -> str:
        """The line that names the places."""
        return commands(blocks(PAGE)["first"])[0]

    def type(self, line: str) -> Ran:
        """Type a line: one of slabhour in this process, with the arguments that the shell makes of it."""
        if not line.startswith("slabhour "):
            return Ran(0, shell(f"{self.exported}\n{line}", self.folder, self.env), "")
        words = shell(f"{self.exported}\nprintf '%s\\0' {line}", self.folder, self.env).split("\0")
        return run(self.capsys, words[1:-1])


def commands(block: str) -> list[str]:
    return [line for line in block.splitlines() if line and not line.startswith("#")]


@pytest.fixture
def prefix() -> Iterator[Path]:
    """A folder that the user mosquitto may pass, as it may /srv."""
    with tempfile.TemporaryDirectory(prefix="slabhour-") as folder:
        Path(folder).chmod(0o711)
        yield Path(folder)


def test_ten_commands_lead_from_a_bare_machine_to_a_reading() -> None:
    begins = TEXT.index("## From nothing"), TEXT.index("`check` still names")
    every = re.findall(r"```sh\n(.*?)```", TEXT[slice(*begins)], re.DOTALL)
    assert len(every) == 3
    assert sum(len(commands(block)) for block in every) <= 10
    assert list(blocks(PAGE)) == ["first", "then", "byhand", "logger", "renew", "backup", "restore"]


@pytest.mark.needs_mosquitto
@needs_servers
def test_the_runbooks_commands_lead_to_a_site_with_tls_whose_reading_is_stored_backed_up_and_restored(
    prefix: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site, cut, ports = prefix / "site", blocks(PAGE), (free_port(), free_port())
    (prefix / "code").mkdir()
    code = checkout(prefix / "code")
    env = {"CODE": str(code), "SITE": str(site), "UNITS": str(prefix / "units"), "HOST": "slab.site.example"}
    env |= {"MQTT_PORT": str(ports[0]), "WEB_PORT": str(ports[1])}
    book = Runbook(prefix, env, capsys)
    *_, given, install = commands(cut["first"])
    check, publish, listed = commands(cut["then"])
    made = book.type(commands(cut["first"])[1])
    assert (made.code, "next: slabhour logger credentials" in made.out) == (0, True)
    assert "password: " in book.type(given).out
    assert "nothing was started" in book.type(install).out
    _look_at_units(prefix / "units", site, code)
    with background(f"{book.exported}\n{cut['byhand']}", prefix, env):
        until(lambda: all(listening(p) for p in ports), 120)
        until((site / "var" / "control.sock").exists, 120)
        checked = book.type(check)
        # Whether this machine's clock is right is not the runbook's.
        assert set(re.findall(r"^WRONG ([\w-]+):", checked.out, re.MULTILINE)) - {"clock"} == OF_PEOPLE
        assert "the service is let in and nobody without a name" in checked.out
        assert book.type(publish).code == 0
        until(lambda: "17.5 degC" in book.type(listed).out, 120)
        assert _publishes(site, ports[0], "lg-01", None) != 0
        assert _alive(site, ports[1]) == 200
        _let_a_logger_in_and_out(book, site, ports[0])
        assert "whole" in book.type(*commands(cut["backup"])).out
    assert "restored" in book.type(*commands(cut["restore"])).out
    assert book.type(*commands(cut["renew"])).code == 0
    _look_at_log(prefix / "background.log", site)


def _let_a_logger_in_and_out(book: Runbook, site: Path, port: int) -> None:
    given, replaced, removed = commands(blocks(PAGE)["logger"])
    passwords = []
    for line in (given, replaced):
        assert book.type(line).code == 0
        passwords.append(re.findall(r"^lg-02 (\S+)$", (site / "secrets" / "loggers").read_text(), re.MULTILINE)[0])
        _reload(site)
        until(lambda: _publishes(site, port, "lg-02", passwords[-1]) == 0, 120)
    assert _publishes(site, port, "lg-02", passwords[0]) != 0
    assert book.type(removed).code == 0
    _reload(site)
    until(lambda: _publishes(site, port, "lg-02", passwords[1]) != 0, 120)


def _reload(site: Path) -> None:
    """Do what `systemctl reload slabhour-broker` does."""
    config = os.fsencode(site / "broker" / "mosquitto.conf")
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        with suppress(OSError):
            words = one.read_bytes().split(b"\0")
            if config in words and words[0].endswith(b"mosquitto"):
                os.kill(int(one.parent.name), signal.SIGHUP)


def _publishes(site: Path, port: int, user: str, password: str | None) -> int:
    """Return how `mosquitto_pub` ends for a logger with that password, or without any."""
    named = [] if password is None else ["-u", user, "-P", password]
    said = ["mosquitto_pub", "-h", "localhost", "-p", str(port), "--cafile", str(site / "tls" / "ca.pem"), "-q", "1"]
    said += [*named, "-t", f"slabhour/yard/r/{user}", "-m", "[]"]
    return subprocess.run(said, capture_output=True, check=False, timeout=60).returncode


def _alive(site: Path, port: int) -> int:
    context = ssl.create_default_context(cafile=site / "tls" / "ca.pem")
    link = HTTPSConnection("localhost", port, timeout=60, context=context)
    try:
        link.request("GET", "/alive")
        answer = link.getresponse()
        answer.read()
        return answer.status
    finally:
        link.close()


def _look_at_log(log: Path, site: Path) -> None:
    """What the service said is JSON lines; none of the site's secrets is in anything that was logged."""
    text = log.read_text(encoding="utf-8")
    lines = [json.loads(line) for line in text.splitlines() if line.startswith("{")]
    assert any("first admin" in line["message"] for line in lines)
    assert {"at", "level", "logger", "message"} <= set.intersection(*(set(line) for line in lines))
    assert "Traceback" not in text
    secrets = secrets_of(load(site / "site.toml"))
    assert len(secrets) > 3
    assert [one for one in secrets if one in text] == []


def _look_at_units(units: Path, site: Path, code: Path) -> None:
    """As installed they name this site and this code, and systemd has nothing to say against them, where it is."""
    text = "".join((units / name).read_text(encoding="utf-8") for name in UNITS)
    assert f"ExecStart={code}/.venv/bin/slabhour serve --site {site}/site.toml" in text
    assert f"-c {site}/broker/mosquitto.conf" in text
    assert "/srv/slabhour" not in text
    if shutil.which("systemd-analyze") is None or not Path("/usr/lib/systemd/system/sysinit.target").exists():
        return
    for name in UNITS:
        # Another unit than ours may be at fault on a machine: only what is said of ours counts.
        done = subprocess.run(
            ["systemd-analyze", "verify", "--man=no", units / name],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env={**os.environ, "SYSTEMD_LOG_LEVEL": "warning"},
        )
        assert [line for line in done.stderr.splitlines() if name in line] == []


@pytest.mark.parametrize("name", UNITS)
def test_a_unit_is_hardened_and_started_again(name: str) -> None:
    text = (ROOT / "deploy" / "systemd" / name).read_text(encoding="utf-8")
    said = dict(line.split("=", 1) for line in text.splitlines() if "=" in line and not line.startswith("#"))
    assert said["User"] != "root"
    wanted = {"ProtectSystem": "strict", "NoNewPrivileges": "yes", "Restart": "always", "ProtectHome": "yes"}
    wanted |= {"CapabilityBoundingSet": "", "PrivateDevices": "yes", "PrivateTmp": "yes", "RestrictNamespaces": "yes"}
    assert {key: said.get(key) for key in wanted} == wanted
    assert {"MemoryMax", "TasksMax", "ReadWritePaths", "InaccessiblePaths", "SystemCallFilter"} <= set(said)
    if name == "slabhour.service":
        assert said["WatchdogSec"] == "60"
        # It asks whether the clock is synchronised, and an answer of "no" would suspend every gate.
        assert "ProtectClock" not in said
        assert "SystemCallFilter=adjtimex clock_adjtime" in text


def test_the_compose_file_has_broker_service_and_database_hardened_and_closed() -> None:
    text = (ROOT / "deploy" / "compose" / "compose.yaml").read_text(encoding="utf-8")
    found = yaml.safe_load(text)["services"]
    assert set(found) == {"broker", "service", "database"}
    for name, one in found.items():
        assert (one["restart"], one["read_only"], one["cap_drop"]) == ("always", True, ["ALL"]), name
        assert "no-new-privileges:true" in one["security_opt"]
        assert "mem_limit" in one
    # Nobody outside reaches the database, and its password is in a file.
    assert "ports" not in found["database"]
    assert found["database"]["profiles"] == ["database"]
    assert found["database"]["environment"]["POSTGRES_PASSWORD_FILE"] == "/run/secrets/database"  # noqa: S105
    assert "PASSWORD:" not in text
    assert (ROOT / "deploy" / "compose" / found["service"]["build"]["context"]).resolve() == ROOT
    docker = (ROOT / found["service"]["build"]["dockerfile"]).read_text(encoding="utf-8")
    assert "USER slabhour" in docker
    if shutil.which("docker") is None:
        return
    tried = ["docker", "compose", "-f", str(ROOT / "deploy" / "compose" / "compose.yaml")]
    if subprocess.run([*tried, "version"], capture_output=True, check=False, timeout=60).returncode == 0:
        subprocess.run([*tried, "--profile", "database", "config", "-q"], check=True, timeout=60)


def test_every_alarm_has_its_place_in_the_runbook_and_none_is_left_of_one_that_is_gone() -> None:
    rules = yaml.safe_load((ROOT / "deploy" / "prometheus" / "alerts.yml").read_text(encoding="utf-8"))["groups"]
    alarms = [rule["alert"] for group in rules for rule in group["rules"]]
    assert re.findall(r"^### (Slabhour\w+)$", TEXT, re.MULTILINE) == alarms


def test_what_the_runbook_names_in_the_checkout_exists() -> None:
    for name in re.findall(r"`(deploy/[\w./-]+|README\.md)`", TEXT):
        assert (ROOT / name).exists(), name
