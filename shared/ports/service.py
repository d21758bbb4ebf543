"""What the running service writes about itself."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Protocol

from shared.models.acts import Act
from shared.models.base import LoggerId, Ms, PourId, SensorId
from shared.models.decisions import (
    ClockSpan,
    Doubt,
    DoubtKind,
    LogEntry,
    Pour,
)
from shared.models.messages import NewMessage
from shared.models.readings import Heard


@dataclass(frozen=True, slots=True)
class PourRecord:
    """A pour, open or closed, as the keeping of its record sees it."""

    pour: Pour
    sensors: frozenset[SensorId]
    """Those that were placed in its bay while it was there."""
    finished_ms: Ms | None
    """Since when every operation of it is done and nothing is open about it; None: something is not."""


class ServiceBook(Protocol):
    """What the running service writes about itself."""

    def clock(self) -> Sequence[ClockSpan]:
        """Return how the clock has run, oldest first."""
        ...

    def keep_clock(self, spans: Sequence[ClockSpan]) -> None:
        """Store the spans in place of those that are there."""
        ...

    def doubts(self) -> Sequence[Doubt]:
        """Return open doubts about the service itself."""
        ...

    def raise_doubt(self, doubt: Doubt, messages: Sequence[NewMessage]) -> bool:
        """Open a doubt, tell it, make every open pour due. False, and nothing changes, when that kind is open."""
        ...

    def end_doubt(self, kind: DoubtKind, log: LogEntry, act: Act | None = None) -> bool:
        """End a doubt; every open pour becomes due. False when there is none."""
        ...

    def log_head(self) -> tuple[int, str]:
        """Return (number, hash) of the newest log line; (0, "") for an empty log."""
        ...

    def verify_log(self, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
        """Return (lines, newest hash). Raises `StoreError` when a line is not as it was written, or an anchor (number,
        hash) kept elsewhere is not in it.
        """
        ...

    def oldest_due_ms(self, now: Ms) -> Ms | None:
        """Return since when the delivery that has waited longest could have gone; None: none waits."""
        ...

    def damage(self) -> str | None:
        """Return what is wrong with the book's own file, or None."""
        ...

    def heard(self, logger: LoggerId) -> Heard | None:
        """Return what a logger last said of itself; None: nothing yet."""
        ...

    def records(self) -> Sequence[PourRecord]:
        """Return every pour, in the order in which they began."""
        ...

    def close_records(self, pours: Collection[PourId], log: LogEntry) -> bool:
        """Close finished pours at the hour of a log line, and write that, before their readings are forgotten.

        False, with nothing written, when one of them is not finished.
        """
        ...

    def tidy(self) -> str | None:
        """Move the log beside the book's file into it; return what keeps it from that, or None."""
        ...
