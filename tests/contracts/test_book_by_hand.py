"""The contract of `CureBook`: temperatures that people measured."""

from __future__ import annotations

from store_support import POUR, T0, make_result

from shared.models.acts import HandReading, instant
from shared.models.base import PourId
from shared.models.decisions import ByHand
from shared.models.setup import Zone
from shared.store.book import SiteBook

TYPED = HandReading(at=instant(T0 + 9), who="qc", pour=POUR, temperature_c=7.5, position="grid C4")
EARLIER = TYPED.model_copy(update={"happened": instant(T0 + 2), "zone": Zone.EXPOSED_EDGE, "under_insulation": True})


def test_what_was_measured_is_in_the_case_of_its_pour_in_the_order_in_which_it_came(book: SiteBook) -> None:
    for act in (TYPED, EARLIER):
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case, act=act))
        # The round after it sees what was stored.
        assert not book.cure.record(case, make_result(case))
    assert book.cure.case(POUR).by_hand == (
        ByHand(T0 + 9, 7_500, "grid C4", None, False, "qc"),
        ByHand(T0 + 2, 7_500, "grid C4", Zone.EXPOSED_EDGE, True, "qc"),
    )
    assert book.cure.case(PourId("2-b2-p1")).by_hand == ()
    assert list(book.board.acts())[-2:] == [TYPED, EARLIER]


def test_a_round_that_came_too_late_stores_nothing_that_was_measured(book: SiteBook) -> None:
    stale = book.cure.case(POUR)
    assert book.cure.record(stale, make_result(stale, act=TYPED))
    assert not book.cure.record(stale, make_result(stale, act=EARLIER))
    assert len(book.cure.case(POUR).by_hand) == 1
