"""The contract of `CureBook`: what a case holds, and pours one after the other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from book_support import OTHER_POUR, STATE, gate, sign
from store_support import (
    BAY,
    EDGE,
    INSIDE,
    OTHER_BAY,
    POUR,
    T0,
    bay_dict,
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
from shared.models.base import STRIP, WALK, BayId, Operation, PourId, RecipientId, SensorId
from shared.models.decisions import (
    GateState,
)
from shared.models.messages import DeliveryState, MessageKind, NewDelivery
from shared.models.readings import Conflict
from shared.ports import NewArrivals
from shared.store.book import SiteBook


def test_news_of_another_bay_does_not_void_a_case(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    book.ingest.note([NewArrivals(SensorId("lg-11.1"), 1, T0, T0, T0)], [], [], [])
    assert book.cure.record(case, make_result(case))


def test_the_input_revision_is_the_sum_over_the_sensors_of_the_bay(book: SiteBook) -> None:
    for sensor in (EDGE, EDGE, INSIDE, SensorId("lg-11.1")):
        book.ingest.note([NewArrivals(sensor, 1, T0, T0, T0)], [], [], [])
    case = book.cure.case(POUR)
    assert case.input_revision == 3
    assert {s: a.revision for s, a in case.arrivals.items()} == {EDGE: 2, INSIDE: 1}


def test_the_next_pour_of_a_bay_closes_the_one_before_at_its_start(book: SiteBook) -> None:
    later = make_pour("2-b1-p2", start_ms=T0 + 100)
    book.cure.open_pour(make_start("2-b1-p2"), later, make_log())
    assert book.cure.pour_named(POUR) == replace(make_pour(), closed_ms=T0 + 100)
    assert book.cure.due(T0, 10) == [PourId("2-b1-p2"), OTHER_POUR]


def test_a_pours_name_is_never_used_twice(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="another name"):
        book.cure.open_pour(make_start(), make_pour(start_ms=T0 + 9), make_log())
    assert book.cure.pour_named(POUR) == make_pour()
    assert len(book.board.acts()) == 2
    assert (book.board.acts_of("pour_start"), book.board.acts_of("stop")) == (book.board.acts(), [])
    assert (book.board.acts_of("pour_start", T0), book.board.acts_of("pour_start", T0 + 1)) == (book.board.acts(), [])


def test_a_pour_cannot_begin_before_the_open_one_of_its_bay(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="began after"):
        book.cure.open_pour(make_start("early"), make_pour("early", start_ms=T0 - 1), make_log())
    assert book.cure.pour_named(PourId("early")) is None


def test_a_pour_needs_a_bay_of_the_site(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="bay 9-z"):
        book.cure.open_pour(make_start("p", "9-z"), make_pour("p", "9-z"), make_log())


def test_conflicts_of_the_pour_before_are_not_this_ones(book: SiteBook) -> None:
    book.ingest.note([], [], [Conflict(EDGE, T0 - 1, 1, 2, T0), Conflict(EDGE, T0, 3, 4, T0)], [])
    assert book.cure.case(POUR).conflicts == (Conflict(EDGE, T0, 3, 4, T0),)


@pytest.mark.parametrize(
    ("state", "seen"), [(GateState.UNDER_WAY, True), (GateState.RELEASED, False), (GateState.DONE, False)]
)
def test_a_strip_is_felt_next_door_only_while_it_is_under_way(book: SiteBook, state: GateState, seen: bool) -> None:
    """Only the first bay names the second as its neighbour: it counts both ways."""
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, gates=gate(case, STRIP, state)))
    assert book.cure.case(OTHER_POUR).stripping == ((BAY,) if seen else ())
    assert book.cure.case(POUR).stripping == ()


def test_a_strip_below_is_felt_above_but_not_the_other_way(tmp_path: Path) -> None:
    above = bay_dict(OTHER_BAY, first_logger=11, below=[BAY])
    setup = make_setup(make_site(bay=[bay_dict(), above]))
    with opened_book(tmp_path, setup, pours=2) as book:
        for pour in (POUR, OTHER_POUR):
            case = book.cure.case(pour)
            assert book.cure.record(case, make_result(case, gates=gate(case, STRIP, GateState.UNDER_WAY)))
        assert book.cure.case(OTHER_POUR).stripping == (BAY,)
        assert book.cure.case(POUR).stripping == ()


def test_walking_under_way_is_no_strip(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.cure.record(case, make_result(case, gates=gate(case, WALK, GateState.UNDER_WAY)))
    assert book.cure.case(OTHER_POUR).stripping == ()


@pytest.mark.parametrize(
    ("epoch", "subject", "state", "confirmed"),
    [
        (2, STRIP, DeliveryState.CONFIRMED, True),
        (2, STRIP, DeliveryState.ACCEPTED, False),
        (1, STRIP, DeliveryState.CONFIRMED, False),
        (2, WALK, DeliveryState.CONFIRMED, False),
    ],
)
def test_a_withdrawal_is_confirmed_by_a_person_for_its_own_epoch_and_operation(
    book: SiteBook, epoch: int, subject: Operation, state: DeliveryState, confirmed: bool
) -> None:
    case = book.cure.case(POUR)
    message = make_message(MessageKind.WITHDRAWAL, subject=subject, epoch=epoch)
    withdrawn = gate(case, STRIP, GateState.WITHDRAWN, 2)
    assert book.cure.record(case, make_result(case, gates=withdrawn, messages=(message,)))
    book.alerts.route(1, [NewDelivery(RecipientId("super"), 0, T0)])
    with book.alerts.deciding() as rows:
        rows.write(replace(rows.one(1).delivery, state=state))
    assert book.cure.case(POUR).withdrawal_confirmed == {STRIP: confirmed}


def test_gates_that_are_not_withdrawn_need_no_confirmation(book: SiteBook) -> None:
    assert book.cure.case(POUR).withdrawal_confirmed == {}


def test_a_pour_keeps_the_calibration_it_is_judged_by(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        case = book.cure.case(POUR)
        assert case.calibration == make_calibration()
    second = make_calibration(version=2, tested_from_h=9.0)
    with opened_book(tmp_path, make_setup(calibrations=[second]), T0 + 1) as book:
        assert book.cure.case(POUR).calibration == make_calibration()
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case, pour=replace(case.pour, calibration_version=None)))
        assert book.cure.case(POUR).calibration == second


def test_a_mix_without_calibration_is_judged_by_none(tmp_path: Path) -> None:
    with opened_book(tmp_path, make_setup(calibrations=[])) as book:
        assert book.cure.case(POUR).calibration is None


def test_a_number_that_is_none_is_refused_before_anything_is_written(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert STATE.estimate is not None
    odd = replace(STATE, estimate=replace(STATE.estimate, strength_mpa=float("nan")))
    with pytest.raises(StoreError, match="JSON"):
        book.cure.record(case, make_result(case, state=odd, act=sign(), gates=gate(case, STRIP, GateState.MET)))
    assert book.cure.case(POUR) == case
    assert len(book.board.acts()) == 2


def test_a_pour_has_the_placements_of_its_own_time_in_the_bay(tmp_path: Path) -> None:
    sensors = bay_dict()["sensors"]
    moved = [{**sensors[0], "zone": "top"}, *sensors[1:]]
    with opened_book(tmp_path):
        pass
    with opened_book(tmp_path, make_setup(make_site(bay=[bay_dict(sensors=moved)])), T0 + 100) as book:
        during = book.cure.case(POUR).placements
        assert [(p.zone, p.from_ms, p.to_ms) for p in during if p.sensor == EDGE] == [
            ("exposed edge", 0, T0 + 100),
            ("top", T0 + 100, None),
        ]
        book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 100), make_log())
        before, after = book.cure.case(POUR).placements, book.cure.case(PourId("2-b1-p2")).placements
        assert [p.zone for p in before if p.sensor == EDGE] == ["exposed edge"]
        assert [p.zone for p in after if p.sensor == EDGE] == ["top"]


def test_a_bay_that_left_the_file_keeps_its_set_up_for_its_pour(tmp_path: Path) -> None:
    with opened_book(tmp_path):
        pass
    with opened_book(tmp_path, make_setup(make_site(bay=[bay_dict(OTHER_BAY, first_logger=11)])), T0 + 60_000) as book:
        case = book.cure.case(POUR)
        assert case.bay.bay_id == BayId("2-b1")
        assert {p.to_ms for p in case.placements} == {T0 + 60_000}


def test_other_hours_of_a_laboratory_are_no_other_set_up(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        before = book.cure.case(POUR)
    hours = {"open": "08:00-17:00", "days": ["mon"]}
    with opened_book(tmp_path, make_setup(make_site(laboratory=hours))) as book:
        assert book.cure.case(POUR).touched == before.touched
        assert [entry.what for _, entry in book.board.log_after(0)] == ["setup", "act"]
