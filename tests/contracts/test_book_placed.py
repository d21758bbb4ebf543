"""The contract of `CureBook`: where a sensor lies, changed by acts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from book_support import OTHER_POUR
from store_support import BAY, EDGE, OTHER_BAY, POUR, T0, make_log, make_result

from shared.models.acts import PlaceSensor, instant
from shared.models.base import BayId, SensorId
from shared.models.decisions import Placement
from shared.models.setup import Zone
from shared.store.book import SiteBook

NEW = SensorId("lg-07.1")
PLACE = PlaceSensor(at=instant(T0 + 9), who="qc", sensor=NEW, bay=BAY, zone=Zone.TOP)
PLACED = Placement(NEW, BAY, Zone.TOP, 20, 900, required=True, from_ms=T0 + 9, position="grid C4", by="qc")


def settle(book: SiteBook) -> None:
    """Record a round of each pour, so that none is due."""
    for pour in (POUR, OTHER_POUR):
        case = book.cure.case(pour)
        assert book.cure.record(case, make_result(case, at_ms=T0 + 3_600_000))
    assert book.cure.due(T0, 10) == []


def test_what_is_placed_is_there_with_its_act_and_its_log_line(book: SiteBook) -> None:
    assert book.cure.placements_of(NEW) == []
    assert book.cure.place(PLACE, [], [PLACED], make_log("act", n=1))
    assert book.cure.placements_of(NEW) == [PLACED]
    assert list(book.ingest.placements())[-1] == PLACED
    assert book.cure.case(POUR).placements[-1] == PLACED
    assert (book.board.acts()[-1], book.board.log_after(0)[-1][1]) == (PLACE, make_log("act", n=1))


def test_a_change_voids_the_rounds_of_the_bays_it_concerns_and_of_no_other(book: SiteBook) -> None:
    settle(book)
    before = {pour: book.cure.case(pour) for pour in (POUR, OTHER_POUR)}
    assert book.cure.place(PLACE, [], [PLACED], make_log())
    assert book.cure.due(T0, 10) == [POUR]
    assert not book.cure.record(before[POUR], make_result(before[POUR]))
    assert book.cure.record(before[OTHER_POUR], make_result(before[OTHER_POUR], at_ms=T0 + 3_600_000))


def test_a_sensor_that_moves_concerns_both_bays(book: SiteBook) -> None:
    settle(book)
    known = book.cure.placements_of(EDGE)
    moved = [replace(known[0], to_ms=T0 + 9), replace(known[0], bay=OTHER_BAY, from_ms=T0 + 9)]
    assert book.cure.place(PLACE, known, moved, make_log())
    assert book.cure.due(T0, 10) == [POUR, OTHER_POUR]
    assert book.cure.placements_of(EDGE) == moved


@pytest.mark.parametrize("stale", [[], [PLACED, PLACED]])
def test_a_change_of_what_is_not_so_any_more_writes_nothing(book: SiteBook, stale: list[Placement]) -> None:
    assert book.cure.place(PLACE, [], [PLACED], make_log())
    acts, log = book.board.acts(), book.board.log_after(0)
    assert not book.cure.place(PLACE, stale, [*stale, replace(PLACED, bay=OTHER_BAY)], make_log())
    assert book.cure.placements_of(NEW) == [PLACED]
    assert (book.board.acts(), book.board.log_after(0)) == (acts, log)


def test_no_placement_is_ever_taken_away(book: SiteBook) -> None:
    assert not book.cure.place(PLACE, book.cure.placements_of(EDGE), [], make_log())
    assert len(book.cure.placements_of(EDGE)) == 1


def test_the_open_pour_of_a_bay_is_found(book: SiteBook) -> None:
    found = book.cure.open_pour_in(BAY)
    assert found is not None
    assert found.id == POUR
    assert book.cure.open_pour_in(BayId("9-b9")) is None
