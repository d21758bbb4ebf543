"""Forecasts of many pours: no turn takes so long that the rounds, or the watchdog, wait for it."""

from __future__ import annotations

from typing import Any

from cure.foresight import LOOKED_AT_AT_ONCE, LOOKS_APART_MS, Foresight
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.base import PourId

NOW = 1_800_000_000_000
POURS = [PourId(f"2-b{n}/1") for n in range(50)]


class Unread:
    def __init__(self) -> None:
        self.asked: list[PourId] = []

    def case(self, pour: PourId) -> Any:
        self.asked.append(pour)
        raise StoreError("no store")


def test_a_turn_looks_at_few_pours_and_the_next_ones_at_the_others() -> None:
    book, clock, nobody = Unread(), SimulatedClock(NOW), Any
    given: Any = (book, nobody, clock, nobody, lambda: POURS, nobody)
    foresight = Foresight(*given)
    for turn in (LOOKED_AT_AT_ONCE, LOOKED_AT_AT_ONCE, len(POURS) - 2 * LOOKED_AT_AT_ONCE, 0):
        before = len(book.asked)
        assert foresight.run_due() == []
        assert len(book.asked) - before == turn
    assert book.asked == POURS
    assert set(foresight.latest) == set(POURS)
    clock.set(NOW + LOOKS_APART_MS)
    foresight.run_due()
    assert book.asked[len(POURS) :] == POURS[:LOOKED_AT_AT_ONCE]
