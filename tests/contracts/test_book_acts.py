"""The contract of `AlertsBook`: silence, resend and test, each with its act and log line."""

from __future__ import annotations

import pytest
from delivery_support import QC, SUPER, put, told_and_routed
from store_support import BAY, T0, make_log, make_message

from shared.errors import StoreError
from shared.models.acts import Resend, Silence, TestChannels, instant
from shared.models.base import THE_SITE
from shared.models.messages import Delivery, DeliveryState, MessageKind, NewMessage
from shared.store.book import SiteBook

LATER = T0 + 60_000
SILENCE = Silence(at=instant(T0), who="qc", bay=BAY, until=instant(LATER), why="too many")
RESEND = Resend(at=instant(LATER), who="qc", message=1)
TEST = TestChannels(at=instant(T0), who="qc", recipient="qc")
AT_REST = {DeliveryState.ACCEPTED, DeliveryState.REFUSED, DeliveryState.ESCALATED}


def test_a_silence_is_kept_as_an_act_with_its_log_line(book: SiteBook) -> None:
    book.alerts.silence(SILENCE, BAY, LATER, make_log("act", bay=BAY))
    assert book.board.acts()[-1] == SILENCE
    assert book.board.log_after(0)[-1][1] == make_log("act", bay=BAY)


@pytest.mark.parametrize("state", DeliveryState)
def test_only_what_is_at_rest_and_still_true_and_unanswered_is_sent_once_more(
    book: SiteBook, state: DeliveryState
) -> None:
    told_and_routed(book, make_message())
    put(book, 1, state)
    put(book, 2, DeliveryState.SUPERSEDED)
    rows, acts, log = book.board.deliveries(), book.board.acts(), book.board.log_after(0)
    assert book.alerts.resend(RESEND, 1, None, make_log("act", n=1)) == int(state in AT_REST)
    if state in AT_REST:
        assert book.board.deliveries()[0].state is DeliveryState.QUEUED
        assert (book.board.acts()[-1], book.board.log_after(0)[-1][1]) == (RESEND, make_log("act", n=1))
    else:
        assert (book.board.deliveries(), book.board.acts(), book.board.log_after(0)) == (rows, acts, log)


def test_a_row_is_queued_again_at_once_as_a_repeat_with_all_its_attempts(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    put(book, 1, DeliveryState.ACCEPTED, attempt=3, next_ms=T0 + 9, called_ms=T0 + 1, accepted_ms=T0 + 2, outcome="250")
    assert book.alerts.resend(RESEND, 1, None, make_log()) == 1
    assert book.board.deliveries()[0] == Delivery(
        1, 1, SUPER, 0, next_ms=LATER, called_ms=T0 + 1, outcome="250", was_unsure=True, accepted_ms=T0 + 2
    )
    assert book.alerts.anything_due(LATER)
    assert book.alerts.resend(RESEND, 1, None, make_log()) == 0


def test_who_once_had_a_release_is_still_told_of_its_withdrawal_while_it_waits_to_go_again(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    put(book, 1, DeliveryState.ACCEPTED, attempt=1, called_ms=T0 + 1, accepted_ms=T0 + 2, was_accepted=True)
    assert book.alerts.resend(RESEND, 1, None, make_log()) == 1
    assert book.alerts.told(book.board.messages()[0]) == [("super", 0)]


def test_a_repeat_can_be_confirmed_only_when_it_has_been_accepted(book: SiteBook) -> None:
    """A release may be on its way meanwhile, and a queued row is not told of it."""
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    put(book, 1, DeliveryState.ACCEPTED, was_accepted=True)
    assert book.alerts.resend(RESEND, 1, None, make_log()) == 1
    assert not book.board.deliveries()[0].was_accepted


@pytest.mark.parametrize(
    ("recipient", "again"), [("qc", [QC]), ("super", [SUPER]), (None, [SUPER, QC]), ("nobody", [])]
)
def test_a_message_is_sent_once_more_to_one_or_to_all(book: SiteBook, recipient: str | None, again: list[str]) -> None:
    told_and_routed(book, make_message(), make_message(epoch=2))
    for delivery in range(1, 5):
        put(book, delivery, DeliveryState.ACCEPTED)
    assert book.alerts.resend(RESEND, 1, recipient, make_log()) == len(again)
    queued = [(d.message, d.recipient) for d in book.board.deliveries() if d.state is DeliveryState.QUEUED]
    assert queued == [(1, who) for who in again]


def _test_message(epoch: int = 1) -> NewMessage:
    return make_message(MessageKind.TEST, pour=THE_SITE, subject="qc", epoch=epoch)


def test_a_test_message_waits_for_its_routing_with_its_act_kept(book: SiteBook) -> None:
    assert book.alerts.test(TEST, _test_message(), make_log("act", n=1)) == 1
    assert book.alerts.test(TEST, _test_message(2), make_log("act", n=2)) == 2
    assert [(m.no, m.kind, m.pour) for m in book.alerts.unrouted(9)] == [
        (1, MessageKind.TEST, THE_SITE),
        (2, MessageKind.TEST, THE_SITE),
    ]
    assert book.board.acts()[-2:] == [TEST, TEST]
    assert book.board.log_after(0)[-1][1] == make_log("act", n=2)


def test_the_same_test_in_the_same_moment_is_refused_and_leaves_no_trace(book: SiteBook) -> None:
    book.alerts.test(TEST, _test_message(), make_log())
    before = (book.board.acts(), book.board.log_after(0), book.board.messages())
    with pytest.raises(StoreError, match="try again"):
        book.alerts.test(TEST, _test_message(), make_log())
    assert (book.board.acts(), book.board.log_after(0), book.board.messages()) == before
