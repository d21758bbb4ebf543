"""A host's clock that somebody sets, and a site book's face towards the service, in memory."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from shared.errors import StoreError
from shared.models.acts import Act
from shared.models.base import LoggerId, Ms, PourId
from shared.models.decisions import ClockSpan, Doubt, DoubtKind, LogEntry
from shared.models.messages import NewMessage
from shared.models.readings import Heard
from shared.ports import PourRecord


@dataclass
class HostClock:
    """A wall clock that may be wrong, beside time since boot that never is."""

    true_ms: Ms
    offset_ms: int = 0
    right: bool = True
    """Known to be right, while it is."""
    boots: int = 1
    booted_ms: Ms = 0

    def __post_init__(self) -> None:
        self.booted_ms = self.booted_ms or self.true_ms

    def now(self) -> Ms:
        return self.true_ms + self.offset_ms

    def boot(self) -> tuple[str, int]:
        return f"boot-{self.boots}", self.true_ms - self.booted_ms

    def synchronised(self) -> bool:
        return self.right and self.offset_ms == 0

    def pass_(self, ms: int) -> None:
        """Let true time pass."""
        self.true_ms += ms

    def reboot(self, down_ms: int, offset_ms: int = 0) -> None:
        """Be down for a while, and come up with another hour."""
        self.true_ms += down_ms
        self.boots, self.booted_ms, self.offset_ms = self.boots + 1, self.true_ms, offset_ms


@dataclass
class MemoryServiceBook:
    """The `ServiceBook` port; `wrong` and `damaged` say what its checks find."""

    spans: list[ClockSpan] = field(default_factory=list)
    open: dict[DoubtKind, Doubt] = field(default_factory=dict)
    told: list[NewMessage] = field(default_factory=list)
    log: list[LogEntry] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)
    lines: list[str] = field(default_factory=lambda: ["a" * 64])
    wrong: str = ""
    damaged: str | None = None
    down: bool = False
    steps: list[str] = field(default_factory=list)

    def _up(self, step: str) -> None:
        if self.down:
            raise StoreError("the book is down")
        self.steps.append(step)

    def clock(self) -> Sequence[ClockSpan]:
        return tuple(self.spans)

    def keep_clock(self, spans: Sequence[ClockSpan]) -> None:
        self._up("clock")
        self.spans = list(spans)

    def doubts(self) -> Sequence[Doubt]:
        return tuple(self.open.values())

    def raise_doubt(self, doubt: Doubt, messages: Sequence[NewMessage]) -> bool:
        self._up(f"doubt {doubt.kind}")
        if doubt.kind in self.open:
            return False
        self.open[doubt.kind] = doubt
        self.told += messages
        return True

    def end_doubt(self, kind: DoubtKind, log: LogEntry, act: Act | None = None) -> bool:
        self._up(f"end {kind}")
        if self.open.pop(kind, None) is None:
            return False
        self.log.append(log)
        self.acts += [] if act is None else [act]
        return True

    def log_head(self) -> tuple[int, str]:
        return len(self.lines), self.lines[-1] if self.lines else ""

    def verify_log(self, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
        if self.wrong:
            raise StoreError(self.wrong)
        for seq, digest in anchors:
            if self.lines[seq - 1 : seq] != [digest]:
                raise StoreError(f"anchor {seq} is not in the log")
        return self.log_head()

    def oldest_due_ms(self, now: Ms) -> Ms | None:
        return None if now else 0

    def damage(self) -> str | None:
        return self.damaged

    def heard(self, logger: LoggerId) -> Heard | None:
        return Heard(logger, 0) if self.down else None

    def records(self) -> Sequence[PourRecord]:
        return ()

    def close_records(self, pours: Collection[PourId], log: LogEntry) -> bool:
        return not pours and self.log.count(log) == 0

    def tidy(self) -> str | None:
        return None
