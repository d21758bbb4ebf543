"""The ports: what each package needs of the clock, the stores and a channel. One method = one transaction.

Times are int milliseconds UTC, temperatures int thousandths of a degree Celsius. Adapters raise `StoreError` and
nothing else of their driver's. Contract suites: `tests/contracts`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Protocol

from shared.models.acts import Act
from shared.models.base import BayId, Json, Ms, Operation, PourId, SensorId
from shared.models.decisions import Gate, Hold, LogEntry, Placement, Pour, PourState
from shared.models.messages import Delivery, Due, Message, NewDelivery, NewMessage
from shared.models.readings import Arrival, Conflict, Heard, Reading, Refused, Series
from shared.models.setup import BaySettings, Calibration, MixSettings, SiteFile


class Clock(Protocol):
    """Site time."""

    def now(self) -> Ms:
        """Return the site's time."""
        ...

    def boot(self) -> tuple[str, int]:
        """Return the boot's id and the milliseconds since it, suspend included."""
        ...

    def synchronised(self) -> bool:
        """Return whether the host's clock is known to be right."""
        ...


class Readings(Protocol):
    """The time-series store. Key of a reading: (sensor, taken)."""

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        """Make durable before returning.

        Same key and value: nothing changes (the first `received_ms` stays). Same key, another value: the colder
        stays and the pair is returned. Any order, any number of times, gives the same rows.
        """
        ...

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        """Return the stored thousandths of a degree of those keys that are there."""
        ...

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        """Return the readings taken in (after, through], ascending. Unknown sensor: empty."""
        ...

    def rows(self, sensor: SensorId, after: Ms, through: Ms) -> Iterator[Reading]:
        """Yield whole readings taken in (after, through], ascending."""
        ...

    def forget(self, sensor: SensorId, before: Ms) -> int:
        """Delete readings taken before; return how many."""
        ...

    def close(self) -> None:
        """Give back what was opened."""
        ...


@dataclass(frozen=True, slots=True)
class NewArrivals:
    """How one merge changed one sensor."""

    sensor: SensorId
    changed: int
    """Stored rows that are new or got another value: 0 for a batch of copies."""
    oldest_ms: Ms
    newest_ms: Ms
    received_ms: Ms


class IngestBook(Protocol):
    """What ingest needs of the site book."""

    def placements(self) -> Sequence[Placement]:
        """Return all placements, ended ones too."""
        ...

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        """Return what has arrived of those sensors; one never heard is absent."""
        ...

    def note(
        self,
        arrivals: Sequence[NewArrivals],
        refused: Sequence[Refused],
        conflicts: Sequence[Conflict],
        heard: Sequence[Heard],
    ) -> None:
        """Write down what a merge did, before the acknowledgement.

        A sensor's revision grows when its rows changed; the pours it may belong to become due. Writing the same
        refusal or conflict again (a redelivery) keeps one row of it.
        """
        ...


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


class CureBook(Protocol):
    """What cure needs of the site book."""

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        """Return open pours whose `next_due` has come, oldest due first (a new arrival or act makes it 0)."""
        ...

    def case(self, pour: PourId) -> PourCase:
        """Return the case. Raises `StoreError` for an unknown pour."""
        ...

    def record(self, case: PourCase, result: Result) -> bool:
        """Write states, gates, holds, snapshots, messages, log and act in one transaction.

        Returns False, with nothing written, when an arrival revision, a gate, the pour or the set-up has moved
        since the case was read. A message whose (pour, subject, epoch, kind) is there already is left as it is.
        """
        ...

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        """Begin a pour in its bay, with gates "not set up", due at once; the bay's earlier open pour is closed at
        its start. Raises `StoreError` when the pour's name is taken.
        """
        ...

    def pour_named(self, pour: PourId) -> Pour | None:
        """Return the pour of that name, if there is one."""
        ...


class DeliveryTransaction(Protocol):
    """Rows read and written in one transaction; rows that another worker holds are not seen."""

    def due(self, now: Ms, limit: int) -> Sequence[Due]:
        """Return queued and waiting rows whose `next_ms` has come: urgent kinds first, then by number."""
        ...

    def calling(self) -> Sequence[Due]:
        """Return rows in `calling`."""
        ...

    def unsure(self) -> Sequence[Due]:
        """Return rows in `unsure`."""
        ...

    def accepted_unconfirmed(self) -> Sequence[Due]:
        """Return accepted withdrawals and keep-off messages that nobody confirmed."""
        ...

    def one(self, delivery: int) -> Due:
        """Return one row as it is now."""
        ...

    def withdrawals(self, due: Due) -> Sequence[Due]:
        """Return the withdrawal rows of the same pour, operation, recipient and channel."""
        ...

    def write(self, delivery: Delivery, log: LogEntry | None = None) -> None:
        """Store the row as given."""
        ...


class AlertsBook(Protocol):
    """What alerts needs of the site book."""

    def anything_due(self, now: Ms) -> bool:
        """Return whether a message is unrouted, a row settled by nobody yet, or due, or due to be repeated."""
        ...

    def unrouted(self, limit: int) -> Sequence[Message]:
        """Return messages without a routing decision, by number."""
        ...

    def told(self, message: Message) -> Sequence[tuple[str, int]]:
        """Return (recipient, channel) of every row of this pour and operation that was ever called."""
        ...

    def route(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        """Write the deliveries of a message and mark it routed; a second time changes nothing."""
        ...

    def deciding(self) -> AbstractContextManager[DeliveryTransaction]:
        """Open a transaction over deliveries."""
        ...

    def confirm(self, act: Act, message: int, log: LogEntry) -> int:
        """Mark the deliveries of a message that are accepted, or were and are being repeated, `confirmed`, and keep
        the act; return how many.
        """
        ...


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One pour as the board shows it: read from the stored rows only."""

    pour: Pour
    floor: str
    gates: Mapping[Operation, Gate]
    holds: tuple[Hold, ...]
    state: PourState
    stripping: tuple[BayId, ...]


class BoardBook(Protocol):
    """What a reader of the site needs."""

    def board(self) -> Sequence[BoardRow]:
        """Return open pours, by bay."""
        ...

    def log_after(self, seq: int) -> Sequence[tuple[int, LogEntry]]:
        """Return log lines with a number above `seq`, in order."""
        ...

    def acts(self) -> Sequence[Act]:
        """Return every accepted act, in order."""
        ...

    def messages(self) -> Sequence[Message]:
        """Return every message, by number."""
        ...

    def deliveries(self) -> Sequence[Delivery]:
        """Return every delivery, by number."""
        ...

    def refused(self) -> Sequence[Refused]:
        """Return every refusal, in order."""
        ...

    def conflicts(self) -> Sequence[Conflict]:
        """Return every conflict, in order."""
        ...

    def site(self) -> SiteFile:
        """Return the set-up in force."""
        ...
