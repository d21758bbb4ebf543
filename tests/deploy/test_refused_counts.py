from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from store_support import EDGE, POUR, T0, make_result, opened_book

from deploy.refused_counts import refused_by_sensor
from deploy.status import board_json, board_lines
from shared.models.estimate import Estimate, SensorAccount
from shared.models.readings import Reason, Refused
from shared.store import read_board

HERE = Estimate(None, None, None, None, None, None, None, None, {}, sensors=(SensorAccount(EDGE, 7, (), {"error": 2}),))


def test_what_was_refused_on_its_way_in_and_what_only_its_neighbours_gave_away_is_one_count_everywhere(
    tmp_path: Path,
) -> None:
    refused = [Refused(T0 + n, "t", b"[%d]" % n, Reason.RANGE, f"{n}", EDGE if n else None) for n in range(4)]
    with opened_book(tmp_path) as book:
        case = book.cure.case(POUR)
        result = make_result(case)
        assert book.cure.record(case, replace(result, state=replace(result.state, estimate=HERE)))
        book.ingest.note([], refused, [], [])
        book.refused.decide({book.board.refusals()[-1].no: "stored"}, T0 + 9)
    with read_board(None, tmp_path) as board:
        counts = refused_by_sensor(board.refusals(), board.board())
        assert counts == {"": {str(Reason.RANGE): 1}, EDGE: {"error": 2, str(Reason.RANGE): 2}}
        assert board_json(board)["refused"] == counts
        (line,) = (line for line in board_lines(board) if line.strip().startswith(f"{EDGE}: "))
    assert line.strip() == f"{EDGE}: 7 readings credited; 2 refused (error); 2 refused ({Reason.RANGE})"
