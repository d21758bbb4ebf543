"""Forecasts worked out in a process of their own: a site that is sped up has no time to wait for them.

One batch at a time, and the next one is asked for only when the last is answered: a slow machine makes fewer
forecasts, and no round waits for one.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
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


class Beside:
    """A `Foreseer` with a process of its own, which ends with this one."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=work, args=(theirs,), name="foreseeing", daemon=True)
        self._process.start()
        # Theirs alone is open at the other end, so that each notices when the other is gone.
        theirs.close()

    def ask(self, asked: Sequence[Asked]) -> None:
        self._pipe.send(list(asked))

    def answers(self) -> Sequence[Foreseen] | None:
        if not self._pipe.poll():
            return None
        found = self._pipe.recv()
        if isinstance(found, str):
            raise RuntimeError(found)
        return list(found)

    def close(self) -> None:
        """End the process, also in the middle of a batch: nobody waits for it any more."""
        self._pipe.close()
        self._process.kill()
        self._process.join()
        self._process.close()


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
    """Return how often a site foresees that is sped up `rate` times: as often as there is real time for it."""
    each_ms, looks_ms = (round(1000.0 * rate * s) for s in (EACH_S, LOOKS_S))
    return Pace(max(EVERY_MS, each_ms), max(LOOKS_APART_MS, looks_ms), AT_ONCE, AT_ONCE, FEWER, foreseer)
