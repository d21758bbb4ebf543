"""README's commands, cut out to be run as they stand."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message as Mail
from pathlib import Path
from typing import Any, Final

from repo_support import ROOT

MARKED: Final = re.compile(r"<!-- run: ([a-z]+) -->\n```sh\n(.*?)```", re.DOTALL)


def blocks(page: str = "README.md") -> dict[str, str]:
    """Return the marked blocks of README, or of another page, by name."""
    return dict(MARKED.findall((ROOT / page).read_text(encoding="utf-8")))


def checkout(folder: Path) -> Path:
    """Return a folder in which README's relative paths lead where they do in a checkout that is set up."""
    (folder / "deploy").symlink_to(ROOT / "deploy")
    (folder / ".venv").symlink_to(sys.prefix)
    return folder


class Postbox:
    """What a real SMTP server was given, mail by mail, with the hour by a clock that only runs on."""

    def __init__(self) -> None:
        self.mails: list[Mail[str, str]] = []
        self._news = threading.Condition()

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - aiosmtpd's name
        """Take one mail."""
        with self._news:
            self.mails.append(message_from_bytes(envelope.content))
            self._news.notify_all()
        return "250 taken"

    def wait_for(self, wanted: Callable[[list[Mail[str, str]]], bool], seconds: float) -> bool:
        """Return whether the mails are as wanted before the time is over."""
        with self._news:
            return self._news.wait_for(lambda: wanted(self.mails), seconds)

    def subjects(self) -> list[str]:
        """Return the subjects so far."""
        return [str(mail["Subject"]) for mail in self.mails]


def told(mails: list[Mail[str, str]]) -> Counter[tuple[int, str]]:
    """Return how often each number went to each person."""
    counted: Counter[tuple[int, str]] = Counter()
    for mail in mails:
        subject = " ".join(str(mail["Subject"]).split())
        number = re.search(r"no\. (\d+)", subject)
        assert number, subject
        counted[int(number[1]), str(mail["To"]).split("@")[0]] += 1
    return counted


def shell(commands: str, folder: Path, env: dict[str, str], seconds: float = 120) -> str:
    """Run a block as a person would paste it; return what it printed."""
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", commands],
        cwd=folder,
        env={**os.environ, **env},
        capture_output=True,
        text=True,
        timeout=seconds,
        check=False,
    )
    assert done.returncode == 0, f"{commands}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@contextmanager
def background(commands: str, folder: Path, env: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """Run a block that leaves something running, in a process group of its own; end the group afterwards."""
    with (folder / "background.log").open("ab") as log:
        group = subprocess.Popen(
            ["bash", "-c", f"{commands}\nwait"],
            cwd=folder,
            env={**os.environ, **env},
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        try:
            yield group
        finally:
            _end(group)


def _end(group: subprocess.Popen[bytes]) -> None:
    for number, patience_s in ((signal.SIGTERM, 20.0), (signal.SIGKILL, 5.0)):
        try:
            os.killpg(group.pid, number)
        except ProcessLookupError:
            break
        until = time.monotonic() + patience_s
        while time.monotonic() < until and _lives(group.pid):
            group.poll()
            threading.Event().wait(0.05)
        if not _lives(group.pid):
            break
    group.wait(5)


def _lives(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True
