"""The model's steps done by the real code: rounds, acts and dispatcher on a site book in a file, one recipient.

Each step is done for real and followed in the model: of the model's states those remain that look like the site book.
When none remains, the real code has gone where the model cannot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random
from typing import Any, Final

import numpy as np
from alerts_book import DiedError
from alerts_support import ScriptedTransport
from interleavings import GATES, ROWS, Budget, State, message
from interleavings_model import Model
from store_support import POUR, make_setup, make_site, make_start, site_dict

from alerts.acts import apply as apply_alerts_act
from alerts.dispatcher import Dispatcher
from cure.acts import PourActs
from cure.rounds import Rounds
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import act_from, instant
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, STRIP, WALK, Ms, PourId, SensorId
from shared.models.messages import PERMITS, Delivery, Message, MessageKind
from shared.models.messages import DeliveryState as S
from shared.models.readings import Series
from shared.store.book import SiteBook

BOTH: Final = (STRIP, WALK)
BEGAN_MS: Final[Ms] = 1_764_000_000_000
NOW_MS: Final[Ms] = BEGAN_MS + 2 * DAY_MS
_TO_CREW: Final = frozenset({MessageKind.RELEASED, MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF})
_PAST: Final = frozenset({S.SUPERSEDED, S.ESCALATED, S.REFUSED, S.ACCEPTED, S.CONFIRMED})


@dataclass
class TurningReadings:
    """The `Readings` port's `between`: warm, or cold for too long; without the last hours when a sensor has faded."""

    clock: SimulatedClock
    good: bool = False
    fresh: bool = True

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        end = min(through, self.clock.now()) - (0 if self.fresh else 3 * HOUR_MS)
        taken = np.arange(BEGAN_MS, end + 1, 15 * MINUTE_MS, dtype=np.int64)
        taken = taken[taken > after]
        c = 12_000 if sensor == "lg-09.1" else 18_000 if self.good else 6_000
        cold = np.where((taken > BEGAN_MS + 3 * HOUR_MS) & (not self.good), 4_000, c)
        return Series(taken, (cold + taken // MINUTE_MS % 120).astype(np.int64))


@dataclass
class Real:
    """The real code, and the states of the model that look like it."""

    book: SiteBook
    rng: Random
    model: Model = field(
        default_factory=lambda: Model(
            budget=Budget(10**6, 10**6, 10**6, 10**6, hours=0, first_attempt=0), operations=BOTH, counts=False
        )
    )

    def __post_init__(self) -> None:
        self.clock = SimulatedClock(NOW_MS)
        self.readings = TurningReadings(self.clock)
        self.transport = ScriptedTransport(self.clock)
        self._to_lose = 0
        self.setup = real_setup()
        rounds = Rounds(self.readings, self.book.cure, self.clock)  # type: ignore[arg-type]  # asks for `between` alone
        self.rounds, self.acts = rounds, PourActs(self.setup.site, rounds)
        self.dispatcher = self._started()
        self.acts.apply(make_start(POUR, at_ms=BEGAN_MS))
        self.act("pour_end", "super", happened=instant(BEGAN_MS + HOUR_MS).isoformat())
        self.states = {self.model.first()}
        self.steps: list[str] = []

    def _started(self) -> Dispatcher:
        return Dispatcher(self.setup, self.book.alerts, self.clock, self.transport, quiet_ms=0)

    def act(self, kind: str, who: str, **fields: Any) -> bool:
        """Hand in an act; return whether it was accepted."""
        act = act_from({"kind": kind, "at": instant(self.clock.now()), "who": who, "pour": POUR, **fields})
        try:
            self.acts.apply(act)  # type: ignore[arg-type]  # acts on a pour only
        except ActRefusedError:
            return False
        return True

    def confirm(self, no: int) -> bool:
        """Let a person confirm a message."""
        act = act_from({"kind": "confirm", "at": instant(self.clock.now()), "who": "qc", "message": no})
        try:
            apply_alerts_act(self.book.alerts, self.setup, act, self.clock.now())  # type: ignore[arg-type]
        except ActRefusedError:
            return False
        return True

    def round(self) -> None:
        """Estimates far enough apart, until a further one changes nothing; nor may it in the model."""
        for _ in range(3):
            self.rounds.run(PourId(POUR))
            self.clock.set(self.clock.now() + MINUTE_MS + 1)
        self.follow("gate: round", ["gate: round"])
        self.states = {s for s in self.states if all(label != "gate: round" for label, _ in self.model.steps(s))}
        assert self.states, f"the model would go on: {self.steps}"

    def turn(self, during: Callable[[], None] | None, *, dies: str, script: list[str]) -> None:
        """Let the dispatcher do what is due; something else may happen, or the process die, while it sends."""
        self.clock.set(self.clock.now() + 6 * MINUTE_MS)
        left = [during] if during is not None else []
        self.transport.script = script
        self._to_lose = sum(order != "accept" for order in script)

        def hook(_number: int) -> None:
            self.follow("sending", _SYSTEM)
            if left:
                left.pop()()

        def dying(where: str) -> None:
            if where == dies:
                self.transport.at = _nothing
                raise DiedError

        self.transport.during, self.transport.at = hook, dying
        try:
            self.dispatcher.run_due()
        except DiedError:
            self.dispatcher = self._started()
            self.dispatcher.recover()
            self.follow("crash", [*_SYSTEM, "world: crash"], crashes=1)
        self.transport.at, self.transport.during = _nothing, None
        self.follow("turn", _SYSTEM)

    def follow(self, what: str, labels: Iterable[str], *, crashes: int = 0) -> None:
        """Go on, in the model, by any number of steps with these labels, and keep what looks like the site book.

        As many attempts may be lost as the transport was told to lose since the last time, and one that was given up.
        """
        prefixes, whole = tuple(labels), self.model.first().left
        lost, self._to_lose = self._to_lose, sum(order != "accept" for order in self.transport.script)
        left = (whole[0], whole[1], crashes, max(0, lost - self._to_lose) + 1, *whole[4:])
        reached = {s._replace(left=left) for s in self.states}
        stack = list(reached)
        while stack:
            for label, after in self.model.steps(stack.pop()):
                if label.startswith(prefixes) and after not in reached:
                    reached.add(after)
                    stack.append(after)
        self._keep(what, {s._replace(left=whole) for s in reached})

    def step(self, *labels: str) -> None:
        """Go on by exactly one step of one of the labels; its round may be the second estimate of what was met."""
        left = self.model.first().left
        second = {after for s in self.states for label, after in self.model.steps(s) if label == "gate: round"}
        every = (step for s in self.states | second for step in self.model.steps(s))
        self._keep(labels[0], {after._replace(left=left) for label, after in every if label in labels})

    def _keep(self, what: str, reached: set[State]) -> None:
        self.steps.append(what)
        gates, rows, seen = self._looks()
        self.states = {s for s in reached if _alike(s, gates, rows, seen)}
        assert self.states, f"the model cannot do this: {self.steps}; gates {gates}, rows {rows}, heard {seen}"

    def _looks(self) -> tuple[Any, dict[Any, Any], Any]:
        case = self.book.cure.case(PourId(POUR))
        gates = tuple((case.gates[op].state, case.gates[op].epoch, len(case.gates[op].signers)) for op in BOTH)
        messages = {m.no: m for m in self.book.board.messages()}
        # A message that is not routed yet has its row to come: in the model it is there at once.
        rows = {(m.kind, m.subject, m.epoch): _Look(S.QUEUED) for m in messages.values() if m.kind in _TO_CREW}
        for d in self.book.board.deliveries():
            m = messages[d.message]
            if m.subject in BOTH:
                rows[m.kind, m.subject, m.epoch] = _Look.of(m, d)
        seen = dict.fromkeys(BOTH, (MessageKind.LOW_BATTERY, 0))
        for no in (no for heard in self.transport.heard for no in heard.numbers):
            m = messages[no]
            for op in BOTH if m.kind is MessageKind.KEEP_OFF else [o for o in BOTH if o == m.subject]:
                seen[op] = m.kind, m.epoch
        return gates, rows, tuple(seen[op] for op in BOTH)


@dataclass(frozen=True)
class _Look:
    """What of a row the model and the book must agree on."""

    state: S
    attempt: int = 0
    """Of a permit; for the others it changes only hours."""
    was_unsure: bool = False
    again: bool = False
    was_accepted: bool = False

    @classmethod
    def of(cls, m: Message, d: Delivery) -> _Look:
        permit = m.kind in PERMITS
        attempt, unsure = (d.attempt, d.was_unsure) if permit else (0, False)
        return cls(d.state, attempt, unsure, d.again, d.was_accepted)


_SYSTEM: Final = ("system:", "repeat:")


def _nothing(_where: str) -> None:
    """Nobody dies."""


def _alike(s: State, gates: Any, rows: dict[Any, Any], seen: Any) -> bool:
    mine = [GATES[g] for g in s.gates]
    if tuple((g.state, g.epoch, len(g.signers)) for g in mine) != gates:
        return False
    heard = [message(no) if no else None for no in s.seen]
    if tuple((m.kind, m.epoch) if m else (MessageKind.LOW_BATTERY, 0) for m in heard) != seen:
        return False
    told = [(message(ROWS[r].message), ROWS[r]) for r in s.rows]
    modelled = {(m.kind, m.subject, m.epoch): _Look.of(m, row) for m, row in told}
    epochs = {g.operation: g.epoch for g in mine}
    forgotten = {key: rows[key] for key in rows.keys() - modelled.keys()}
    past = all(key[2] < epochs[key[1]] and row.state in _PAST for key, row in forgotten.items())
    return past and all(rows.get(key) == row for key, row in modelled.items())


def real_setup() -> Any:
    """Return a site with one person who is told, and three who may sign."""
    people = [
        {"id": "crew", "role": "crew", "channels": [{"kind": "inbox"}]},
        *({"id": who, "role": role} for who, role in (("super", "superintendent"), ("qc", "qc"), ("a", "engineer"))),
    ]
    plan = {**site_dict()["plan"], "sign_offs": 2, "second_check": False}
    return make_setup(make_site(recipient=people, plan=plan))
