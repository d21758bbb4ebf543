"""Messages and their deliveries in a site book, put into the state that a test wants."""

from __future__ import annotations

from dataclasses import replace

from store_support import POUR, T0, make_result

from shared.models.base import Ms, PourId, RecipientId
from shared.models.messages import DeliveryState, NewDelivery, NewMessage
from shared.store.book import SiteBook

SUPER, QC = RecipientId("super"), RecipientId("qc")


def tell(book: SiteBook, *messages: NewMessage, pour: PourId = POUR) -> None:
    """Write messages, as cure does."""
    case = book.cure.case(pour)
    assert book.cure.record(case, make_result(case, messages=messages))


def route(book: SiteBook, message: int, *recipients: RecipientId, next_ms: Ms = T0) -> None:
    """Give a message one delivery a recipient."""
    book.alerts.route(message, [NewDelivery(r, 0, next_ms) for r in recipients])


def told_and_routed(book: SiteBook, *messages: NewMessage) -> None:
    """Write messages, each to both recipients: deliveries 1 and 2 of message 1, 3 and 4 of message 2, ..."""
    tell(book, *messages)
    for message in book.alerts.unrouted(100):
        route(book, message.no, SUPER, QC)


def put(book: SiteBook, delivery: int, state: DeliveryState, **changes: object) -> None:
    """Store a delivery in another state."""
    with book.alerts.deciding() as rows:
        row = rows.one(delivery).delivery
        rows.write(replace(row, state=state, **changes))  # type: ignore[arg-type]  # a test's builder: fields by name
