"""The contract of the site book: a calibration put in force, which pours it judges, and what a start makes of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from store_support import POUR, T0, make_calibration, make_log, make_setup, make_site, opened_book, site_dict

from shared.errors import StoreError
from shared.models.acts import PutInForce, instant
from shared.models.base import PourId
from shared.store.book import SiteBook

OTHER_POUR = PourId("2-b2-p1")


def put(version: int, mix: str = "c32-f") -> PutInForce:
    calibration = make_calibration(mix, version)
    calibration = calibration.model_copy(update={"digest": calibration.digested()})
    return PutInForce(at=instant(T0 + 9), who="qc", calibration=calibration, second_person="super", why="new cement")


def judged_by(book: SiteBook, pour: PourId = POUR) -> int | None:
    calibration = book.cure.case(pour).calibration
    return None if calibration is None else calibration.version


def in_force(book: SiteBook) -> list[tuple[int, bool]]:
    return [(row.calibration.version, row.in_force) for row in book.board.mixes()]


def test_a_new_version_judges_what_has_none_and_a_pour_with_one_keeps_it(book: SiteBook) -> None:
    # The pours of the book were made with version 1.
    assert (judged_by(book), book.board.newest_version("c32-f"), book.board.newest_version("c40")) == (1, 1, 0)
    book.cure.act_on_site(put(2), make_log())
    assert judged_by(book) == 1
    assert in_force(book) == [(1, False), (2, True)]
    assert book.board.newest_version("c32-f") == 2
    assert book.board.acts()[-1] == put(2)


def test_a_pour_that_no_version_judges_yet_is_due_and_judged_by_the_new_one(tmp_path: Path) -> None:
    with opened_book(tmp_path, make_setup(calibrations=[])) as book:
        case = book.cure.case(POUR)
        assert case.calibration is None or case.pour.calibration_version is not None
        book.cure.act_on_site(put(1), make_log())
        assert judged_by(book) == 1
        assert book.cure.due(T0, 10) == [POUR]


@pytest.mark.parametrize("version", [1, 2])
def test_a_version_that_was_there_already_is_refused_and_nothing_is_kept(book: SiteBook, version: int) -> None:
    book.cure.act_on_site(put(2), make_log())
    before = book.board.acts()
    with pytest.raises(StoreError, match="so the next is 3"):
        book.cure.act_on_site(put(version), make_log())
    assert book.board.acts() == before


def test_after_a_start_the_higher_of_the_file_s_and_what_was_put_in_force_counts(
    book: SiteBook, tmp_path: Path
) -> None:
    book.cure.act_on_site(put(3), make_log())
    settings = book.board.log_after(0)
    book.close()
    with opened_book(tmp_path) as again:
        assert in_force(again) == [(1, False), (3, True)]
        assert again.board.log_after(0) == settings, "the same set-up: no new version of it"
    with opened_book(tmp_path, make_setup(calibrations=[make_calibration(version=2)])) as again:
        assert in_force(again) == [(1, False), (3, True)]
    with opened_book(tmp_path, make_setup(calibrations=[make_calibration(version=4)])) as again:
        assert in_force(again) == [(1, False), (4, True)]


def test_what_was_put_in_force_for_a_mix_that_is_gone_counts_for_nothing(book: SiteBook, tmp_path: Path) -> None:
    book.cure.act_on_site(put(2), make_log())
    book.close()
    mix = {"id": "c50", "supplementary": False}
    site = make_site(mix=[mix], bay=[{**bay, "mix": "c50"} for bay in site_dict()["bay"]])
    with opened_book(tmp_path, make_setup(site, [])) as again:
        assert [row for row in in_force(again) if row[1]] == []
