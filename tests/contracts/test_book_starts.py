"""The contract of `CureBook`: what a start has ended, and two pours recorded in one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from book_support import OTHER_POUR, sign
from store_support import POUR, T0, make_log, make_message, make_pour, make_result, make_start

from alerts.delivery import Go, Supersede, may_go
from shared.errors import StoreError
from shared.models.acts import TakeBack
from shared.models.base import HOUR_MS, Ms, PourId, RecipientId
from shared.models.messages import MessageKind, NewDelivery
from shared.ports import SinceStart
from shared.store.book import SiteBook

SECOND, THIRD = PourId("2-b1-p2"), PourId("2-b1-p3")


def start(book: SiteBook, pour: PourId, at_ms: Ms) -> None:
    book.cure.open_pour(make_start(pour, at_ms=at_ms), make_pour(pour, start_ms=at_ms), make_log("act"))


def take_back(book: SiteBook, pour: PourId, at_ms: Ms, before: PourId) -> bool:
    """Close a pour whose start is taken back, and open the one before it."""
    void, old = book.cure.case(pour), book.cure.case(before)
    act = TakeBack(at=make_start(at_ms=at_ms).at, who="super", pour=pour, why="wrong bay")
    again = make_result(old, pour=replace(old.pour, closed_ms=None), act=act)
    return book.cure.record(old, again, (void, make_result(void, pour=replace(void.pour, closed_ms=at_ms))))


def test_a_start_has_ended_the_open_pour_of_its_bay(book: SiteBook) -> None:
    assert book.cure.since_start(POUR) == SinceStart(None, frozenset({"pour_start"}))
    start(book, SECOND, T0 + HOUR_MS)
    assert book.cure.since_start(SECOND) == SinceStart(POUR, frozenset({"pour_start"}))
    with pytest.raises(StoreError, match="no pour 9-z"):
        book.cure.since_start(PourId("9-z"))


def test_of_starts_at_one_hour_each_has_ended_the_one_before_it(book: SiteBook) -> None:
    for pour in (SECOND, THIRD):
        start(book, pour, T0 + HOUR_MS)
    assert book.cure.since_start(THIRD).ended == SECOND
    assert take_back(book, THIRD, T0 + HOUR_MS, SECOND)
    assert book.cure.since_start(SECOND).ended == POUR


def test_a_void_pour_is_not_what_a_later_start_has_ended(book: SiteBook) -> None:
    start(book, SECOND, T0 + HOUR_MS)
    assert take_back(book, SECOND, T0 + 2 * HOUR_MS, POUR)
    assert book.cure.open_pours() == [POUR, OTHER_POUR]
    start(book, THIRD, T0 + 2 * HOUR_MS)
    assert book.cure.since_start(THIRD).ended == POUR


def test_two_pours_are_recorded_in_one_or_not_at_all(book: SiteBook) -> None:
    start(book, SECOND, T0 + HOUR_MS)
    void, old = book.cure.case(SECOND), book.cure.case(POUR)
    assert book.cure.record(void, make_result(void, act=sign().model_copy(update={"pour": SECOND})))
    again = make_result(old, pour=replace(old.pour, closed_ms=None))
    assert not book.cure.record(old, again, (void, make_result(void, pour=replace(void.pour, closed_ms=T0))))
    assert book.cure.case(POUR) == old
    assert "sign" in book.cure.since_start(SECOND).acts


def test_what_a_void_pour_had_still_to_tell_is_not_told(book: SiteBook) -> None:
    start(book, SECOND, T0 + HOUR_MS)
    case = book.cure.case(SECOND)
    message = replace(make_message(MessageKind.COLD_DELAY), pour=SECOND)
    assert book.cure.record(case, make_result(case, messages=(message,)))
    book.alerts.route(1, [NewDelivery(RecipientId("super"), 0, T0)])

    def goes() -> object:
        with book.alerts.deciding() as rows:
            return may_go(rows.one(1), T0 + 2 * HOUR_MS)

    assert goes() == Go()
    assert take_back(book, SECOND, T0 + 2 * HOUR_MS, POUR)
    assert goes() == Supersede("a withdrawal or a freeze of its pour is open, or its start was taken back")


def test_the_readings_of_a_void_pour_are_kept_no_longer_than_of_a_finished_one(book: SiteBook) -> None:
    start(book, SECOND, T0 + HOUR_MS)
    assert take_back(book, SECOND, T0 + 2 * HOUR_MS, POUR)
    finished = {one.pour.id: one.finished_ms for one in book.service.records()}
    assert finished == {POUR: None, OTHER_POUR: None, SECOND: T0 + 2 * HOUR_MS}
