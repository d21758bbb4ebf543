"""Several intakes on one pair of stores, one at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from threading import Lock
from typing import Final

from ingest.intake import Intake
from ingest.message import Incoming
from ingest.sheet import Sheet, Taken
from ingest.signed import Keys
from shared.errors import StoreError
from shared.models.base import SiteId
from shared.models.payloads import TopicSettings
from shared.models.readings import Reading
from shared.ports import Clock, IngestBook, ReadingsIn


class SharedIntake(Intake):
    """An intake that others may write beside: between what it asks of the stores and what it writes nobody else does.

    What comes by message and what comes in a file are taken by intakes of their own, because each remembers what it
    noted, and a file's is counted.
    """

    def __init__(
        self,
        site_id: SiteId,
        readings: ReadingsIn,
        book: IngestBook,
        clock: Clock,
        topics: Sequence[TopicSettings] = (),
        turn: Lock | None = None,
        *,
        keys: Keys,
    ) -> None:
        """`turn`: of those that write beside; None: a new one. `keys`: who must sign; nobody can forget to say it."""
        super().__init__(site_id, readings, book, clock, topics=topics, keys=keys)
        self._site_id: Final = site_id
        self._topics: Final = tuple(topics)
        self._turn: Final = Lock() if turn is None else turn
        self.full: Callable[[], str | None] = lambda: None
        """Says why nothing can be taken now, or None; whoever watches the disk puts it there."""

    def beside(self, readings: ReadingsIn, book: IngestBook) -> SharedIntake:
        """Return another that takes turns with this one, on ports of the same stores."""
        other = SharedIntake(self._site_id, readings, book, self._clock, self._topics, self._turn, keys=self._keys)
        other.full = self.full
        return other

    def why_full(self) -> str | None:
        """Return why nothing can be taken now, or None, as whoever watches the disk says by then."""
        return self.full()

    def _refuse_full(self) -> None:
        if (why := self.full()) is not None:
            raise StoreError(why)

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        with self._turn:
            self._refuse_full()
            return super().take(batch)

    def store_again(self, sheets: Sequence[Sheet]) -> None:
        with self._turn:
            self._refuse_full()
            super().store_again(sheets)

    def take_rows(self, readings: Sequence[Reading]) -> None:
        with self._turn:
            self._refuse_full()
            super().take_rows(readings)
