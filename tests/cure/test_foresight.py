"""Forecasts of many pours: no turn takes so long that the rounds, or the watchdog, wait for it."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import pytest

from cure.forecast import NoForecast
from cure.foresee import Foreseen
from cure.foresight import LOOKED_AT_AT_ONCE, LOOKS_APART_MS, Foresight, Pace, as_it_is
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


class Slow:
    """Answers when it is told to."""

    def __init__(self) -> None:
        self.asked = 0
        self.found: list[Any] | None = None

    def ask(self, asked: Sequence[Any]) -> None:
        self.asked += len(asked)

    def answers(self) -> list[Any] | None:
        return self.found


def test_while_a_batch_is_worked_out_nothing_is_looked_at_and_its_answers_are_told_when_they_come(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    slow, clock, nobody = Slow(), SimulatedClock(NOW), Any
    given: Any = (Unread(), nobody, clock, nobody, lambda: POURS[:5], nobody, as_it_is, Pace(at_once=2, foreseer=slow))
    foresight = Foresight(*given)
    one = SimpleNamespace(work=SimpleNamespace(pour=POURS[0]))
    monkeypatch.setattr(Foresight, "_asked", lambda _self, pour, _now: (one, (pour,)))
    assert foresight.run_due() == []
    assert foresight.run_due() == []
    assert slow.asked == 2
    slow.found = [Foreseen(NoForecast(POURS[0], "nothing", "wait"), None)] * 2
    assert foresight.run_due() == []
    assert foresight.latest == {POURS[0]: NoForecast(POURS[0], "nothing", "wait")}
    # The next ones are asked for in the same turn.
    assert slow.asked == 4
