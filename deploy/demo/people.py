"""The demo's people, played from rules: they read the board and hand in the acts that a site's people would.

Pure but for its memory of what was handed in. Every act is marked `scripted`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

from deploy.demo import scenario
from deploy.demo.scenario import MONDAY_MS, at
from deploy.demo.truth import truth
from shared.models.acts import Act, Confirm, Done, Lift, Reopen, SecondCheck, Sign, UnderWay
from shared.models.base import DAY_MS, LOAD, MINUTE_MS, STRIP, WALK, BayId, Ms, Operation
from shared.models.decisions import Gate, GateState, HoldKind
from shared.models.messages import Message, MessageKind
from shared.ports import BoardRow

LOOK_EVERY_MS: Final = 2 * MINUTE_MS
"""How often they look at the board."""
AGAIN_MS: Final = 30 * MINUTE_MS
"""An act that changed nothing (it was refused) is handed in again after so long."""
WARM_ENOUGH_C: Final = 1.0
"""Below it a measured surface does not lift "freeze suspected"."""
EVERYBODY: Final = (STRIP, WALK, LOAD)
_ANSWERED_BY: Final = {
    MessageKind.WITHDRAWAL: ("super", GateState.WITHDRAWN),
    MessageKind.KEEP_OFF: ("crew-lead", GateState.UNDER_WAY),
}
"""Messages that repeat until somebody says "area clear": who does, while the gate is how."""
_ONCE: Final = "confirm"
"""The board does not show what is confirmed: a confirmation is not handed in again."""


@dataclass(frozen=True, slots=True)
class Rules:
    """How quick the demo's people are, in site minutes after what they answer to."""

    sign_min: int = 20
    begin_min: int = 45
    strip_takes_min: int = 90
    crews: int = 2
    check_min: int = 4
    lift_min: int = 25
    confirm_min: int = 10
    reopen_min: int = 20
    shift_from_min: int = 6 * 60 + 30
    shift_to_min: int = 17 * 60


def surface_c(bay: BayId, instant: Ms) -> float:
    """Return what a person measures at the surface of the virtual slab: its coldest point, to 0.1 degC."""
    return round(truth().coldest_c(bay, instant), 1)


@dataclass(slots=True)
class ScriptedPeople:
    """The people of a scenario: what happens at an hour, and what they answer to the board."""

    timed: Sequence[Act] = field(default_factory=scenario.timed_acts)
    rules: Rules = field(default_factory=Rules)
    measure: Callable[[BayId, Ms], float] = surface_c
    _handed: dict[tuple[object, ...], Ms] = field(default_factory=dict)
    _noticed: dict[tuple[object, ...], Ms] = field(default_factory=dict)
    """When they first saw an end of a pour entered."""

    def acts(self, board: Sequence[BoardRow], now: Ms, messages: Sequence[Message] = ()) -> list[Act]:
        """Return the acts to hand in now, each once.

        Args:
            board: open pours as the board shows them.
            now: site time.
            messages: every message so far: withdrawals and keep-offs among them are confirmed.
        """
        wanted = [((act.kind, i), act) for i, act in enumerate(self.timed) if act.at_ms <= now]
        due = [act for key, act in wanted if self._first(key, now, again=False)]
        rows = sorted(board, key=lambda r: r.pour.id)
        for key, act in self._answers(rows, now, messages):
            if self._first(key, now, again=key[0] != _ONCE):
                due.append(act)
        return due

    def _first(self, key: tuple[object, ...], now: Ms, *, again: bool) -> bool:
        last = self._handed.get(key)
        if last is not None and not (again and now - last >= AGAIN_MS):
            return False
        self._handed[key] = now
        return True

    def _answers(
        self, rows: Sequence[BoardRow], now: Ms, messages: Sequence[Message]
    ) -> Iterator[tuple[tuple[object, ...], Act]]:
        """Yield what people want to do now, each with the key of the state that it answers to."""
        for row in rows:
            yield from self._check(row, now)
            yield from self._lift(row, now)
        if self._in_shift(now, now):
            for row in rows:
                yield from self._sign(row, now)
                yield from self._reopen(row, now)
            yield from self._confirm(rows, now, messages)
            yield from self._crew(rows, now)

    def _in_shift(self, begin: Ms, end: Ms) -> bool:
        midnight = begin - (begin - MONDAY_MS) % DAY_MS
        opens, closes = (midnight + m * MINUTE_MS for m in (self.rules.shift_from_min, self.rules.shift_to_min))
        return opens <= begin and end <= closes

    @staticmethod
    def _since(gate: Gate, minutes: int, now: Ms) -> bool:
        return now - gate.changed_ms >= minutes * MINUTE_MS

    def _check(self, row: BoardRow, now: Ms) -> Iterator[tuple[tuple[object, ...], Act]]:
        """QC checks a pour once its end is entered, the engineer where QC entered it."""
        pour, memory = row.pour, row.state.memory
        if pour.end_ms is None or memory.get("check", {}).get("end_ms") == pour.end_ms:
            return
        since = self._noticed.setdefault((pour.id, pour.end_ms), now)
        if now - since >= self.rules.check_min * MINUTE_MS:
            who = "engineer" if memory.get("ended_by") == "qc" else "qc"
            check = SecondCheck(
                at=at(now), who=who, scripted=True, pour=pour.id, mix=pour.mix, ticket=f"T-{pour.bay}",
                end=at(pour.end_ms), loggers_alive=True, plan_seen=True,
            )  # fmt: skip
            yield ("check", pour.id, pour.end_ms), check

    def _lift(self, row: BoardRow, now: Ms) -> Iterator[tuple[tuple[object, ...], Act]]:
        """QC goes out at any hour, measures the surface and lifts "freeze suspected" if it is warm enough."""
        for hold in row.holds:
            if hold.kind is not HoldKind.FREEZE_SUSPECTED or now - hold.since_ms < self.rules.lift_min * MINUTE_MS:
                continue
            found_c = self.measure(row.pour.bay, now)
            if found_c > WARM_ENOUGH_C:
                why = f"surface measured at {found_c:.1f} degC; the logger lies above the concrete"
                lift = Lift(
                    at=at(now), who="qc", scripted=True, pour=row.pour.id, hold=hold.kind, surface_c=found_c, why=why
                )
                yield ("lift", row.pour.id, hold.since_ms), lift

    def _sign(self, row: BoardRow, now: Ms) -> Iterator[tuple[tuple[object, ...], Act]]:
        """QC signs strip and walk together, the engineer the load."""
        for who, operations in (("qc", (STRIP, WALK)), ("engineer", (LOAD,))):
            met = [row.gates[o] for o in operations if o in row.gates and row.gates[o].state is GateState.MET]
            if met and all(self._since(g, self.rules.sign_min, now) for g in met):
                key = ("sign", row.pour.id, *((g.operation, g.epoch) for g in met))
                names = tuple(g.operation for g in met)
                yield key, Sign(at=at(now), who=who, scripted=True, pour=row.pour.id, operations=names)

    def _reopen(self, row: BoardRow, now: Ms) -> Iterator[tuple[tuple[object, ...], Act]]:
        """The engineer opens a withdrawn gate again once the cause is known."""
        for operation in EVERYBODY:
            gate = row.gates.get(operation)
            if gate is None or gate.state is not GateState.WITHDRAWN:
                continue
            if self._since(gate, self.rules.confirm_min + self.rules.reopen_min, now):
                cause = "hour of the end of pour corrected from the last ticket; counted from there"
                act = Reopen(
                    at=at(now), who="engineer", scripted=True, pour=row.pour.id, operation=operation, cause=cause
                )
                yield ("reopen", row.pour.id, operation, gate.epoch), act

    def _confirm(
        self, rows: Sequence[BoardRow], now: Ms, messages: Sequence[Message]
    ) -> Iterator[tuple[tuple[object, ...], Act]]:
        """The superintendent answers a withdrawal and the crew lead a keep-off: the area is clear."""
        gates = {(r.pour.id, o): g for r in rows for o, g in r.gates.items()}
        for m in messages:
            answer = _ANSWERED_BY.get(m.kind)
            gate = gates.get((m.pour, Operation(m.subject)))
            if answer is None or gate is None or now - m.at_ms < self.rules.confirm_min * MINUTE_MS:
                continue
            who, while_state = answer
            if gate.state is while_state and gate.epoch == m.epoch:
                yield (_ONCE, m.no), Confirm(at=at(now), who=who, scripted=True, message=m.no)

    def _crew(self, rows: Sequence[BoardRow], now: Ms) -> Iterator[tuple[tuple[object, ...], Act]]:
        """A crew strips one bay after the other, oldest first, and begins none that it cannot end within the shift."""
        gates = [(r.pour, r.gates[STRIP]) for r in rows if STRIP in r.gates]
        busy = [(pour, g) for pour, g in gates if g.state is GateState.UNDER_WAY]
        for pour, g in busy:
            if self._since(g, self.rules.strip_takes_min, now):
                done = Done(at=at(now), who="crew-lead", scripted=True, pour=pour.id, operation=STRIP)
                yield ("done", pour.id, g.changed_ms), done
        if not self._in_shift(now, now + self.rules.strip_takes_min * MINUTE_MS):
            return
        released = [(pour, g) for pour, g in gates if g.state is GateState.RELEASED]
        oldest_first = sorted(released, key=lambda r: (r[0].start_ms, r[0].id))
        for pour, g in oldest_first[: max(0, self.rules.crews - len(busy))]:
            if self._since(g, self.rules.begin_min, now):
                begun = UnderWay(at=at(now), who="crew-lead", scripted=True, pour=pour.id, operation=STRIP)
                yield ("begin", pour.id, g.epoch), begun
