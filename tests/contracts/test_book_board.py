"""The contract of `BoardBook`, read beside a service that writes."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from store_support import (
    BAY,
    OTHER_BAY,
    POUR,
    T0,
    gates_with,
    make_log,
    make_message,
    make_pour,
    make_result,
    make_site,
    make_start,
)

from shared.errors import StoreError
from shared.models.base import STRIP
from shared.models.decisions import GateState, Hold, HoldKind
from shared.models.messages import MessageKind
from shared.store import read_board
from shared.store.book import SiteBook

HOLD = Hold(HoldKind.CONFLICT, T0, "qc", "two values", "say which")


def test_the_board_shows_open_pours_by_bay(book: SiteBook) -> None:
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    assert [(row.pour.id, row.floor) for row in book.board.board()] == [("2-b1-p2", "2"), ("2-b2-p1", "2")]


def test_a_row_shows_what_is_stored(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    gates = gates_with(case, STRIP, replace(case.gates[STRIP], state=GateState.UNDER_WAY))
    assert book.cure.record(case, make_result(case, gates=gates, holds=(HOLD,)))
    case = book.cure.case(POUR)
    first, second = book.board.board()
    assert (first.pour, first.gates, first.holds, first.state) == (case.pour, case.gates, (HOLD,), case.state)
    assert (first.stripping, second.stripping) == ((), (BAY,))


def test_the_set_up_in_force_is_shown(book: SiteBook) -> None:
    assert book.board.site() == make_site()


def test_the_log_is_read_on_from_any_number(book: SiteBook) -> None:
    lines = book.board.log_after(0)
    assert [seq for seq, _ in lines] == [1, 2, 3]
    assert [entry.what for _, entry in lines] == ["setup", "act", "act"]
    assert book.board.log_after(2) == lines[2:]
    assert book.board.log_after(3) == []


def test_acts_are_shown_in_order(book: SiteBook) -> None:
    assert book.board.acts() == [make_start(), make_start("2-b2-p1", OTHER_BAY)]


def test_the_board_is_read_beside_an_open_writer_and_sees_only_what_is_committed(
    book: SiteBook, tmp_path: Path
) -> None:
    with read_board(tmp_path) as board:
        with book.writing():
            case = book.cure.case(POUR)
            assert book.cure.record(case, make_result(case, messages=(make_message(MessageKind.HOLD),)))
            assert board.messages() == []
        assert [m.kind for m in board.messages()] == [MessageKind.HOLD]


def test_another_process_reads_the_board_while_a_write_is_going_on(book: SiteBook, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from shared.store import read_board\n"
        "with read_board(Path(sys.argv[1])) as board: print([row.pour.id for row in board.board()])"
    )
    with book.writing():
        said = subprocess.run([sys.executable, "-c", code, tmp_path], capture_output=True, text=True, check=True)
    assert said.stdout == "['2-b1-p1', '2-b2-p1']\n"


def test_the_board_can_be_read_after_the_service_has_ended(book: SiteBook, tmp_path: Path) -> None:
    book.close()
    for _ in range(2):
        with read_board(tmp_path) as board:
            assert len(board.board()) == 2


def test_where_no_service_ever_ran_there_is_no_board(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no site book"), read_board(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []
