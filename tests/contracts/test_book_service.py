"""The contract of `ServiceBook`."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from book_support import DOUBT, OTHER_POUR, SPANS
from delivery_support import SUPER, put, route, tell
from store_support import POUR, T0, make_log, make_message, make_result, opened_book, placed

from shared.errors import StoreError
from shared.models.acts import Resume, instant
from shared.models.base import THE_SITE, LoggerId
from shared.models.decisions import DoubtKind, LogEntry
from shared.models.messages import DeliveryState, MessageKind
from shared.models.readings import Heard
from shared.store import verify_log
from shared.store.book import SiteBook

RESUME = Resume(at=instant(T0), who="engineer", doubt=DoubtKind.CLOCK, why="set by hand")
TOLD = make_message(MessageKind.IN_DOUBT, pour=THE_SITE, subject="clock", epoch=5)


def settle(book: SiteBook) -> None:
    for pour in (POUR, OTHER_POUR):
        case = book.cure.case(pour)
        assert book.cure.record(case, make_result(case, at_ms=T0 + 3_600_000))
    assert book.cure.due(T0, 10) == []


def test_the_clock_is_kept_as_given_in_place_of_what_was_there(book: SiteBook) -> None:
    assert book.service.clock() == ()
    book.service.keep_clock(SPANS)
    assert (book.service.clock(), book.cure.case(POUR).clock) == (SPANS, SPANS)
    longer = (replace(SPANS[1], to_ms=SPANS[1].to_ms + 1),)
    book.service.keep_clock(longer)
    book.service.keep_clock(longer)
    assert book.service.clock() == longer


def test_the_clock_does_not_void_a_round(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    book.service.keep_clock(SPANS)
    assert book.cure.record(case, make_result(case))


def test_the_clock_outlives_the_service(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        book.service.keep_clock(SPANS)
    with opened_book(tmp_path) as book:
        assert book.service.clock() == SPANS


@pytest.mark.row("S7")
def test_a_doubt_is_opened_told_and_logged_and_makes_every_open_pour_due(book: SiteBook) -> None:
    settle(book)
    case = book.cure.case(POUR)
    assert book.service.raise_doubt(DOUBT, [TOLD])
    assert book.cure.due(T0, 10) == [POUR, OTHER_POUR]
    assert not book.cure.record(case, make_result(case))
    assert (book.service.doubts(), book.board.doubts()) == ((DOUBT,), (DOUBT,))
    assert [m.subject for m in book.board.messages()] == ["clock"]
    body = {"doubt": "clock", "event": "opened", "reason": DOUBT.reason}
    assert book.board.log_after(0)[-2][1] == LogEntry(DOUBT.since_ms, "slabhour", "doubt", body)


def test_a_doubt_that_is_open_is_not_opened_again(book: SiteBook) -> None:
    assert book.service.raise_doubt(DOUBT, [TOLD])
    settle(book)
    log = book.board.log_after(0)
    again = replace(DOUBT, since_ms=T0 + 99, reason="another")
    assert not book.service.raise_doubt(again, [replace(TOLD, epoch=6)])
    assert book.service.doubts() == (DOUBT,)
    assert (book.board.log_after(0), len(book.board.messages()), book.cure.due(T0, 10)) == (log, 1, [])


def test_doubts_of_different_kinds_stand_beside_each_other(book: SiteBook) -> None:
    other = replace(DOUBT, kind=DoubtKind.LOG, reason="line 4 was changed")
    assert book.service.raise_doubt(other, [])
    assert book.service.raise_doubt(DOUBT, [])
    assert book.service.doubts() == (DOUBT, other)
    assert book.service.end_doubt(DoubtKind.CLOCK, make_log())
    assert book.service.doubts() == (other,)


@pytest.mark.parametrize("act", [None, RESUME])
def test_a_doubt_ends_with_its_log_line_and_act_and_makes_every_open_pour_due(
    book: SiteBook, act: Resume | None
) -> None:
    assert book.service.raise_doubt(DOUBT, [])
    settle(book)
    case, acts = book.cure.case(POUR), book.board.acts()
    assert book.service.end_doubt(DoubtKind.CLOCK, make_log("doubt", n=1), act)
    assert book.cure.due(T0, 10) == [POUR, OTHER_POUR]
    assert not book.cure.record(case, make_result(case))
    assert book.board.log_after(0)[-1][1] == make_log("doubt", n=1)
    assert book.board.acts() == [*acts, *([act] if act else [])]
    assert book.cure.case(POUR).doubts == ()


def test_a_doubt_that_does_not_stand_cannot_end(book: SiteBook) -> None:
    settle(book)
    before = (book.board.log_after(0), book.board.acts())
    assert not book.service.end_doubt(DoubtKind.CLOCK, make_log(), RESUME)
    assert (book.board.log_after(0), book.board.acts(), book.cure.due(T0, 10)) == (*before, [])


def test_a_doubt_outlives_the_service(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        assert book.service.raise_doubt(DOUBT, [])
    with opened_book(tmp_path) as book:
        assert book.service.doubts() == (DOUBT,)


def test_the_head_of_the_log_is_what_verification_finds(book: SiteBook, tmp_path: Path) -> None:
    number, head = book.service.log_head()
    assert number == len(book.board.log_after(0)) == 3
    beside = verify_log(placed(tmp_path), tmp_path, [(number, head)])
    assert book.service.verify_log([(number, head)]) == beside == (3, head)
    book.cure.messages_of_site([TOLD])
    assert book.service.log_head()[0] == 4
    assert book.service.verify_log([(number, head)])[0] == 4


@pytest.mark.row("M13")
def test_an_anchor_kept_elsewhere_that_is_not_in_the_log_is_found(book: SiteBook) -> None:
    number, head = book.service.log_head()
    with pytest.raises(StoreError, match=f"log line {number + 1} is not the one"):
        book.service.verify_log([(number, head), (number + 1, head)])
    with pytest.raises(StoreError, match="kept outside"):
        book.service.verify_log([(number, "0" * 64)])


def test_the_oldest_due_delivery_is_the_one_that_waited_longest(book: SiteBook) -> None:
    assert book.service.oldest_due_ms(T0) is None
    tell(book, *(make_message(epoch=n) for n in range(1, 5)))
    for message, next_ms in ((1, T0 + 30), (2, T0 + 20), (3, T0 + 10), (4, T0)):
        route(book, message, SUPER, next_ms=next_ms)
    put(book, 1, DeliveryState.WAITING)
    for delivery, state in ((3, DeliveryState.CALLING), (4, DeliveryState.ACCEPTED)):
        put(book, delivery, state)
    assert book.service.oldest_due_ms(T0 + 19) is None
    assert book.service.oldest_due_ms(T0 + 99) == T0 + 20
    put(book, 2, DeliveryState.CONFIRMED)
    assert book.service.oldest_due_ms(T0 + 30) == T0 + 30


@pytest.mark.in_a_file
@pytest.mark.row("S6")
def test_damage_in_the_books_own_file_is_found(book: SiteBook, tmp_path: Path) -> None:
    assert book.service.damage() is None
    book.close()
    file = tmp_path / "site.db"
    with closing(sqlite3.connect(file)) as raw:
        (size,) = raw.execute("PRAGMA page_size").fetchone()
        (page,) = raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'conflict'").fetchone()
    whole = file.read_bytes()
    file.write_bytes(whole[: (page - 1) * size] + b"\xff" * size + whole[page * size :])
    with opened_book(tmp_path) as again:
        said = again.service.damage()
        assert said is not None
        assert said.startswith("site.db: database disk image is malformed: stop the service, keep the damaged file")
        assert "slabhour restore" in said


def test_a_logger_is_heard_as_it_last_spoke(book: SiteBook) -> None:
    heard = Heard(LoggerId("lg-01"), T0, "b1", 7, 81.5, -97.0)
    assert book.service.heard(heard.logger) is None
    book.ingest.note([], [], [], [heard])
    assert book.service.heard(heard.logger) == heard
