"""The people of a simulated site: they pour, sign, strip, confirm, lift holds; late, sometimes wrongly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any, Final

from sim_parts import read
from world_slab import MINUTE_MS, Slab

from shared.models.acts import Act, act_from
from shared.models.base import Ms

LOOK_EVERY_MS: Final = 20 * MINUTE_MS
SIGNERS: Final = ("qc", "engineer", "super")
_FIX: Final = {"freeze suspected", "conflicting readings", "sensor doubtful", "placement in doubt", "mix in doubt"}
_UNCONFIRMED: Final = """
SELECT DISTINCT message FROM delivery WHERE state = 'accepted'
  AND message IN (SELECT no FROM message WHERE kind IN ('withdrawal', 'keep off'))
"""
At = Callable[[Ms, Callable[[], None]], None]


@dataclass(frozen=True)
class PourPlan:
    """One pour as it truly goes."""

    name: str
    slab: Slab
    end_ms: Ms


@dataclass
class People:
    """They see what the site book shows, and hand in acts; `hand_in` takes those that are refused, too."""

    rng: Random
    careless: float
    book: Path
    at: At
    hand_in: Callable[[Act], bool]
    clock: Callable[[], Ms]
    """The service's own clock: acts carry its hour."""
    true: Callable[[], Ms]
    done: set[tuple[Any, ...]] = field(default_factory=set)
    pours: list[PourPlan] = field(default_factory=list)

    def act(self, kind: str, who: str, **fields: Any) -> bool:
        """Hand in an act now; return whether it was accepted."""
        at = datetime.fromtimestamp(self.clock() / 1000, UTC)
        return self.hand_in(act_from({"kind": kind, "at": at, "who": who, **fields}))

    def plan(self, pour: PourPlan) -> None:
        """Let a pour happen."""
        self.pours.append(pour)
        self.at(pour.slab.placed_ms + self._min(1, 20), lambda: self._started(pour))
        self.at(pour.end_ms + self._min(1, 40), lambda: self._ended(pour))

    def _min(self, least: int, most: int) -> Ms:
        return self.rng.randrange(least, most) * MINUTE_MS

    def _late(self, least: int, most: int) -> Ms:
        longer = 8 if self.rng.random() < self.careless else 1
        return self._min(least, most) * longer

    def _started(self, pour: PourPlan) -> None:
        if not self.act("pour_start", "super", bay="3-b1", pour=pour.name, happened=_at(pour.slab.placed_ms)):
            self.at(self.true() + self._min(5, 15), lambda: self._started(pour))

    def _ended(self, pour: PourPlan) -> None:
        said = pour.end_ms
        if self.rng.random() < self.careless:
            said = max(pour.slab.placed_ms + MINUTE_MS, said + self.rng.randrange(-90, 60) * MINUTE_MS)
            self.at(self.true() + self._min(60, 900), lambda: self._corrected(pour))
        said = min(said, self.clock())
        if not self.act("pour_end", "super", pour=pour.name, happened=_at(said)):
            self.at(self.true() + self._min(5, 25), lambda: self._ended(pour))
            return
        self.at(self.true() + self._late(20, 300), lambda: self._checked(pour))

    def _corrected(self, pour: PourPlan) -> None:
        fields = {"pour": pour.name, "happened": _at(pour.end_ms), "second_person": "qc", "why": "wrong hour entered"}
        if self.act("pour_end", "super", **fields):
            self.at(self.true() + self._late(10, 120), lambda: self._checked(pour))

    def _checked(self, pour: PourPlan) -> None:
        row = read(self.book, "SELECT end_ms FROM pour WHERE id = ?", [pour.name])
        if row and row[0][0] is not None:
            said = {"mix": "c32-s", "ticket": "t-1", "end": _at(row[0][0]), "loggers_alive": True, "plan_seen": True}
            self.act("second_check", "qc", pour=pour.name, **said)

    def look(self) -> None:
        """See what waits for somebody, and plan to do it."""
        for gate in read(self.book, "SELECT g.* FROM gate g JOIN pour p ON p.id = g.pour WHERE p.closed_ms IS NULL"):
            self._see_gate(gate["pour"], gate["operation"], gate["state"], gate["epoch"], len(gate["signers"]))
        for hold in read(self.book, "SELECT h.* FROM hold h JOIN pour p ON p.id = h.pour WHERE p.closed_ms IS NULL"):
            if hold["kind"] in _FIX:
                self._once(("hold", hold["pour"], hold["kind"], hold["since_ms"]), 20, 240, self._lifts(hold))
        for doubt in read(self.book, "SELECT * FROM doubt"):
            self._once(("doubt", doubt["kind"], doubt["since_ms"]), 20, 90, self._resumes(doubt["kind"]))
        for row in read(self.book, _UNCONFIRMED):
            self._once(("confirm", row[0]), 2, 12, self._confirms(row[0]))

    def _once(self, key: tuple[Any, ...], least: int, most: int, deed: Callable[[], None]) -> None:
        if key not in self.done:
            self.done.add(key)
            self.at(self.true() + self._late(least, most), deed)

    def _see_gate(self, pour: str, operation: str, state: str, epoch: int, signed: int) -> None:
        key = (pour, operation, state, epoch)
        if state == "met":
            deed = self._signs(pour, operation)
            self._once((*key, signed), 5, 60, deed)
        elif state == "released" and operation != "load":
            self._once(key, 20, 200, lambda: self._does("under_way", "crew", pour, operation))
        elif state == "under way":
            self._once(key, 40, 180, lambda: self._does("done", "crew", pour, operation))
        elif state == "withdrawn":
            self._once(key, 30, 300, self._reopens(pour, operation, key))

    def _does(self, kind: str, who: str, pour: str, operation: str) -> None:
        self.act(kind, who, pour=pour, operation=operation)

    def _signs(self, pour: str, operation: str) -> Callable[[], None]:
        def deed() -> None:
            who = self.rng.choice(SIGNERS)
            others = ["strip", "walk"] if operation == "strip" and self.rng.random() < 0.7 else [operation]
            if self.act("sign", who, pour=pour, operations=others):
                return
            self.act("sign", self.rng.choice(SIGNERS), pour=pour, operations=[operation])

        return deed

    def _lifts(self, hold: Any) -> Callable[[], None]:
        pour, kind = str(hold["pour"]), str(hold["kind"])

        def deed() -> None:
            slab = next(p.slab for p in self.pours if p.name == pour)
            surface = slab.at_c("exposed edge", self.true())
            more = {"surface_c": round(surface, 1)} if kind == "freeze suspected" else {}
            if not self.act("lift", "qc", pour=pour, hold=kind, why="looked at it", **more):
                self.done.discard(("hold", pour, kind, hold["since_ms"]))

        return deed

    def _reopens(self, pour: str, operation: str, key: tuple[Any, ...]) -> Callable[[], None]:
        def deed() -> None:
            if not self.act("reopen", "engineer", pour=pour, operation=operation, cause="looked at it"):
                self.done.discard(key)

        return deed

    def _resumes(self, kind: str) -> Callable[[], None]:
        def deed() -> None:
            self.act("resume", "engineer", doubt=kind, why="set right")

        return deed

    def _confirms(self, message: int) -> Callable[[], None]:
        def deed() -> None:
            if not self.act("confirm", "super", message=message):
                self.done.discard(("confirm", message))

        return deed

    def stops(self) -> None:
        """Press STOP on the newest pour."""
        newest = read(self.book, "SELECT id FROM pour ORDER BY start_ms DESC LIMIT 1")
        if newest:
            self.act("stop", "crew", pour=newest[0][0], why="cracks seen")


def _at(at_ms: Ms) -> str:
    return datetime.fromtimestamp(at_ms / 1000, UTC).isoformat()
