"""One attempt: what was claimed is worded for its recipient and handed to the transport, watched until it is over."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Final

from alerts.attempts import Claimed
from alerts.delivery import Go, fence
from alerts.transport import Attempt, Transport
from alerts.wording import words_together
from shared.catalogue import Catalogue
from shared.models.messages import PERMITS, Outcome, OutcomeKind
from shared.models.setup import Setup
from shared.ports import AlertsBook, Clock

_LOG: Final = logging.getLogger(__name__)


class Sending:
    """Makes attempts; used by several threads."""

    def __init__(
        self, setup: Setup, book: AlertsBook, clock: Clock, transport: Transport, catalogue: Catalogue | None
    ) -> None:
        self._setup = setup
        self._book = book
        self._clock = clock
        self._transport = transport
        self._catalogue = catalogue

    @property
    def deadline_s(self) -> float:
        """Longest time that one attempt may take. [s]"""
        return self._transport.deadline_s

    def attempt(self, claimed: Claimed) -> Outcome:
        """Try once; whatever breaks becomes an outcome."""
        row = claimed.first.delivery
        person = self._setup.site.person(row.recipient)
        if person is None or not 0 <= row.channel < len(person.channels):
            return Outcome(OutcomeKind.NEVER, "the set-up has no such recipient or channel any more")
        messages = [due.message for due in claimed.dues]
        try:
            text = words_together(messages, repeat=row.was_unsure, language=person.language, catalogue=self._catalogue)
        except Exception as error:  # noqa: BLE001 - one text that cannot be made must not hold the others up
            _LOG.exception("delivery %d: its text could not be made", row.no)
            return Outcome(OutcomeKind.NOT_NOW, f"the text could not be made: {type(error).__name__}")
        numbers = tuple(message.no for message in messages)
        attempt = Attempt(text, person.channels[row.channel], numbers, row.recipient, row.channel, self._clock.now())
        try:
            return self._transport.send(attempt, self._still_true(claimed))
        except Exception as error:  # noqa: BLE001 - an attempt that broke anywhere may have arrived; the loop goes on
            _LOG.exception("delivery %d: the attempt broke", row.no)
            return Outcome(OutcomeKind.UNSURE, f"the attempt broke: {type(error).__name__}")

    def _still_true(self, claimed: Claimed) -> Callable[[], bool]:
        """One message that is no longer true ends a text that tells of several."""

        def reread() -> bool:
            if claimed.kind not in PERMITS:
                return True
            with self._book.deciding() as rows:
                current = [rows.one(due.delivery.no) for due in claimed.dues]
            now = self._clock.now()
            mine = all(due.delivery.lease_token == claimed.token for due in current)
            return mine and all(isinstance(fence(due, now), Go) for due in current)

        return reread
