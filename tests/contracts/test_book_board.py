"""The contract of `BoardBook`, read beside a service that writes."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from book_support import OTHER_POUR, strength_test
from store_support import (
    BAY,
    OTHER_BAY,
    POUR,
    T0,
    gates_with,
    make_calibration,
    make_log,
    make_message,
    make_pour,
    make_result,
    make_setup,
    make_site,
    make_start,
    opened_book,
    placed,
)

from shared.errors import StoreError
from shared.models.acts import PourEnd, RemoveSensor, instant
from shared.models.base import STRIP, PourId
from shared.models.decisions import GateState, Hold, HoldKind, PourState
from shared.models.messages import MessageKind
from shared.ports import NewArrivals
from shared.store import read_board
from shared.store.book import SiteBook

HOLD = Hold(HoldKind.CONFLICT, T0, "qc", "two values", "say which")


def test_the_board_shows_open_pours_by_bay(book: SiteBook) -> None:
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    assert [(row.pour.id, row.floor) for row in book.board.board()] == [("2-b1-p2", "2"), ("2-b2-p1", "2")]
    assert book.cure.open_pours() == ["2-b1-p2", "2-b2-p1"]


def test_a_row_shows_what_is_stored(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    gates = gates_with(case, STRIP, replace(case.gates[STRIP], state=GateState.UNDER_WAY))
    assert book.cure.record(case, make_result(case, gates=gates, holds=(HOLD,)))
    case = book.cure.case(POUR)
    first, second = book.board.board()
    assert (first.pour, first.gates, first.holds, first.state) == (case.pour, case.gates, (HOLD,), case.state)
    assert (first.stripping, second.stripping) == ((), (BAY,))


def test_a_reader_gets_the_case_that_the_rounds_judge_of_an_open_or_closed_pour(book: SiteBook, tmp_path: Path) -> None:
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    with read_board(placed(tmp_path), tmp_path) as board:
        for pour in (POUR, PourId("2-b1-p2")):
            assert board.case(pour) == book.cure.case(pour) == book.board.case(pour)
        assert board.case(POUR).pour.closed_ms == T0 + 1
        with pytest.raises(StoreError, match="no pour"):
            board.case(PourId("nowhere"))


def test_the_placements_are_those_that_ingest_sees(book: SiteBook) -> None:
    assert list(book.board.placements()) == list(book.ingest.placements())
    assert len(book.board.placements()) > 1


def test_what_lies_arrived_and_is_in_force_is_asked_for_by_itself(book: SiteBook) -> None:
    taken = book.board.placements()[0].sensor
    out = RemoveSensor(at=instant(T0 + 5), who="qc", sensor=taken, why="broken")
    before = book.cure.placements_of(taken)
    assert book.cure.place(out, before, [replace(p, to_ms=T0 + 5) for p in before], make_log())
    assert book.board.lying() == [p for p in book.board.placements() if p.to_ms is None]
    assert taken not in {p.sensor for p in book.board.lying()} != set()
    came = [NewArrivals(p.sensor, 1, T0, T0, T0) for p in book.board.placements()]
    book.ingest.note(came, [], [], [])
    every = book.board.arrivals()
    assert book.board.arrivals_of({a.sensor for a in every[1:]}) == every[1:] != []
    assert book.board.arrivals_of(()) == []
    assert book.board.calibrations() == [row.calibration for row in book.board.mixes() if row.in_force] != []


def test_acts_of_a_day_are_those_of_its_hours_and_those_entered_later(book: SiteBook) -> None:
    board = book.board
    at = [a.at_ms for a in board.acts()]
    assert board.acts_between(min(at), max(at) + 1) == board.acts()
    assert board.acts_between(max(at) + 1, max(at) + 2) == []
    assert board.acts_between(0, min(at)) == []
    late = PourEnd(at=instant(T0 + 9), who="qc", pour=POUR, happened=instant(T0 + 2))
    case = book.cure.case(POUR)
    assert book.cure.record(case, replace(make_result(case), act=late))
    assert board.acts_between(0, T0 + 3)[-1] == late


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
    with read_board(placed(tmp_path), tmp_path) as board:
        with book.writing():
            case = book.cure.case(POUR)
            assert book.cure.record(case, make_result(case, messages=(make_message(MessageKind.HOLD),)))
            assert board.messages() == []
        assert [m.kind for m in board.messages()] == [MessageKind.HOLD]


@pytest.mark.in_a_file
def test_another_process_reads_the_board_while_a_write_is_going_on(book: SiteBook, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from shared.store import read_board\n"
        "with read_board(None, Path(sys.argv[1])) as board: print([row.pour.id for row in board.board()])"
    )
    with book.writing():
        said = subprocess.run([sys.executable, "-c", code, tmp_path], capture_output=True, text=True, check=True)
    assert said.stdout == "['2-b1-p1', '2-b2-p1']\n"


def test_the_board_can_be_read_after_the_service_has_ended(book: SiteBook, tmp_path: Path) -> None:
    book.close()
    for _ in range(2):
        with read_board(placed(tmp_path), tmp_path) as board:
            assert len(board.board()) == 2


@pytest.mark.in_a_file
def test_where_no_service_ever_ran_there_is_no_board(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no site book"), read_board(placed(tmp_path), tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_mix_shows_its_calibration_in_force_with_pours_and_cylinders(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    state = PourState(T0, case.input_revision, memory={"cold_start": True})
    tested = strength_test(7.5, equivalent_age_h=40.5, tested=instant(T0 + 3))
    assert book.cure.record(case, make_result(case, state=state, act=tested))
    (row,) = book.board.mixes()
    assert (row.mix, row.calibration, row.in_force) == (make_site().mix[0], make_calibration(), True)
    assert [(p.pour.id, p.memory) for p in row.pours] == [(POUR, {"cold_start": True}), (OTHER_POUR, {})]
    assert row.tests == book.cure.case(POUR).mix_tests != ()


def test_an_older_calibration_is_shown_while_an_open_pour_is_judged_by_it(book: SiteBook, tmp_path: Path) -> None:
    case = book.cure.case(OTHER_POUR)
    assert book.cure.record(case, make_result(case, pour=replace(case.pour, calibration_version=None)))
    book.close()
    with opened_book(tmp_path, make_setup(calibrations=[make_calibration(version=2)])) as newer:
        assert [(r.calibration.version, r.in_force, [p.pour.id for p in r.pours]) for r in newer.board.mixes()] == [
            (1, False, [POUR]),
            (2, True, [OTHER_POUR]),
        ]
        newer.cure.open_pour(
            make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1, calibration_version=2), make_log()
        )
        (row,) = newer.board.mixes()
        assert (row.calibration.version, [p.pour.id for p in row.pours]) == (2, [OTHER_POUR, "2-b1-p2"])


def test_a_closed_pour_stays_among_those_of_its_calibration(book: SiteBook) -> None:
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    (row,) = book.board.mixes()
    assert [(p.pour.id, p.pour.closed_ms) for p in row.pours] == [(POUR, T0 + 1), (OTHER_POUR, None), ("2-b1-p2", None)]


def test_a_mix_without_a_calibration_is_not_shown(tmp_path: Path) -> None:
    with opened_book(tmp_path, make_setup(calibrations=[])) as book:
        assert book.board.mixes() == []


def test_what_a_gate_rested_on_is_found_by_its_digest(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, snapshots={"ab12": {"findings": ["strip: met"]}}))
    assert book.board.evidence("ab12") == {"findings": ["strip: met"]}
    assert book.board.evidence("ab13") is None
