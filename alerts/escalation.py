"""Who else is told when nobody answers a withdrawal, or when somebody cannot be reached. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count, groupby
from typing import Final

from alerts.delivery import INSISTENT
from alerts.routing import on_duty, receivers, to_person
from shared.models.base import MINUTE_MS, Ms
from shared.models.messages import (
    PERMITS,
    URGENT,
    Delivery,
    DeliveryState,
    Due,
    Message,
    MessageKind,
    NewDelivery,
    NewMessage,
)
from shared.models.setup import SiteFile

PATIENCE_MS: Final = (5 * MINUTE_MS, 10 * MINUTE_MS, 20 * MINUTE_MS)
"""After these the next person on duty is told, then one more every ten minutes."""
_THEN_EVERY_MS: Final = 10 * MINUTE_MS
_WORTH_TELLING: Final = PERMITS | URGENT
_PLACE: Final = ("site", "site_id", "zone", "units", "floor", "bay", "pour", "operation")
_GAVE_UP: Final = frozenset({DeliveryState.REFUSED, DeliveryState.ESCALATED})
_TRYING: Final = frozenset({DeliveryState.WAITING, DeliveryState.UNSURE})
_CALLED_OFF: Final = _GAVE_UP | {DeliveryState.SUPERSEDED}


@dataclass(frozen=True, slots=True)
class Further:
    """What follows from nobody having answered a message yet."""

    deliveries: tuple[NewDelivery, ...]
    exhausted: bool
    """Everybody on duty has been told, and nobody is left."""


def further(message: Message, rows: Sequence[Delivery], site: SiteFile, now: Ms) -> Further:
    """Return who must be told as well: one further person on duty after 5, 10, 20, ... minutes without an answer.

    Counted from the hour at which the first channel accepted it, or else from the message, once it has been tried.
    """
    tried = any(row.attempt > 0 for row in rows)
    if not tried or any(row.state is DeliveryState.CONFIRMED for row in rows):
        return Further((), False)
    since_ms = min((row.accepted_ms for row in rows if row.accepted_ms is not None), default=message.at_ms)
    passed = next(n for n, patience_ms in enumerate(_patience()) if not now - since_ms >= patience_ms)
    told_anyway = {person.id for person in receivers(message, site)}
    order = [person for person in on_duty(site) if person.id not in told_anyway]
    told = {row.recipient for row in rows}
    new = [d for person in order[:passed] if person.recipient_id not in told for d in to_person(person, now)]
    return Further(tuple(new), passed > len(order))


def _patience() -> Iterator[Ms]:
    yield from PATIENCE_MS
    yield from count(PATIENCE_MS[-1] + _THEN_EVERY_MS, _THEN_EVERY_MS)


def given_up(due: Due, rows: Iterable[Delivery], now: Ms) -> NewMessage | None:
    """Return the news that a person got a message through no channel, once the last of them has given up."""
    mine = [row for row in rows if row.recipient == due.delivery.recipient]
    worth = due.message.kind in _WORTH_TELLING and due.delivery.state in _GAVE_UP
    if not worth or any(row.state not in _CALLED_OFF for row in mine):
        return None
    return _failed(due.message, due.delivery.recipient, due.delivery.outcome, now)


def unheard(message: Message, rows: Iterable[Delivery], now: Ms) -> list[NewMessage]:
    """Return the news of each person whom no channel has brought a withdrawal for five minutes."""
    if message.kind not in INSISTENT or not now - message.at_ms >= PATIENCE_MS[0]:
        return []
    people = groupby(sorted(rows, key=lambda row: (row.recipient, row.channel)), key=lambda row: row.recipient)
    each = ((who, list(theirs)) for who, theirs in people)
    return [
        _failed(message, who, theirs[0].outcome, now)
        for who, theirs in each
        if all(row.state in _TRYING and row.accepted_ms is None for row in theirs)
    ]


def _failed(message: Message, who: str, why: str, now: Ms) -> NewMessage:
    place = {key: message.facts[key] for key in _PLACE if key in message.facts}
    facts = {**place, "message": message.no, "recipient": who, "kind": message.kind.value, "why": why}
    # Once a message and person: its subject says so.
    return NewMessage(MessageKind.DELIVERY_FAILED, message.pour, f"{message.no} {who}", 0, now, None, facts)
