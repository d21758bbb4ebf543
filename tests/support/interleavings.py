"""What the model of interleavings steps through: a state of whole numbers, the harness's weaknesses, its budgets.

One pour, one or two operations, one recipient, one channel. A state is what is durable, what the sender's process
holds, and what the recipient has heard. The harness supplies the world; `cure.gate` and `alerts.delivery` decide.
Values that their functions take are kept once and named by a number, so that states compare quickly.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from enum import Enum
from functools import cache
from typing import Final, Generic, NamedTuple, TypeAlias, TypeVar

from shared.models.base import Operation, PourId, RecipientId
from shared.models.decisions import Gate, GateState
from shared.models.messages import PERMITS, Delivery, Message, MessageKind

POUR: Final = PourId("a-p1")
TOKEN: Final = "lease"  # noqa: S105 - names a lease
_T = TypeVar("_T", bound=Hashable)


class Numbered(Generic[_T]):
    """Values, each kept once, with its number."""

    def __init__(self) -> None:
        self._values: list[_T] = []
        self._numbers: dict[_T, int] = {}

    def number(self, value: _T) -> int:
        """Return the number of a value, a new one for a new value."""
        found = self._numbers.setdefault(value, len(self._values))
        if found == len(self._values):
            self._values.append(value)
        return found

    def __getitem__(self, number: int) -> _T:
        return self._values[number]


class Policy(Enum):
    """Who releases."""

    TWO_SIGN = 2
    ONE_SIGNS = 1
    NOBODY_SIGNS = 0
    """The product's: "requirement met, not signed" is told, the gate stays met."""
    AUTOMATIC = -1
    """The harness's: met is released at once."""


@dataclass(frozen=True)
class Weak:
    """Which promise this harness breaks; none: the design."""

    parallel: bool = False
    """Deliveries to one recipient do not wait for each other."""
    repeats: bool = True
    """Q7: a release that got out late sends its withdrawal again..."""
    marks: bool = True
    """... also one that is being sent just now."""
    keeps_off: bool = True
    """What permits waits while a strip that it names no part of is under way."""
    kills: bool = True
    """An attempt that is given up is dead."""
    commits_calling: bool = True
    """`calling` is durable before the transport is called."""
    atomic: bool = True
    """A state change and its message are one transaction."""
    fences: bool = True
    """The gate is looked at before each attempt."""
    rechecks: bool = True
    """The evidence is looked at again when a person signs."""
    latched: bool = True
    """Only a person opens a withdrawn gate again."""


@dataclass(frozen=True)
class Budget:
    """How often the world may do what; and with which attempt a delivery begins."""

    flips: int = 2
    """The lasting evidence turns."""
    fades: int = 0
    """A required sensor falls silent, or speaks again."""
    crashes: int = 1
    losses: int = 1
    """Attempts that fail, or whose answer is lost."""
    stops: int = 0
    doubts: int = 0
    """The service comes to doubt itself."""
    hours: int = 1
    """How often the validity of what is out ends."""
    repeats: bool = True
    """What nobody has confirmed goes again."""
    first_attempt: int = 3
    """So that two more attempts use a release's up, and the model stays small."""


class Worker(NamedTuple):
    """One attempt in the sender's memory."""

    messages: tuple[int, ...]
    stage: str = "about"


class State(NamedTuple):
    """What the model steps through; gates and rows by number."""

    gates: tuple[int, ...]
    """By operation."""
    struck: tuple[int, ...]
    """The epoch of each gate that a contradiction was told for."""
    left: tuple[int, ...]
    """What is left of the budget: flips, fades, crashes, losses, stops, doubts."""
    seen: tuple[int, ...]
    """The newest message that the recipient has heard about each operation; 0: none."""
    told: tuple[int, ...]
    """Messages about each operation since the last human decision about it."""
    excess: tuple[int, ...]
    """Of the current epoch's release: acceptances, less recorded doubts."""
    good: bool = False
    fresh: bool = True
    doubtful: bool = False
    hour: int = 0
    rows: tuple[int, ...] = ()
    workers: tuple[Worker, ...] = ()
    held: tuple[int, ...] = ()
    """Messages that exist in memory only."""
    flight: frozenset[int] = frozenset()
    """Messages of calls that nobody watches any more and that can still arrive."""


FLIPS, FADES, CRASHES, LOSSES, STOPS, DOUBTS = range(6)
Step: TypeAlias = tuple[str, State]
GATES: Final[Numbered[Gate]] = Numbered()
ROWS: Final[Numbered[Delivery]] = Numbered()
_MESSAGES: Final[list[Message]] = []
_NUMBERS: Final[dict[tuple[MessageKind, Operation, int, int], int]] = {}


def message_no(kind: MessageKind, operation: Operation, epoch: int, hour: int) -> int:
    """Return the number, from 1, of the message written in an hour; a permit is valid through that hour."""
    key = kind, operation, epoch, hour
    if key not in _NUMBERS:
        _NUMBERS[key] = len(_MESSAGES) + 1
        until = hour + 1 if kind in PERMITS else None
        _MESSAGES.append(Message(_NUMBERS[key], kind, POUR, operation, epoch, hour, until, {}))
    return _NUMBERS[key]


def message(no: int) -> Message:
    """Return the message of a number."""
    return _MESSAGES[no - 1]


def new_row(no: int, attempt: int) -> int:
    """Return the queued row of a message."""
    return ROWS.number(Delivery(no, no, RecipientId("crew"), 0, attempt=attempt))


@cache
def kept(row: Delivery, most_attempts: int) -> int:
    """Return the row without its hours, and without counts that no longer change what it may do."""
    if message(row.message).kind not in PERMITS:
        row = replace(row, attempt=min(row.attempt, most_attempts), was_unsure=False)
    return ROWS.number(replace(row, next_ms=0, called_ms=None, lease_until_ms=None, accepted_ms=None, outcome=""))


def row_of(s: State, kind: MessageKind, operation: Operation, epoch: int) -> Delivery | None:
    """Return the row that delivers a message of a gate, if there is one."""
    for number in s.rows:
        m = message(ROWS[number].message)
        if (m.kind, m.subject, m.epoch) == (kind, operation, epoch):
            return ROWS[number]
    return None


def first_state(operations: tuple[Operation, ...], budget: Budget) -> State:
    """Return the state in which all begins: every gate curing, nothing told."""
    zero = (0,) * len(operations)
    gates = tuple(GATES.number(Gate(POUR, op, GateState.CURING)) for op in operations)
    left = (budget.flips, budget.fades, budget.crashes, budget.losses, budget.stops, budget.doubts)
    return State(gates, zero, left, zero, zero, zero)


def spend(s: State, what: int) -> tuple[int, ...]:
    """Return what is left of the budget after one of a kind."""
    return (*s.left[:what], s.left[what] - 1, *s.left[what + 1 :])


def put_at(values: tuple[int, ...], index: int, value: int) -> tuple[int, ...]:
    """Return the tuple with one element replaced."""
    return (*values[:index], value, *values[index + 1 :])
