"""A simulated site's clock, its channels with their own ledger, and the death of a service at any commit or send."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, Final

from world_slab import MINUTE_MS

from alerts.transport import Attempt
from shared.models.base import Ms
from shared.models.messages import Outcome, OutcomeKind


class DiedError(BaseException):
    """The process dies here; no `except Exception` may catch it."""


class SiteClock:
    """The machine's clock of a simulated site: wrong by an offset, counted since a boot."""

    def __init__(self, true_ms: Ms) -> None:
        self.true_ms = true_ms
        self.offset_ms = 0
        self.boots = 0
        self._boot_ms = true_ms

    def now(self) -> Ms:
        return self.true_ms + self.offset_ms

    def boot(self) -> tuple[str, int]:
        return f"boot-{self.boots}", self.true_ms - self._boot_ms

    def synchronised(self) -> bool:
        # A clock that is wrong is never said to be right; one that is right is.
        return self.offset_ms == 0

    def reboot(self) -> None:
        """Start counting anew."""
        self.boots += 1
        self._boot_ms = self.true_ms


@dataclass
class Fuse:
    """Ends the process at the n-th of what is counted from now on: commits of the book, sends before and after."""

    left: int | None = None
    dead: bool = False
    """Nothing more may be done by this process."""

    def burn(self, *_arguments: object) -> None:
        """Count one."""
        if self.dead:
            raise DiedError
        if self.left is not None:
            self.left -= 1
            if self.left <= 0:
                self.dead = True
                raise DiedError


@dataclass(frozen=True)
class Heard:
    """What a channel's own ledger knows of one attempt."""

    true_ms: Ms
    site_ms: Ms
    log_seq: int
    """Newest line of the site's log when the text was handed over."""
    recipient: str
    channel: int
    numbers: tuple[int, ...]
    arrived: bool
    """The recipient has it, whatever the service was told."""
    short: str


class Channels:
    """The `Transport` port: accepts, refuses, loses answers, is down for hours; a ledger of its own."""

    deadline_s = 20.0

    def __init__(
        self, clock: SiteClock, fuse: Fuse, rng: Random, bad: float, down: Callable[[str, Ms], bool], book: Path
    ) -> None:
        self.ledger: list[Heard] = []
        self._clock = clock
        self._fuse = fuse
        self._rng = rng
        self._bad = bad
        self.is_down = down
        self._book = book

    def send(self, attempt: Attempt, still_true: Callable[[], bool]) -> Outcome:
        self._fuse.burn()
        if not still_true():
            return Outcome(OutcomeKind.NOT_NOW, "no longer true, not begun")
        if self.is_down(attempt.recipient, self._clock.true_ms):
            return Outcome(OutcomeKind.NOT_NOW, "the channel is down")
        luck = self._rng.random()
        arrived = luck >= self._bad * 0.65
        self._note(attempt, arrived=arrived)
        self._fuse.burn()
        if luck >= self._bad:
            return Outcome(OutcomeKind.ACCEPTED, "yes")
        if luck >= self._bad * 0.35:
            return Outcome(OutcomeKind.UNSURE, "the answer was lost")
        never = luck < self._bad * 0.02
        return Outcome(OutcomeKind.NEVER if never else OutcomeKind.NOT_NOW, "no")

    def _note(self, attempt: Attempt, *, arrived: bool) -> None:
        self.ledger.append(
            Heard(
                self._clock.true_ms,
                self._clock.now(),
                log_head(self._book),
                attempt.recipient,
                attempt.channel,
                attempt.numbers,
                arrived,
                attempt.text.short,
            )
        )


def read(file: Path, query: str, values: Sequence[Any] = ()) -> list[sqlite3.Row]:
    """Return raw rows of a store, read by nothing of the product."""
    with_rows = _connection(file)
    return with_rows.execute(query, tuple(values)).fetchall()


_OPEN: dict[Path, sqlite3.Connection] = {}


def _connection(file: Path) -> sqlite3.Connection:
    if file not in _OPEN:
        _OPEN[file] = sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, isolation_level=None)
        _OPEN[file].row_factory = sqlite3.Row
    return _OPEN[file]


def let_go(folder: Path) -> None:
    """Close what `read` opened there."""
    for file in [f for f in _OPEN if f.parent == folder]:
        _OPEN.pop(file).close()


def log_head(book: Path) -> int:
    """Return the number of the log's newest line."""
    return int(read(book, "SELECT coalesce(max(seq), 0) FROM log")[0][0])


_DUE: Final = """
SELECT min(t) FROM (
  SELECT min(next_ms) AS t FROM delivery WHERE state IN ('queued', 'waiting')
  UNION ALL SELECT min(d.next_ms) FROM delivery d JOIN message m ON m.no = d.message
    WHERE d.state = 'accepted' AND m.kind IN ('withdrawal', 'keep off')
  UNION ALL SELECT min(s.next_due_ms) FROM pour_state s JOIN pour p ON p.id = s.pour WHERE p.closed_ms IS NULL)
"""


def next_due_ms(book: Path, now: Ms) -> Ms:
    """Return when the service has something to do without news, at least a minute from now, at most an hour."""
    due = read(book, _DUE)[0][0]
    return min(max(now + MINUTE_MS, due or 0), now + 60 * MINUTE_MS)


@dataclass
class Window:
    """Hours in which each recipient's channel is down."""

    spans: dict[str, list[tuple[Ms, Ms]]] = field(default_factory=dict)

    def __call__(self, recipient: str, true_ms: Ms) -> bool:
        return any(begin <= true_ms < end for begin, end in self.spans.get(recipient, ()))
