"""Processes of a benchmark, each told and answering by lines."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

PATIENCE_S: Final = 120.0


class Child:
    """A process that is told by lines of JSON and answers by them."""

    def __init__(self, module: str, told: dict[str, Any]) -> None:
        command = [sys.executable, "-m", f"deploy.bench.{module}"]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # noqa: S603
        self._tell(json.dumps(told))

    def _tell(self, line: str) -> None:
        if self._process.stdin is None:
            raise OSError("a child without standard input")
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def heard(self) -> str:
        """Return its next line."""
        if self._process.stdout is None or not (line := self._process.stdout.readline()):
            raise RuntimeError("a process of the benchmark ended; what it said stands above")
        return line.strip()

    def sits_on(self, cores: Iterable[int]) -> None:
        """Let it run on these cores only."""
        for task in Path(f"/proc/{self._process.pid}/task").iterdir():
            os.sched_setaffinity(int(task.name), cores)

    def say(self, word: str) -> None:
        """Tell it a word."""
        self._tell(word)

    def ask(self, word: str) -> dict[str, Any]:
        """Tell it a word, and return what it answers."""
        self._tell(word)
        said: dict[str, Any] = json.loads(self.heard())
        return said

    def close(self) -> None:
        """End it by ending its input; one that goes on all the same is killed."""
        if self._process.stdin is not None:
            self._process.stdin.close()
        try:
            self._process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()


def go(loggers: Sequence[Child]) -> None:
    """Tell them to begin."""
    for child in loggers:
        child.say("go")


def ended(loggers: Sequence[Child]) -> list[dict[str, Any]]:
    """Return what each has done, once it has ended its work. Raises `RuntimeError`: one could not do it, and why."""
    said: list[dict[str, Any]] = [json.loads(child.heard()) for child in loggers]
    if wrong := [one["failed"] for one in said if "failed" in one]:
        raise RuntimeError("; ".join(wrong))
    return said
