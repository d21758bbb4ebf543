"""The contract of `CureBook`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from book_support import HOLD, OTHER_POUR, STATE, gate, sign
from store_support import (
    AIR,
    BAY,
    EDGE,
    END,
    INSIDE,
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
)

from shared.errors import StoreError
from shared.models.acts import Stop
from shared.models.base import LOAD, STRIP, WALK, PourId
from shared.models.decisions import (
    Gate,
    GateState,
    LogEntry,
    PourState,
)
from shared.models.messages import MessageKind
from shared.models.readings import Conflict
from shared.ports import NewArrivals
from shared.store.book import SiteBook


def test_a_new_pour_is_due_at_once_with_gates_not_set_up(book: SiteBook) -> None:
    assert book.cure.due(0, 10) == [POUR, OTHER_POUR]
    case = book.cure.case(POUR)
    assert case.pour == make_pour()
    assert case.gates == {o: Gate(POUR, o, changed_ms=T0) for o in (LOAD, STRIP, WALK)}
    assert (case.state, case.holds, case.input_revision) == (PourState(), (), 0)


def test_due_pours_come_oldest_first_and_as_many_as_wanted(book: SiteBook) -> None:
    for pour, due in ((POUR, T0 + 50), (OTHER_POUR, T0 + 20)):
        case = book.cure.case(pour)
        assert book.cure.record(case, make_result(case, state=PourState(next_due_ms=due)))
    assert book.cure.due(T0 + 19, 10) == []
    assert book.cure.due(T0 + 20, 10) == [OTHER_POUR]
    assert book.cure.due(T0 + 50, 10) == [OTHER_POUR, POUR]
    assert book.cure.due(T0 + 50, 1) == [OTHER_POUR]


def test_a_case_holds_the_set_up_of_its_pour(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    site = make_site()
    assert (case.site, case.bay, case.mix) == (site, site.bay_named(BAY), site.mix_named("c32-f"))
    assert case.calibration == make_calibration()
    assert {p.sensor for p in case.placements} == {EDGE, INSIDE, END, AIR}


def test_an_unknown_pour_has_no_case(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="no pour 9-z"):
        book.cure.case(PourId("9-z"))
    assert book.cure.pour_named(PourId("9-z")) is None
    assert book.cure.pour_named(POUR) == make_pour()


def test_what_is_recorded_is_what_the_next_case_shows(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    met = Gate(POUR, STRIP, GateState.MET, 2, T0 + 5, "met", T0 + 3, "d1", ("qc", "super"), GateState.CURING)
    pour = replace(case.pour, end_ms=T0 + 7, calibration_version=1)
    result = make_result(
        case,
        pour=pour,
        gates=gates_with(case, STRIP, met),
        holds=(HOLD,),
        state=STATE,
        snapshots={"d1": {"lower_bound_mpa": 3.6}},
        log=(make_log("gate", a=1), make_log("hold", b=[2])),
    )
    assert book.cure.record(case, result)
    after = book.cure.case(POUR)
    assert after.pour == pour
    assert after.gates[STRIP] == met
    assert after.holds == (HOLD,)
    assert after.state == STATE
    assert [e for _, e in book.board.log_after(3)] == [make_log("gate", a=1), make_log("hold", b=[2])]


def test_a_hold_that_is_absent_from_the_result_is_lifted(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, holds=(HOLD,)))
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, holds=()))
    assert book.cure.case(POUR).holds == ()


def test_the_first_evidence_under_a_digest_stays(book: SiteBook) -> None:
    for body in ({"n": 1}, {"n": 2}):
        case = book.cure.case(POUR)
        gates = gates_with(case, STRIP, replace(case.gates[STRIP], snapshot="d1"))
        assert book.cure.record(case, make_result(case, gates=gates, snapshots={"d1": body}))
    assert book.cure.case(POUR).gates[STRIP].snapshot == "d1"


def test_a_gate_cannot_name_evidence_that_is_not_kept(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    gates = gates_with(case, STRIP, replace(case.gates[STRIP], snapshot="nowhere"))
    with pytest.raises(StoreError):
        book.cure.record(case, make_result(case, gates=gates))
    assert book.cure.case(POUR) == case


def test_a_message_is_written_once_an_epoch_and_logged_when_written(book: SiteBook) -> None:
    for epoch in (1, 1, 2):
        case = book.cure.case(POUR)
        message = make_message(epoch=epoch, floor="2")
        assert book.cure.record(case, make_result(case, messages=(message, message)))
    assert [(m.no, m.kind, m.subject, m.epoch, m.facts) for m in book.board.messages()] == [
        (1, MessageKind.RELEASED, STRIP, 1, {"floor": "2"}),
        (2, MessageKind.RELEASED, STRIP, 2, {"floor": "2"}),
    ]
    body = {"kind": "released", "pour": POUR, "subject": STRIP}
    assert [e for _, e in book.board.log_after(3)] == [
        LogEntry(T0, "slabhour", "message", {**body, "no": 1, "epoch": 1}),
        LogEntry(T0, "slabhour", "message", {**body, "no": 2, "epoch": 2}),
    ]


@pytest.mark.row("A7")
def test_a_state_whose_message_cannot_be_written_is_not_written_either(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    moved, unwritable = gate(case, STRIP, GateState.RELEASED), make_message(load_kpa=float("nan"))
    with pytest.raises(StoreError, match="JSON"):
        book.cure.record(case, make_result(case, gates=moved, log=(make_log("gate"),), messages=(unwritable,)))
    assert book.cure.case(POUR) == case
    assert (book.board.messages(), [e for _, e in book.board.log_after(3)]) == ([], [])


def test_an_act_is_kept_and_counts_as_a_touch(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, act=sign()))
    assert book.cure.case(POUR).touched == case.touched + 1
    assert book.board.acts()[-1] == sign()
    assert [act.kind for act in book.board.acts()] == ["pour_start", "pour_start", "sign"]


def test_a_round_without_an_act_is_no_touch(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case))
    assert book.cure.case(POUR).touched == case.touched


def test_waking_a_bay_makes_its_pour_due_and_voids_rounds_on_it(book: SiteBook) -> None:
    other = book.cure.case(OTHER_POUR)
    assert book.cure.record(other, make_result(other))
    other = book.cure.case(OTHER_POUR)
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, wake=(OTHER_BAY,)))
    assert book.cure.due(T0, 10) == [OTHER_POUR]
    assert not book.cure.record(other, make_result(other))


def _arrival(book: SiteBook) -> None:
    book.ingest.note([NewArrivals(EDGE, 1, T0, T0, T0)], [], [], [])


def _conflict(book: SiteBook) -> None:
    book.ingest.note([], [], [Conflict(EDGE, T0, 1, 2, T0)], [])


def _gate_state(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, gates=gate(case, STRIP, GateState.CURING, 0), state=case.state))


def _gate_epoch(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, gates=gate(case, LOAD, GateState.NOT_SET_UP), state=case.state))


def _hold(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, holds=(HOLD,), state=case.state))


def _pour_end(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, pour=replace(case.pour, end_ms=T0), state=case.state))


def _act(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    stop = Stop(at=make_start().at, who="super", pour=POUR, why="crack")
    assert book.cure.record(case, make_result(case, act=stop, state=case.state))


def _round(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case))


def _next_pour(book: SiteBook) -> None:
    later = make_pour("2-b1-p2", start_ms=T0 + 1)
    book.cure.open_pour(make_start("2-b1-p2"), later, make_log())


MOVES: list[Callable[[SiteBook], None]] = [
    _arrival,
    _conflict,
    _gate_state,
    _gate_epoch,
    _hold,
    _pour_end,
    _act,
    _round,
    _next_pour,
]


@pytest.mark.row("E10", "J5")
@pytest.mark.parametrize("move", MOVES, ids=lambda move: str(move.__name__).strip("_"))
def test_a_result_on_a_case_that_moved_is_refused_and_leaves_nothing(
    book: SiteBook, move: Callable[[SiteBook], None]
) -> None:
    case = book.cure.case(POUR)
    move(book)
    moved = book.cure.case(POUR)
    log, acts = book.board.log_after(0), book.board.acts()
    result = make_result(
        case,
        gates=gate(case, STRIP, GateState.RELEASED),
        holds=(HOLD,),
        messages=(make_message(),),
        log=(make_log("gate"),),
        snapshots={"d": 1},
        act=sign(),
        wake=(OTHER_BAY,),
    )
    assert not book.cure.record(case, result)
    assert book.cure.case(POUR) == moved
    assert (book.board.log_after(0), book.board.acts(), book.board.messages()) == (log, acts, [])


def test_a_changed_set_up_voids_a_case_read_before(tmp_path: Path) -> None:
    with opened_book(tmp_path) as first:
        case = first.cure.case(POUR)
        assert first.cure.record(case, make_result(case))
        case = first.cure.case(POUR)
        plan = {"use": "strict", "adopted_by": "engineer of record", "document": "d.pdf", "sign_offs": 2}
        with opened_book(tmp_path, make_setup(make_site(plan=plan)), T0 + 5) as second:
            assert not second.cure.record(case, make_result(case))
            assert second.cure.due(0, 10) == [POUR]
            assert second.cure.case(POUR).site.plan.use == "strict"
            assert second.cure.case(POUR).touched == case.touched + 1
