"""The contract of `CureBook`: what is on file for the site, a bay or a pour, and what it voids."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from book_support import DOUBT, OTHER_POUR, document, require, strength_test
from store_support import (
    BAY,
    OTHER_BAY,
    POUR,
    T0,
    bay_dict,
    make_log,
    make_message,
    make_pour,
    make_result,
    make_setup,
    make_site,
    make_start,
    opened_book,
    site_dict,
)

from shared.errors import StoreError
from shared.models.acts import FileDocument, Require, Resume, instant
from shared.models.base import LOAD, STRIP, THE_SITE, UNCOVER, WALK, Operation, PourId
from shared.models.decisions import Beside, Document, DoubtKind, Gate, GateState, MixTest, TestResult
from shared.models.messages import MessageKind
from shared.store.book import SiteBook


def settle(book: SiteBook) -> None:
    """Record a round of each pour, so that none is due."""
    for pour in (POUR, OTHER_POUR):
        case = book.cure.case(pour)
        assert book.cure.record(case, make_result(case, at_ms=T0 + 3_600_000))
    assert book.cure.due(T0, 10) == []


def names(book: SiteBook, pour: PourId) -> list[str]:
    return [d.name for d in book.cure.case(pour).documents]


def test_a_document_is_on_file_for_its_pour_its_bay_or_the_site(book: SiteBook) -> None:
    for act in (document("site"), document("bay", bay=BAY), document("pour", pour=POUR), document("other", bay="z")):
        book.cure.act_on_site(act, make_log())
    assert names(book, POUR) == ["site", "bay", "pour"]
    assert names(book, OTHER_POUR) == ["site"]
    assert book.cure.case(POUR).documents[0] == Document("site", "site, rev. 2", "engineer", T0 + 9)


def test_a_document_of_a_pour_is_not_on_file_for_the_next_one_of_its_bay(book: SiteBook) -> None:
    book.cure.act_on_site(document("pour", pour=POUR, bay=BAY), make_log())
    book.cure.act_on_site(document("bay", bay=BAY), make_log())
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    assert names(book, PourId("2-b1-p2")) == ["bay"]


@pytest.mark.parametrize(
    ("act", "concerned"),
    [
        (document(), [POUR, OTHER_POUR]),
        (document(bay=BAY), [POUR]),
        (document(pour=OTHER_POUR), [OTHER_POUR]),
        (document(pour=OTHER_POUR, bay=BAY), [OTHER_POUR]),
        (require(), [POUR, OTHER_POUR]),
        (require(bay=OTHER_BAY), [OTHER_POUR]),
    ],
)
def test_an_act_about_the_site_voids_the_rounds_of_the_pours_it_concerns_and_is_kept(
    book: SiteBook, act: FileDocument | Require, concerned: list[PourId]
) -> None:
    settle(book)
    before = {pour: book.cure.case(pour) for pour in (POUR, OTHER_POUR)}
    book.cure.act_on_site(act, make_log("act", n=1))
    assert book.cure.due(T0, 10) == concerned
    assert book.board.acts()[-1] == act
    assert book.board.log_after(0)[-1][1] == make_log("act", n=1)
    for pour, case in before.items():
        assert book.cure.record(case, make_result(case)) == (pour not in concerned)


def test_a_closed_pour_is_not_woken_by_a_document(book: SiteBook) -> None:
    book.cure.open_pour(make_start("2-b1-p2"), make_pour("2-b1-p2", start_ms=T0 + 1), make_log())
    touched = book.cure.case(POUR).touched
    book.cure.act_on_site(document(bay=BAY), make_log())
    assert book.cure.case(POUR).touched == touched


def test_only_acts_that_leave_something_on_file_are_kept_here(book: SiteBook) -> None:
    act = Resume(at=instant(T0), who="qc", doubt=DoubtKind.CLOCK, why="set by hand")
    acts = book.board.acts()
    with pytest.raises(StoreError, match="resume"):
        book.cure.act_on_site(act, make_log())
    assert book.board.acts() == acts


def in_force(book: SiteBook, pour: PourId = POUR) -> dict[str, tuple[int, str]]:
    """Return version and rules of each operation that has an edit."""
    edits = book.cure.case(pour).edits
    return {e.requirement.operation: (e.version, str(e.requirement.model_dump()["all"])) for e in edits}


@pytest.mark.row("M18")
def test_the_newest_requirement_of_an_operation_is_in_force_with_who_and_why(book: SiteBook) -> None:
    for act in (require(age_h=30), require(age_h=36), require(WALK)):
        book.cure.act_on_site(act, make_log())
    assert in_force(book) == {STRIP: (2, "({'age_h': 36.0},)"), WALK: (3, "({'age_h': 30.0},)")}
    edit = book.cure.case(OTHER_POUR).edits[0]
    assert (edit.who, edit.second_person, edit.why, edit.at_ms) == ("engineer", "qc", "cold week", T0 + 9)
    assert edit.requirement == require(age_h=36).requirement


def test_a_bays_own_requirement_goes_before_the_sites_whichever_is_newer(book: SiteBook) -> None:
    for act in (require(age_h=1), require(age_h=2, bay=BAY), require(age_h=3), require(LOAD)):
        book.cure.act_on_site(act, make_log())
    assert {name: version for name, (version, _) in in_force(book).items()} == {STRIP: 2, LOAD: 4}
    assert {name: version for name, (version, _) in in_force(book, OTHER_POUR).items()} == {STRIP: 3, LOAD: 4}
    book.cure.act_on_site(require(age_h=4, bay=BAY), make_log())
    assert in_force(book)[STRIP] == (5, "({'age_h': 4.0},)")
    assert book.board.edits(BAY) == book.cure.case(POUR).edits


def test_a_test_of_the_concrete_is_kept_with_its_act(book: SiteBook) -> None:
    full = strength_test(7.5, equivalent_age_h=40.5, last_third=True, position="edge", tested=instant(T0 + 3))
    for act in (strength_test(), full):
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case, act=act))
    assert book.cure.case(POUR).tests == (
        TestResult("cylinder", 4.2, None, last_third=False, position=None, tested_ms=T0 + 9, by="qc"),
        TestResult("cylinder", 7.5, 40.5, last_third=True, position="edge", tested_ms=T0 + 3, by="qc"),
    )
    assert book.cure.case(OTHER_POUR).tests == ()
    assert book.board.acts()[-1] == full
    assert not book.cure.record(case, make_result(case, act=full))
    assert len(book.cure.case(POUR).tests) == 2


def test_a_cylinder_with_its_own_record_is_one_of_its_mix_in_every_pour_and_makes_them_due(book: SiteBook) -> None:
    acts = (
        strength_test(7.5, equivalent_age_h=40.5, tested=instant(T0 + 3)),
        strength_test(6.5, equivalent_age_h=30.5, tested=instant(T0 + 1)),
        strength_test(5.5),
        strength_test(8.5, equivalent_age_h=41.0, method="pullout", position="edge"),
    )
    for act in acts:
        settle(book)
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case, act=act))
        assert OTHER_POUR in book.cure.due(T0, 10)
    found = (MixTest(POUR, T0 + 1, 30.5, 6.5), MixTest(POUR, T0 + 3, 40.5, 7.5))
    assert book.cure.case(POUR).mix_tests == book.cure.case(OTHER_POUR).mix_tests == found
    case = book.cure.case(OTHER_POUR)
    of_other_version = replace(case.pour, calibration_version=2)
    assert book.cure.record(case, make_result(case, pour=of_other_version))
    assert book.cure.case(OTHER_POUR).mix_tests == ()


def test_a_pour_has_a_gate_for_every_operation_of_its_site_and_bay(tmp_path: Path) -> None:
    plan = {**site_dict()["plan"], "also": ["uncover"]}
    own = [{"operation": "core drill", "all": [{"age_h": 20}]}, {"operation": STRIP, "all": [{"age_h": 20}]}]
    with opened_book(tmp_path, make_setup(make_site(plan=plan, requirement=own))) as book:
        book.cure.act_on_site(require("post-tension"), make_log())
        book.cure.act_on_site(require("grout", bay=BAY), make_log())
        book.cure.open_pour(make_start("p2", OTHER_BAY), make_pour("p2", OTHER_BAY), make_log())
        gates = book.cure.case(PourId("p2")).gates
        assert set(gates) == {STRIP, WALK, LOAD, UNCOVER, "core drill", "post-tension"}
        assert {g.state for g in gates.values()} == {GateState.NOT_SET_UP}


def test_a_gate_that_came_later_is_stored_like_the_others(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    later = Gate(POUR, Operation("grout"), changed_ms=T0 + 4)
    assert book.cure.record(case, make_result(case, gates=(*case.gates.values(), later)))
    assert book.cure.case(POUR).gates == dict(case.gates) | {later.operation: later}


def test_pours_against_each_other_know_each_other_whichever_bay_names_the_other(book: SiteBook) -> None:
    assert book.cure.case(POUR).beside == (Beside(OTHER_POUR, OTHER_BAY, T0, None),)
    assert book.cure.case(OTHER_POUR).beside == (Beside(POUR, BAY, T0, None),)


def test_a_pour_below_or_one_that_is_over_is_not_beside(tmp_path: Path) -> None:
    above = bay_dict(OTHER_BAY, first_logger=11, below=[BAY])
    with opened_book(tmp_path, make_setup(make_site(bay=[bay_dict(), above])), pours=2) as book:
        assert book.cure.case(OTHER_POUR).beside == ()
        assert book.cure.case(POUR).beside == ()


def test_a_pour_that_begins_beside_voids_the_rounds_of_the_open_one(book: SiteBook) -> None:
    settle(book)
    case = book.cure.case(POUR)
    book.cure.open_pour(make_start("b2", OTHER_BAY), make_pour("b2", OTHER_BAY, start_ms=T0 + 1), make_log())
    assert book.cure.due(T0, 10) == [POUR, PourId("b2")]
    assert not book.cure.record(case, make_result(case))
    assert book.cure.case(POUR).beside == (Beside(PourId("b2"), OTHER_BAY, T0 + 1, None),)


def test_messages_about_the_whole_site_are_written_once(book: SiteBook) -> None:
    one = make_message(MessageKind.MORNING_LIST, pour=THE_SITE, subject="2025-11-24", epoch=0)
    two = make_message(MessageKind.HANDOVER, pour=THE_SITE, subject="2025-11-24", epoch=0)
    assert book.cure.messages_of_site([one]) == 1
    assert book.cure.messages_of_site([one, two, two]) == 1
    assert book.cure.messages_of_site([]) == 0
    assert [(m.no, m.kind, m.pour) for m in book.board.messages()] == [
        (1, MessageKind.MORNING_LIST, THE_SITE),
        (2, MessageKind.HANDOVER, THE_SITE),
    ]


def test_a_case_shows_the_doubts_about_the_service(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    assert book.service.raise_doubt(DOUBT, [])
    assert book.cure.case(POUR).doubts == (DOUBT,)
    assert not book.cure.record(case, make_result(case))
