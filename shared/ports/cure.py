"""What cure needs of the site book: the case of a pour, and what a round makes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from shared.models.acts import Act, LoggerAct, SiteAct
from shared.models.base import BayId, Json, Ms, Operation, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import (
    Beside,
    ByHand,
    ClockSpan,
    Document,
    Doubt,
    Gate,
    Hold,
    LogEntry,
    MixTest,
    Placement,
    Pour,
    PourState,
    RequirementEdit,
    TestResult,
)
from shared.models.messages import NewMessage
from shared.models.readings import Arrival, Conflict
from shared.models.setup import BaySettings, MixSettings, SiteFile


@dataclass(frozen=True, slots=True)
class PourCase:
    """Everything but the readings that a round needs, read in one transaction."""

    pour: Pour
    bay: BaySettings
    mix: MixSettings
    site: SiteFile
    calibration: Calibration | None
    placements: tuple[Placement, ...]
    """Of the bay, while this pour was in it."""
    arrivals: Mapping[SensorId, Arrival]
    conflicts: tuple[Conflict, ...]
    """Of these sensors since the pour's start."""
    gates: Mapping[Operation, Gate]
    holds: tuple[Hold, ...]
    state: PourState
    stripping: tuple[BayId, ...]
    """Neighbouring or lower bays with a strip under way."""
    withdrawal_confirmed: Mapping[Operation, bool]
    """For each withdrawn gate: has a person confirmed its withdrawal."""
    input_revision: int
    """Sum of the sensors' revisions."""
    touched: int
    """Counts acts and set-up changes that concern this pour."""
    beside: tuple[Beside, ...] = ()
    """Open pours in the bays beside."""
    documents: tuple[Document, ...] = ()
    """On file for this pour, its bay or the site."""
    tests: tuple[TestResult, ...] = ()
    """Tests of its concrete, in the order in which they were handed in."""
    mix_tests: tuple[MixTest, ...] = ()
    """Cylinders of every pour that is judged by its calibration's version, in the order of testing."""
    edits: tuple[RequirementEdit, ...] = ()
    """The newest requirement on the site book for each operation that has one: the bay's own before the site's."""
    clock: tuple[ClockSpan, ...] = ()
    """How the service's clock has run, oldest first."""
    doubts: tuple[Doubt, ...] = ()
    """Open doubts about the service itself."""
    by_hand: tuple[ByHand, ...] = ()
    """Temperatures that people measured, in the order in which they were handed in."""


@dataclass(frozen=True, slots=True)
class Result:
    """What a round, or a person's act, makes of a case."""

    at_ms: Ms
    pour: Pour
    gates: tuple[Gate, ...]
    """Every gate of the pour."""
    holds: tuple[Hold, ...]
    """Every open hold of the pour; one that is absent is lifted."""
    state: PourState
    messages: tuple[NewMessage, ...] = ()
    log: tuple[LogEntry, ...] = ()
    snapshots: Mapping[str, Json] = field(default_factory=dict)
    """Digest -> evidence."""
    wake: tuple[BayId, ...] = ()
    """Bays whose pours must be looked at again because of this one."""
    act: Act | None = None


@dataclass(frozen=True, slots=True)
class SinceStart:
    """What hangs on the start of a pour."""

    ended: PourId | None
    """The pour of its bay that it ended; None: there was none."""
    acts: frozenset[str]
    """Kinds of the acts on the pour."""


class CureBook(Protocol):
    """What cure needs of the site book."""

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        """Return open pours whose `next_due` has come, oldest due first.

        An act and a new arrival make it 0; where all operations are done, only an arrival that is late.
        """
        ...

    def case(self, pour: PourId) -> PourCase:
        """Return the case. Raises `StoreError` for an unknown pour."""
        ...

    def record(self, case: PourCase, result: Result, *also: tuple[PourCase, Result]) -> bool:
        """Write states, gates, holds, snapshots, messages, log and act in one transaction, of several pours in one.

        Returns False, with nothing written, when an arrival revision, a gate, the pour or the set-up has moved
        since a case was read. A message whose (pour, subject, epoch, kind) is there already is left as it is.
        A test of the concrete makes every open pour of the mix due, and touched.
        """
        ...

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        """Begin a pour in its bay, with gates "not set up", due at once; the bay's earlier open pour is closed at
        its start. Raises `StoreError` when the pour's name is taken.
        """
        ...

    def since_start(self, pour: PourId) -> SinceStart:
        """Return what hangs on the start of a pour. Raises `StoreError` for an unknown pour."""
        ...

    def pour_named(self, pour: PourId) -> Pour | None:
        """Return the pour of that name, if there is one."""
        ...

    def act_on_site(self, act: SiteAct, log: LogEntry) -> None:
        """Keep an act about the site with what follows from it: a document, a requirement. Every open pour that it
        concerns becomes due and counts as touched.
        """
        ...

    def placements_of(self, sensor: SensorId) -> Sequence[Placement]:
        """Return all placements of a sensor, ended ones too, oldest first."""
        ...

    def open_pours(self) -> Sequence[PourId]:
        """Return every open pour, by bay."""
        ...

    def open_pour_in(self, bay: BayId) -> Pour | None:
        """Return the open pour of a bay, if there is one."""
        ...

    def place(self, act: LoggerAct, before: Sequence[Placement], after: Sequence[Placement], log: LogEntry) -> bool:
        """Write a sensor's placements in place of those before, with the act; the last of `after` may be new. Every
        open pour in their bays becomes due and counts as touched. False, with nothing written, when they are not
        those before any more.
        """
        ...

    def messages_of_site(self, messages: Sequence[NewMessage]) -> int:
        """Write messages about the whole site (`THE_SITE`), or ones of a pour that no round writes; return how many
        were new.
        """
        ...
