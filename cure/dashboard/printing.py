"""Prints records for the pages, one at a time: setting a sheet takes 75 MB, and its compiler a second to load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock

from cure.dashboard.cautions import cautions
from cure.dashboard.standing import Standing
from shared.catalogue import Catalogue
from shared.models.base import PourId
from shared.models.messages import Message
from shared.ports import BoardBook, Clock, Readings


@dataclass(frozen=True)
class Printer:
    """Makes PDFs of what the stores hold."""

    book: BoardBook
    stored: Readings
    clock: Clock
    words: Catalogue
    """Of the messages."""
    last: str
    """The caution that stands on everything."""
    _one: Lock = field(default_factory=Lock)

    def record(self, message: Message, address: str) -> bytes:
        """Return the record of a decision as a PDF.

        Args:
            message: one of a kind that has a record.
            address: where the pages are, for the code to scan.

        Raises:
            StoreError: a store failed, or the evidence that the message names is not there.
        """
        from cure.dashboard.record import gather, render

        with self._one:
            return render(gather(self.book, self.stored, message, self._cautions(message), address))

    def handover(self, of: str, records: Sequence[tuple[Message, Standing]], address: str) -> bytes:
        """Return several records, with what became of each, as one PDF. Raises `StoreError`.

        Args:
            of: such as "floor 2".
            records: one or more, as they are to stand.
            address: where the pages are, for the codes to scan.
        """
        from cure.dashboard.handover import Handover, render_handover
        from cure.dashboard.record import gather

        with self._one:
            made = [(gather(self.book, self.stored, m, self._cautions(m), address), s) for m, s in records]
            return render_handover(Handover(of, self.book.site().site, self.clock.now(), made, self.last))

    def pour(self, pour: PourId) -> bytes:
        """Return the record of a whole pour, open or closed, as a PDF. Raises `StoreError`."""
        from cure.dashboard.pour_record import gather_pour, render_pour

        with self._one:
            return render_pour(gather_pour(self.book, self.stored, self.clock, pour, self.last))

    def _cautions(self, message: Message) -> tuple[str, ...]:
        return cautions(message, self.words, self.book.site().site.units, self.last)
