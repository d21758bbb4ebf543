"""Prints records for the pages, one at a time: setting a sheet takes 75 MB, and its compiler a second to load."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock

from cure.dashboard.cautions import cautions
from shared.catalogue import Catalogue
from shared.models.messages import Message
from shared.ports import BoardBook, Readings


@dataclass(frozen=True)
class Printer:
    """Makes PDFs of what the stores hold."""

    book: BoardBook
    stored: Readings
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
            said = cautions(message, self.words, self.book.site().site.units, self.last)
            return render(gather(self.book, self.stored, message, said, address))
