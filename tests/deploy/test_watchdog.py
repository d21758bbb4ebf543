from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path
from threading import Event

import pytest
from repo_support import ROOT

from deploy.watchdog import EXIT_STALE, Watchdog

BLOCKED = """
from threading import Event
from deploy.watchdog import Watchdog
from ingest.message import Incoming
from ingest.writer import Queued, Writer
never = Event()
writer = Writer(lambda batch: never.wait(), print)
writer.start()
writer.offer(Queued(Incoming("r", b"[]"), print), 0.0)
Watchdog({"readings": writer.stale_s}, stale_after_s=0.5, look_every_s=0.1).start()
never.wait(50)
"""
"""A service of which nothing is left but what stores, in a store that never answers, and what looks after it."""


@pytest.mark.row("J3", "N7")
def test_a_loop_that_stopped_turning_ends_the_process() -> None:
    ended = Event()
    ages = {"tick": 0.0}
    dog = Watchdog({"tick": lambda: ages["tick"]}, stale_after_s=1.0, look_every_s=0.01, end=ended.set)
    dog.start()
    try:
        assert not ended.wait(0.1)
        ages["tick"] = 1.5
        assert ended.wait(60)
    finally:
        dog.close()


@pytest.mark.parametrize("age", [float("inf"), float("nan")])
def test_a_loop_whose_age_is_unknown_has_stopped(age: float) -> None:
    assert Watchdog({"tick": lambda: age, "readings": lambda: 0.0}).stale() == ("tick",)


def test_loops_that_turn_are_left_alone() -> None:
    assert Watchdog({"tick": lambda: 119.9}).stale() == ()


def test_the_service_manager_hears_of_loops_that_turn_and_of_no_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "n"))
        manager.settimeout(30)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "n"))
        ended = Event()
        stopped = Watchdog({"tick": lambda: 121.0}, look_every_s=0.01, end=ended.set)
        stopped.start()
        assert ended.wait(30)
        stopped.close()
        manager.setblocking(False)
        with pytest.raises(BlockingIOError):
            manager.recv(64)
        manager.settimeout(30)
        turning = Watchdog({"tick": lambda: 0.0}, look_every_s=0.01)
        turning.start()
        assert manager.recv(64) == b"WATCHDOG=1"
        turning.close()


@pytest.mark.row("N7")
def test_a_writer_that_a_store_never_answers_ends_the_process_by_itself() -> None:
    ended = subprocess.run([sys.executable, "-c", BLOCKED], cwd=ROOT, timeout=60, check=False, capture_output=True)
    assert ended.returncode == EXIT_STALE, ended.stderr.decode()
