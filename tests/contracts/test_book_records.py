"""What the keeping of records sees of pours, and the closing of those whose record is over."""

from __future__ import annotations

from dataclasses import replace

import pytest
from book_support import OTHER_POUR
from store_support import BAY, EDGE, INSIDE, POUR, T0, make_log, make_pour, make_result, make_start

from shared.models.base import LOAD, STRIP, WALK
from shared.models.decisions import GateState, Hold, HoldKind
from shared.store.book import SiteBook

HOLD = Hold(HoldKind.CONFLICT, T0, "qc", "two values", "say which")


def set_gates(book: SiteBook, state: GateState, *, held: bool = False, end_ms: int | None = T0 + 5) -> None:
    case = book.cure.case(POUR)
    gates = tuple(
        replace(case.gates[op], state=state, changed_ms=T0 + n) for n, op in enumerate((STRIP, WALK, LOAD), 10)
    )
    pour = replace(case.pour, end_ms=end_ms)
    result = make_result(case, gates=gates, pour=pour, holds=(HOLD,) if held else ())
    assert book.cure.record(case, result)


def finished(book: SiteBook) -> dict[str, int | None]:
    return {one.pour.id: one.finished_ms for one in book.service.records()}


@pytest.mark.row("S13")
def test_a_pour_is_finished_when_all_is_done_and_nothing_is_open(book: SiteBook) -> None:
    assert finished(book) == {POUR: None, OTHER_POUR: None}
    for state in GateState:
        set_gates(book, state)
        assert finished(book)[POUR] == (T0 + 12 if state is GateState.DONE else None), state
    set_gates(book, GateState.DONE, held=True)
    assert finished(book)[POUR] is None
    set_gates(book, GateState.DONE, end_ms=None)
    assert finished(book)[POUR] is None
    set_gates(book, GateState.DONE, end_ms=T0 + 50)
    assert finished(book)[POUR] == T0 + 50


def test_a_record_names_the_sensors_that_were_there(book: SiteBook) -> None:
    (first, *_) = book.service.records()
    assert (first.pour.id, {EDGE, INSIDE} <= first.sensors) == (POUR, True)


@pytest.mark.row("S13")
def test_a_record_is_closed_with_its_line_in_the_log_or_not_at_all(book: SiteBook) -> None:
    log = make_log("retention", T0 + 99)
    before = book.service.log_head()
    assert not book.service.close_records([POUR], log)
    set_gates(book, GateState.DONE)
    assert not book.service.close_records([POUR, OTHER_POUR], log)
    assert book.service.log_head() == before
    assert book.service.close_records([POUR], log)
    assert book.service.log_head()[0] == before[0] + 1
    assert finished(book)[POUR] == T0 + 12, "closing does not begin the years anew"
    assert [row.pour.id for row in book.board.board()] == [OTHER_POUR]
    assert book.service.close_records([POUR], log)
    closed = book.cure.pour_named(POUR)
    assert closed is not None
    assert closed.closed_ms == T0 + 99
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", BAY, start_ms=T0 + 200), make_log())
    again = book.cure.pour_named(POUR)
    assert again == closed
