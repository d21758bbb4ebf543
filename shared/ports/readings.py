"""The time-series store, and what ingest needs of the site book."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from shared.models.base import LoggerId, Ms, SensorId
from shared.models.decisions import (
    Placement,
)
from shared.models.readings import Arrival, Conflict, Heard, Reading, Refusal, Refused, Series
from shared.sequence import Followed


class ReadingsIn(Protocol):
    """What ingest needs of the time-series store. Key of a reading: (sensor, taken)."""

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        """Make durable before returning.

        Same key and value: nothing changes (the first `received_ms` stays). Same key, another value: the colder
        stays and the pair is returned. Any order, any number of times, gives the same rows.

        Raises:
            RejectedError: the store will never take some of the batch; all others are durable.
            StoreError: not all of the batch is durable; the whole of it may be merged again.
        """
        ...

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        """Return the stored thousandths of a degree of those keys that are there."""
        ...


class Readings(ReadingsIn, Protocol):
    """The time-series store."""

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        """Return the readings taken in (after, through], ascending. Unknown sensor: empty."""
        ...

    def rows(self, sensor: SensorId, after: Ms, through: Ms) -> Iterator[Reading]:
        """Yield whole readings taken in (after, through], ascending."""
        ...

    def forget(self, sensor: SensorId, before: Ms) -> int:
        """Delete readings taken before, a few at a time: others may write in between; return how many."""
        ...

    def tidy(self) -> str | None:
        """Give back disk that is not needed, in small steps; return what keeps it from that, or None."""
        ...

    def close(self) -> None:
        """Give back what was opened."""
        ...


class ReadingsServer(Protocol):
    """A server of the site's that holds its readings. Every method raises `StoreError`."""

    def look(self) -> str:
        """Write something, read it back, and say what was found."""
        ...

    def mend(self) -> Sequence[str]:
        """Make what readings need and is not there; say what was made."""
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

    def placed(self, sensors: Collection[SensorId]) -> Sequence[Placement]:
        """Return the placements of those sensors, ended ones too; it costs as much as they are many, not the site."""
        ...

    def placed_loggers(self, loggers: Collection[LoggerId]) -> Collection[LoggerId]:
        """Return those loggers of which some sensor is, or was, placed."""
        ...

    def arrival(self, sensors: Collection[SensorId]) -> Mapping[SensorId, Arrival]:
        """Return what has arrived of those sensors; one never heard is absent."""
        ...

    def refused_ahead(self, keys: Collection[tuple[SensorId, Ms]]) -> Collection[tuple[SensorId, Ms]]:
        """Return those keys that were once refused because their hour lay ahead."""
        ...

    def followed(self, loggers: Collection[LoggerId]) -> Mapping[LoggerId, Followed]:
        """Return what the numbers of these loggers' messages have come to; without those that number none."""
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


class RefusedBook(Protocol):
    """What screening again needs of the site book, beside what ingest needs."""

    def standing(self, sensor: SensorId | None) -> Sequence[Refusal]:
        """Return the refusals that nothing was decided of, in order; of one sensor, or all."""
        ...

    def decide(self, outcomes: Mapping[int, str], at_ms: Ms) -> None:
        """Write down by its number what became of each; one that is decided stays as it was."""
        ...
