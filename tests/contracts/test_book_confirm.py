"""The contract of `AlertsBook.confirm`: what a person's answer to a message ends."""

from __future__ import annotations

import pytest
from book_support import gate
from delivery_support import SUPER, put, route, told_and_routed
from store_support import POUR, T0, make_log, make_message, make_result, make_start

from shared.models.acts import Confirm
from shared.models.base import STRIP
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.store.book import SiteBook

CONFIRM = Confirm(at=make_start().at, who="super", message=1)
LEASE = "1.2"


def test_a_person_confirms_the_accepted_deliveries_of_a_message(book: SiteBook) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL), make_message(MessageKind.KEEP_OFF))
    for delivery in (1, 3):
        put(book, delivery, DeliveryState.ACCEPTED)
    assert book.alerts.confirm(CONFIRM, 1, make_log("act", message=1)) == 1
    states = [d.state for d in book.board.deliveries()]
    assert states == [DeliveryState.CONFIRMED, DeliveryState.QUEUED, DeliveryState.ACCEPTED, DeliveryState.QUEUED]
    assert book.board.acts()[-1] == CONFIRM
    assert book.board.log_after(0)[-1][1] == make_log("act", message=1)


@pytest.mark.parametrize(
    ("state", "confirmed"),
    [
        (DeliveryState.QUEUED, False),
        (DeliveryState.CALLING, True),
        (DeliveryState.WAITING, True),
        (DeliveryState.UNSURE, True),
        (DeliveryState.SUPERSEDED, False),
        (DeliveryState.ESCALATED, False),
    ],
)
def test_a_person_confirms_a_repeat_that_is_on_its_way_too(
    book: SiteBook, state: DeliveryState, confirmed: bool
) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    put(book, 1, state, was_accepted=True, lease_token=LEASE, lease_until_ms=T0 + 9, attempt=2)
    put(book, 2, state, attempt=2)
    assert book.alerts.confirm(CONFIRM, 1, make_log()) == int(confirmed)
    first, second = book.board.deliveries()
    assert (first.state, second.state) == (DeliveryState.CONFIRMED if confirmed else state, state)
    assert (first.lease_token is None) == confirmed


def test_a_confirmation_makes_its_pour_due_and_voids_rounds_on_it(book: SiteBook) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    put(book, 1, DeliveryState.ACCEPTED)
    case = book.cure.case(POUR)
    book.alerts.confirm(CONFIRM, 1, make_log())
    assert POUR in book.cure.due(0, 9)
    assert not book.cure.record(case, make_result(case))


@pytest.mark.parametrize("message", [1, 99])
def test_confirming_what_nobody_accepted_leaves_no_trace(book: SiteBook, message: int) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    before = (book.board.acts(), book.board.log_after(0), book.board.deliveries())
    assert book.alerts.confirm(CONFIRM, message, make_log()) == 0
    assert (book.board.acts(), book.board.log_after(0), book.board.deliveries()) == before


BY_PHONE = Confirm(at=make_start().at, who="engineer", message=1, told="super and qc by phone, 14:05")
ENDED = {DeliveryState.SUPERSEDED, DeliveryState.REFUSED, DeliveryState.ESCALATED, DeliveryState.CONFIRMED}


@pytest.mark.parametrize("state", DeliveryState)
def test_who_never_answers_is_told_by_phone_whatever_their_channel_did(book: SiteBook, state: DeliveryState) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL), make_message(MessageKind.KEEP_OFF))
    put(book, 1, state, lease_token=LEASE, lease_until_ms=T0 + 9, attempt=3)
    closed = state not in ENDED
    assert book.alerts.confirm(BY_PHONE, 1, make_log("act", n=1)) == 1 + int(closed)
    states = [d.state for d in book.board.deliveries()]
    assert states[:2] == [DeliveryState.CONFIRMED if closed else state, DeliveryState.CONFIRMED]
    assert states[2:] == [DeliveryState.QUEUED, DeliveryState.QUEUED], "only that message was told"
    assert (book.board.deliveries()[0].lease_token is None) == closed
    assert (book.board.acts()[-1], book.board.log_after(0)[-1][1]) == (BY_PHONE, make_log("act", n=1))


def test_a_withdrawal_told_by_phone_counts_as_confirmed_for_its_gate(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    message = make_message(MessageKind.WITHDRAWAL)
    withdrawn = gate(case, STRIP, GateState.WITHDRAWN)
    assert book.cure.record(case, make_result(case, gates=withdrawn, messages=(message,)))
    route(book, 1, SUPER)
    assert book.cure.case(POUR).withdrawal_confirmed == {STRIP: False}
    assert book.alerts.confirm(BY_PHONE, 1, make_log()) == 1
    assert book.cure.case(POUR).withdrawal_confirmed == {STRIP: True}
    assert book.alerts.confirm(BY_PHONE, 1, make_log()) == 0
