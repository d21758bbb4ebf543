"""The contract of `RefusedBook`, and of what the board shows of it."""

from __future__ import annotations

from store_support import EDGE, INSIDE, T0

from shared.models.readings import Reason, Refused
from shared.store.book import SiteBook


def refused(book: SiteBook) -> None:
    rows = [
        Refused(T0, "t", payload, Reason.RANGE, "too hot", sensor)
        for payload, sensor in ((b"one", EDGE), (b"two", INSIDE), (b"three", None))
    ]
    book.ingest.note([], rows, [], [])


def test_what_is_not_decided_stands_with_its_number_and_whole_payload(book: SiteBook) -> None:
    refused(book)
    found = book.refused.standing(None)
    assert [(r.no, r.refused.payload, r.refused.sensor) for r in found] == [
        (1, b"one", EDGE),
        (2, b"two", INSIDE),
        (3, b"three", None),
    ]
    assert [r.no for r in book.refused.standing(INSIDE)] == [2]
    assert list(book.board.refusals()) == list(found)


def test_what_is_decided_stands_no_more_and_the_board_says_what_became_of_it(book: SiteBook) -> None:
    refused(book)
    book.refused.decide({1: "stored: 1 reading", 3: "refused again"}, T0 + 5)
    assert [r.no for r in book.refused.standing(None)] == [2]
    shown = [(r.no, r.decided_ms, r.outcome) for r in book.board.refusals()]
    assert shown == [(1, T0 + 5, "stored: 1 reading"), (2, None, ""), (3, T0 + 5, "refused again")]
    assert len(book.board.refused()) == 3


def test_what_was_decided_first_stays(book: SiteBook) -> None:
    refused(book)
    book.refused.decide({1: "stored: 1 reading"}, T0 + 5)
    book.refused.decide({1: "another", 2: "stored: 2 readings"}, T0 + 9)
    book.refused.decide({}, T0 + 10)
    assert [(r.decided_ms, r.outcome) for r in book.board.refusals()][:2] == [
        (T0 + 5, "stored: 1 reading"),
        (T0 + 9, "stored: 2 readings"),
    ]
