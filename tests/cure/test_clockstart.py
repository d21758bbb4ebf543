from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import END_MS, make_case

from cure.clockstart import AGAINST_MS, SAME_DAY_MS, clock_start, waits_for
from shared.models.base import HOUR_MS, BayId, Ms, PourId
from shared.models.decisions import Beside
from shared.ports import PourCase


def beside(start_ms: Ms, end_ms: Ms | None) -> PourCase:
    """Return a case with a pour in the bay beside."""
    return make_case(beside=(Beside(PourId("2-b2-p1"), BayId("2-b2"), start_ms, end_ms),))


@pytest.mark.row("O3")
@pytest.mark.parametrize("start_ms", [END_MS - SAME_DAY_MS + 1, END_MS - HOUR_MS, END_MS + AGAINST_MS])
def test_a_pour_placed_against_another_one_starts_its_clock_with_the_last_end_of_both(start_ms: Ms) -> None:
    later = END_MS + 3 * HOUR_MS
    assert clock_start(beside(start_ms, later)) == later
    assert clock_start(beside(start_ms, END_MS - HOUR_MS)) == END_MS


@pytest.mark.row("O3")
def test_while_nobody_has_entered_the_end_of_the_pour_beside_the_clock_does_not_start() -> None:
    case = beside(END_MS - HOUR_MS, None)
    assert (clock_start(case), waits_for(case)) == (None, ("2-b2-p1",))


@pytest.mark.parametrize("start_ms", [END_MS - SAME_DAY_MS, END_MS + AGAINST_MS + 1])
def test_a_pour_of_another_day_holds_nothing_back(start_ms: Ms) -> None:
    for end_ms in (None, END_MS + 30 * HOUR_MS):
        case = beside(start_ms, end_ms)
        assert (clock_start(case), waits_for(case)) == (END_MS, ())


def test_a_pour_without_an_end_waits_for_its_own() -> None:
    case = beside(END_MS, END_MS)
    case = replace(case, pour=replace(case.pour, end_ms=None))
    assert (clock_start(case), waits_for(case)) == (None, ())
