"""What the service finds out about itself - clock, log, stores - and what follows: a doubt suspends every gate.

A doubt about the clock ends by a person's act, or when the clock has been synchronised for 10 min; one about the log or
a store ends by the engineer's act and a check that passes.
"""

from __future__ import annotations

import logging
import time
from pathlib import Path
from threading import Lock
from typing import Final

from cure.roles import check_role
from cure.rounds import StoreTrouble
from cure.work import SYSTEM
from deploy import restored
from deploy.anchors import Anchors
from deploy.clockwatch import ClockWatch
from shared.errors import ActRefusedError, StoreError
from shared.models.acts import Resume, act_to
from shared.models.base import MINUTE_MS, THE_SITE, Ms, SensorId
from shared.models.decisions import Doubt, DoubtKind, LogEntry
from shared.models.messages import MessageKind, NewMessage
from shared.models.people import Role
from shared.models.setup import Setup
from shared.ports import Clock, Readings, ServiceBook
from shared.store import sqlite_care

LOG: Final = logging.getLogger(__name__)
ROUNDS: Final = 3
"""A store that fails in so many rounds on end is in doubt."""
ANCHOR_EVERY_MS: Final = 10 * MINUTE_MS
READINGS: Final = "readings.db"
AT_ONCE_BYTES: Final = 256 << 20
"""A larger file of readings is not looked through before the service begins, only hourly: it takes longer."""
ENDED_BY: Final[dict[DoubtKind, tuple[Role, ...]]] = {
    DoubtKind.CLOCK: (Role.ENGINEER, Role.QC),
    DoubtKind.LOG: (Role.ENGINEER,),
    DoubtKind.STORE: (Role.ENGINEER,),
}
HOW: Final[dict[DoubtKind, str]] = {
    DoubtKind.CLOCK: "set the clock right, then: slabhour resume clock --why ... (engineer, qc)",
    DoubtKind.LOG: "restore the newest backup (slabhour restore), then: slabhour resume log --why ... (engineer)",
    DoubtKind.STORE: "mend the store, then: slabhour resume store --why ... (engineer)",
}


class SelfCheck:
    """Looks after clock, log and stores. Plain functions: `serve` calls them from loops, `replay` from its own."""

    def __init__(
        self,
        setup: Setup,
        clock: Clock,
        book: ServiceBook,
        readings: Readings,
        trouble: StoreTrouble,
        anchors: Anchors,
        folder: Path | None = None,
    ) -> None:
        """`folder`: where a restore leaves its mark; None: nobody restores these stores."""
        self._folder = folder
        self._setup = setup
        self._clock = clock
        self._book = book
        self._readings = readings
        self._trouble = trouble
        self._anchors = anchors
        self._watch = ClockWatch(required=setup.site.site.clock_sync == "required")
        self._open: set[DoubtKind] = set()
        # Tick, heartbeat and acts come from threads of their own.
        self._lock = Lock()
        self._anchored: tuple[int, Ms] | None = None
        self._verified = float("-inf")

    def begin(self) -> None:
        """Check log, stores and clock, before anything else is done."""
        self._open = {d.kind for d in self._book.doubts()}
        self.verify(at_start=True)
        self._watch.begin(self._book.clock())
        self.look()

    def look(self) -> None:
        """Look at the clock, and at how the stores did; each tick."""
        seen = self._watch.look(self._clock)
        now = self._clock.now()
        if seen.doubt is not None:
            self._doubt(DoubtKind.CLOCK, seen.doubt, now)
        elif DoubtKind.CLOCK in self._open and seen.settled:
            body = {"doubt": DoubtKind.CLOCK, "event": "ended", "reason": "synchronised for 10 min"}
            self._end(DoubtKind.CLOCK, LogEntry(now, SYSTEM, "doubt", body))
        if self._trouble.rounds >= ROUNDS:
            said = f"a store failed in {ROUNDS} rounds on end: {self._trouble.said}"
            self._doubt(DoubtKind.STORE, said, now)
        # After the doubt: the jump itself is what tells of it until then.
        if seen.keep:
            self._book.keep_clock(seen.spans)
        self._watch.done(seen)

    def verify(self, *, at_start: bool = False) -> bool:
        """Check the log against itself and its anchors, and the stores' files; return whether all is well."""
        now = self._clock.now()
        try:
            anchors = self._anchors.read()
            if (mark := self.restored()) is not None:
                self._doubt(DoubtKind.LOG, mark.reason(anchors), now)
                return False
            self._book.verify_log(anchors)
        except StoreError as error:
            self._doubt(DoubtKind.LOG, str(error), now)
            return False
        damage = self._book.damage() or self._damaged_readings(AT_ONCE_BYTES if at_start else None)
        if damage is not None:
            self._doubt(DoubtKind.STORE, damage, now)
            return False
        self._verified = time.monotonic()
        return True

    def restored(self) -> restored.Restored | None:
        """Return which older copy the stores are, while nobody has accepted it. Raises `StoreError`."""
        return None if self._folder is None else restored.marked(self._folder)

    def verified_s(self) -> float:
        """Return the real seconds since log and file were last found whole."""
        return time.monotonic() - self._verified

    def anchor(self, *, at_once: bool = False) -> tuple[int, str]:
        """Return the log's newest line, and now and then write it down as an anchor; never of a log in doubt."""
        head, now = self._book.log_head(), self._clock.now()
        seq, at = self._anchored or (0, now - ANCHOR_EVERY_MS)
        if head[0] > seq and (at_once or not at <= now < at + ANCHOR_EVERY_MS) and DoubtKind.LOG not in self._open:
            self._anchors.add(head, now)
            self._anchored = head[0], now
        return head

    def end(self) -> None:
        """Write down where clock and log stand, before the book is closed."""
        try:
            self._book.keep_clock(self._watch.spans)
            self.anchor(at_once=True)
        except StoreError as error:
            LOG.error("%s", error)

    def resume(self, act: Resume) -> None:
        """End a doubt by a person's act, when its check passes. Raises `ActRefusedError`."""
        kind = act.doubt
        self.refuse(act)
        now = self._clock.now()
        mark = self.restored() if kind is DoubtKind.LOG else None
        if mark is not None:
            self._anchors.add((mark.seq, mark.hash), now, restored=True)
        if not self._end(kind, LogEntry(now, act.who, "act", act_to(act)), act):
            raise ActRefusedError(f"there is no doubt about the {kind}")
        if mark is not None and self._folder is not None:
            restored.accepted(self._folder)

    def refuse(self, act: Resume) -> None:
        """Raise `ActRefusedError` when a doubt is not to be ended by this act, or still stands."""
        check_role(self._setup.site, act, ENDED_BY[act.doubt])
        wrong = {DoubtKind.CLOCK: self._wrong_clock, DoubtKind.LOG: self._wrong_log, DoubtKind.STORE: self._wrong_store}
        if (said := wrong[act.doubt]()) is not None:
            raise ActRefusedError(f"the {act.doubt} is still in doubt: {said}")

    def _end(self, kind: DoubtKind, log: LogEntry, act: Resume | None = None) -> bool:
        with self._lock:
            ended = self._book.end_doubt(kind, log, act)
            self._open.discard(kind)
        return ended

    def _wrong_clock(self) -> str | None:
        seen = self._watch.look(self._clock)
        if seen.doubt is not None:
            return seen.doubt
        return "it is not synchronised" if seen.unsynchronised else None

    def _wrong_log(self) -> str | None:
        try:
            mark, anchors = self.restored(), self._anchors.read()
            self._book.verify_log(anchors if mark is None else mark.within(anchors))
        except StoreError as error:
            return f"{error}. A log that cannot be restored is not gone on with: begin a new data folder, keep this one"
        return None

    def _wrong_store(self) -> str | None:
        try:
            self._readings.between(SensorId("check.0"), 0, 1)
            damage = self._book.damage() or self._damaged_readings()
        except StoreError as error:
            return str(error)
        if damage is None:
            self._trouble.rounds = 0
        return damage

    def _damaged_readings(self, most_bytes: int | None = None) -> str | None:
        """Return what is wrong with the file of readings, if they are in one, or None.

        Of a page that no pour is judged by nobody else would tell: what comes to lie on it is lost.
        """
        if self._folder is None or self._setup.site.stores.readings.kind != "sqlite":
            return None
        file = self._folder / READINGS
        if not file.is_file() or (most_bytes is not None and file.stat().st_size > most_bytes):
            return None
        found = sqlite_care.damage(file)
        return None if found is None else f"{READINGS}: {sqlite_care.said(found)}"

    def _doubt(self, kind: DoubtKind, reason: str, now: Ms) -> None:
        if kind in self._open:
            return
        LOG.error("every gate is suspended: %s", reason)
        site = self._setup.site.site
        facts = {
            "site": site.name,
            "site_id": site.id,
            "zone": site.zone,
            "units": site.units,
            "hour_ms": now,
            "doubt": kind,
            "reason": reason,
            "how": HOW[kind],
        }
        told = NewMessage(MessageKind.IN_DOUBT, THE_SITE, kind, now, now, None, facts)
        with self._lock:
            self._book.raise_doubt(Doubt(kind, now, reason), [told])
            self._open.add(kind)
