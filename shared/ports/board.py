"""What a reader of the site needs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from shared.models.acts import Act
from shared.models.base import BayId, Json, Ms, Operation, PourId, SensorId
from shared.models.calibration import Calibration
from shared.models.decisions import (
    Doubt,
    Gate,
    Hold,
    LogEntry,
    MixTest,
    Placement,
    Pour,
    PourState,
    RequirementEdit,
)
from shared.models.messages import Delivery, Message
from shared.models.readings import Arrival, Conflict, Heard, Refusal, Refused, RefusedCount
from shared.models.setup import MixSettings, SiteFile
from shared.ports.cure import PourCase
from shared.ports.told import ToldBook
from shared.sequence import Followed


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One pour as the board shows it: read from the stored rows only."""

    pour: Pour
    floor: str
    gates: Mapping[Operation, Gate]
    holds: tuple[Hold, ...]
    state: PourState
    stripping: tuple[BayId, ...]


@dataclass(frozen=True, slots=True)
class MixPour:
    """A pour of a mix, open or closed, with what cure keeps of it between rounds."""

    pour: Pour
    memory: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class MixRow:
    """One version of a mix's calibration, with the pours that it judges and their cylinders."""

    mix: MixSettings
    calibration: Calibration
    in_force: bool
    """Whether a pour that begins now is judged by it; else only open pours are, which keep their version."""
    pours: tuple[MixPour, ...]
    """In the order in which they began."""
    tests: tuple[MixTest, ...]
    """Cylinders with their own temperature record, in the order of testing."""


class BoardBook(ToldBook, Protocol):
    """What a reader of the site needs."""

    def board(self) -> Sequence[BoardRow]:
        """Return open pours, by bay."""
        ...

    def case(self, pour: PourId) -> PourCase:
        """Return everything but the readings that a pour, open or closed, is judged by. Raises `StoreError` for an
        unknown one.
        """
        ...

    def placements(self) -> Sequence[Placement]:
        """Return all placements, ended ones too."""
        ...

    def lying(self) -> Sequence[Placement]:
        """Return the placements of now: those that have not ended."""
        ...

    def missing(self) -> Sequence[Followed]:
        """Return the loggers of whose numbered messages some never came, by name."""
        ...

    def log_after(self, seq: int, limit: int | None = None) -> Sequence[tuple[int, LogEntry]]:
        """Return log lines with a number above `seq`, in order; at most `limit`."""
        ...

    def acts(self) -> Sequence[Act]:
        """Return every accepted act, in order."""
        ...

    def acts_of(self, kind: str, since_ms: Ms = 0) -> Sequence[Act]:
        """Return every accepted act of a kind, from an hour on, in order."""
        ...

    def acts_between(self, from_ms: Ms, to_ms: Ms) -> Sequence[Act]:
        """Return the accepted acts from an hour on and before another, in order; and those entered later that say
        when they happened."""
        ...

    def messages(self) -> Sequence[Message]:
        """Return every message, by number."""
        ...

    def deliveries(self) -> Sequence[Delivery]:
        """Return every delivery, by number."""
        ...

    def newest_deliveries(self) -> Sequence[Delivery]:
        """Return the newest delivery to each recipient through each channel, by number."""
        ...

    def refused(self) -> Sequence[Refused]:
        """Return every refusal, in order."""
        ...

    def refused_since(self, since_ms: Ms) -> Sequence[RefusedCount]:
        """Return how many messages were refused since an hour, most first."""
        ...

    def strangers(self, limit: int) -> Sequence[Refused]:
        """Return the newest message of each sensor and topic that was refused because nobody placed it, newest first.

        One that came again word for word stands with its first hour.
        """
        ...

    def arrivals(self) -> Sequence[Arrival]:
        """Return what has arrived of each sensor, by name."""
        ...

    def arrivals_of(self, sensors: Collection[SensorId]) -> Sequence[Arrival]:
        """Return what has arrived of these sensors, by name."""
        ...

    def heard(self) -> Sequence[Heard]:
        """Return what each logger last said of itself, by name."""

    def refusals(self) -> Sequence[Refusal]:
        """Return every refusal with its number and what was decided of it, in order."""
        ...

    def conflicts(self) -> Sequence[Conflict]:
        """Return every conflict, in order."""
        ...

    def site(self) -> SiteFile:
        """Return the set-up in force."""
        ...

    def mixes(self) -> Sequence[MixRow]:
        """Return each version of a calibration that is in force or judges an open pour, by mix and version."""
        ...

    def calibrations(self) -> Sequence[Calibration]:
        """Return the calibration in force of each mix that has one, by mix."""
        ...

    def newest_version(self, mix: str) -> int:
        """Return the highest version of a mix's calibration that was ever seen; 0: there was none."""
        ...

    def doubts(self) -> Sequence[Doubt]:
        """Return open doubts about the service itself."""
        ...

    def edits(self, bay: BayId) -> Sequence[RequirementEdit]:
        """Return the requirements on the site book that are in force for a bay, as a case holds them."""
        ...

    def evidence(self, digest: str) -> Json | None:
        """Return what a gate's state rested on, as it was kept under its digest; None: nothing was."""
        ...
