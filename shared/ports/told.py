"""What a reader of a long list needs: a page of it at a time, however long it has become."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from shared.models.base import Ms, Operation, PourId
from shared.models.decisions import Gate, Hold
from shared.models.messages import Delivery, DeliveryState, Message, MessageKind
from shared.models.readings import Refusal


@dataclass(frozen=True, slots=True)
class Which:
    """Of which messages; what is empty leaves all."""

    kinds: Collection[MessageKind] = ()
    bay: str = ""
    """As their facts name it."""
    floor: str = ""
    """Likewise."""
    pour: str = ""
    before: int = 0
    """A number: only lower ones."""
    pours: Collection[PourId] = ()
    from_ms: Ms = 0
    """Written at this hour or later."""
    to_ms: Ms = 0
    """Written before this hour; 0: whenever."""


@dataclass(frozen=True, slots=True)
class Decided:
    """How a pour, open or closed, is decided."""

    gates: Mapping[Operation, Gate]
    holds: tuple[Hold, ...]


class ToldBook(Protocol):
    """Pages of what was told and refused. Each is one question, and brings no more than was asked for."""

    def newest_messages(self, which: Which, limit: int) -> Sequence[Message]:
        """Return the newest messages, newest first."""
        ...

    def next_messages(self, which: Which, after: int, limit: int) -> Sequence[Message]:
        """Return the messages after a number, oldest first."""
        ...

    def count_messages(self, which: Which) -> int:
        """Return how many messages there are."""
        ...

    def message(self, no: int) -> Message | None:
        """Return a message by its number."""
        ...

    def deliveries_of(self, messages: Collection[int]) -> Sequence[Delivery]:
        """Return the deliveries of messages, by number."""
        ...

    def count_deliveries(self) -> Mapping[DeliveryState, int]:
        """Return how many deliveries are in each state; one that is not there has none."""
        ...

    def waiting_messages(
        self, which: Which, answered: Collection[MessageKind], failed: Collection[DeliveryState], limit: int
    ) -> Sequence[Message]:
        """Return the newest messages that wait for a person, newest first.

        Args:
            which: of which.
            answered: kinds that a person answers: they wait until one delivery is confirmed.
            failed: states in which a delivery of any other kind wants a person.
            limit: at most so many.
        """
        ...

    def decided(self, pours: Collection[PourId]) -> Mapping[PourId, Decided]:
        """Return how pours, open or closed, are decided; one that is not known has no gates."""
        ...

    def standing_refusals(self, limit: int) -> tuple[int, Sequence[Refusal]]:
        """Return how many refusals stand, and the newest of them, newest first."""
        ...
