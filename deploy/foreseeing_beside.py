"""Forecasts worked out in a process of their own: a batch holds Python's lock for a second, and pages and rounds do not
wait for it.

One batch at a time, and the next one is asked for only when the last is answered: a slow machine makes fewer
forecasts, and no round waits for one.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from multiprocessing.connection import Connection
from typing import Final

from cure.foresee import Asked, Foreseen, foresee
from cure.foresight import EVERY_MS, LOOKS_APART_MS, STANDS_MS, Foreseer, Pace

EACH_S: Final = 10.0
"""Real time between two forecasts of a pour: six pours take some one of them on one core."""
LOOKS_S: Final = 1.5
AT_ONCE: Final = 1
"""Pours that are looked at in a turn, and worked out in a batch: to look costs the rounds as much as to judge."""
FASTEST: Final = STANDS_MS / 1000.0 / (EACH_S + LOOKS_S)
"""A site faster than this foresees nothing: what was foreseen would be old before it is made anew."""
FEWER: Final = 100
"""Members of an ensemble: a chance is told to a few percent, in a third of the time."""
NICE: Final = 10
"""Broker, rounds and pages come first."""
PATIENCE_S: Final = 600.0
"""For a batch: one that takes longer hangs. A forecast is told for three hours, so one that is lost is made again."""


class Beside:
    """A `Foreseer` with a process of its own, which ends with this one. One that died is started again."""

    def __init__(self, patience_s: float = PATIENCE_S) -> None:
        self._patience_s = patience_s
        self._running: tuple[Connection, subprocess.Popen[bytes]] | None = None
        self._asked_s = 0.0

    def ask(self, asked: Sequence[Asked]) -> None:
        if self._running is not None and self._running[1].poll() is not None:
            self.close()
        if self._running is None:
            self._running = _started()
        self._asked_s = time.monotonic()
        self._running[0].send(list(asked))

    def answers(self) -> Sequence[Foreseen] | None:
        if self._running is None:
            raise RuntimeError("nothing was asked of the process that foresees")
        try:
            there, late = self._running[0].poll(), time.monotonic() - self._asked_s > self._patience_s
            found = self._running[0].recv() if there else None
        except (OSError, EOFError) as error:
            self.close()
            raise RuntimeError("the process that foresees has ended; the next batch starts another") from error
        if isinstance(found, str):
            raise RuntimeError(found)
        if found is None and late:
            self.close()
            raise RuntimeError(f"no forecast within {self._patience_s:g} s; the next batch starts another process")
        return None if found is None else list(found)

    def close(self) -> None:
        """End the process, also in the middle of a batch: nobody waits for it any more."""
        if self._running is None:
            return
        (pipe, process), self._running = self._running, None
        pipe.close()
        process.kill()
        process.wait()


def _started() -> tuple[Connection, subprocess.Popen[bytes]]:
    """Return a pipe and the process at its other end: a Python of its own, which knows nothing of this one's main."""
    pipe, theirs = multiprocessing.Pipe()
    # Theirs alone is open at the other end, so that each notices when the other is gone.
    with theirs:
        command = [sys.executable, "-m", __name__, str(theirs.fileno())]
        process = subprocess.Popen(command, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL)  # noqa: S603
    return pipe, process


def work(pipe: Connection) -> None:
    """Answer batches until the other end is closed."""
    # Ctrl-C is for whoever started it; that one closes the pipe.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.nice(NICE)
    while True:
        try:
            asked = pipe.recv()
        except EOFError:
            return
        try:
            found: list[Foreseen] | str = foresee(asked)
        except Exception as error:  # noqa: BLE001  it is told to whoever asked, who writes it down
            found = f"{type(error).__name__}: {error}"
        try:
            pipe.send(found)
        except OSError:
            return


def pace(rate: float, foreseer: Foreseer) -> Pace:
    """Return how often a site foresees; one that is sped up `rate` times, as often as there is real time for it."""
    if rate == 1.0:
        return Pace(foreseer=foreseer)
    each_ms, looks_ms = (round(1000.0 * rate * s) for s in (EACH_S, LOOKS_S))
    return Pace(max(EVERY_MS, each_ms), max(LOOKS_APART_MS, looks_ms), AT_ONCE, AT_ONCE, FEWER, foreseer)


if __name__ == "__main__":
    work(Connection(int(sys.argv[1])))
