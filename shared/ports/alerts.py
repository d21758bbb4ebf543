"""What alerts needs of the site book."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import Protocol

from shared.models.acts import Act
from shared.models.base import BayId, Ms
from shared.models.decisions import (
    LogEntry,
)
from shared.models.messages import Delivery, Due, Message, NewDelivery, NewMessage


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

    def add(self, message: int, deliveries: Sequence[NewDelivery]) -> None:
        """Write further deliveries of a message; those that are there stay as they are."""
        ...

    def rows_of(self, message: int) -> Sequence[Due]:
        """Return every delivery of a message."""
        ...

    def tell(self, message: NewMessage) -> int | None:
        """Write a message of our own; return its number, or None when it is there already."""
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

    def silence(self, act: Act, bay: BayId | None, until: Ms, log: LogEntry) -> None:
        """Write a silence of a bay, or of the site, from the act's hour on."""
        ...

    def resend(self, act: Act, message: int, recipient: str | None, log: LogEntry) -> int:
        """Queue deliveries of a message once more, marked as repeats; return how many."""
        ...

    def test(self, act: Act, message: NewMessage, log: LogEntry) -> int:
        """Write a test message and keep the act; return its number."""
        ...
