"""What a plan rests on: form sets where the book has them, and under which of them no hour is foreseen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest
from pages_support import NOW, SITE, row
from store_support import BAY

from cure.dashboard.plan_ground import standing_of
from shared.models.acts import MoveSet, instant
from shared.models.base import HOUR_MS, STRIP, Ms
from shared.models.decisions import GateState
from shared.ports import BoardRow

S = GateState
HOURS = {"expected_ms": NOW + 5 * HOUR_MS, "cautious_ms": NOW + 9 * HOUR_MS}


@dataclass
class Book:
    """A board with one move and one pour."""

    pour: BoardRow
    doubted: bool = False

    def acts_of(self, kind: str) -> Sequence[MoveSet]:
        assert kind == "form_set"
        return [MoveSet(at=instant(NOW - HOUR_MS), who="crew", form_set="north", bay=BAY)]

    def board(self) -> Sequence[BoardRow]:
        return [self.pour]

    def doubts(self) -> Sequence[str]:
        return ["disk"] if self.doubted else []


def ready(state: GateState, *, doubted: bool = False, later_ms: Ms = 0) -> Ms | None:
    pour = row(BAY, {STRIP: state})
    pour = replace(pour, state=replace(pour.state, memory={"expected": {STRIP: HOURS}}))
    book: Any = Book(pour, doubted)
    found = standing_of(book, SITE, NOW + later_ms)
    assert found.places["north"].bay == BAY
    assert found.row(BAY) is pour
    return found.ready_ms(pour)


def test_what_cures_is_ready_at_its_cautious_hour_and_what_is_met_now() -> None:
    assert ready(S.CURING) == NOW + 9 * HOUR_MS
    assert [ready(state) for state in (S.MET, S.RELEASED, S.UNDER_WAY)] == [NOW] * 3


@pytest.mark.parametrize("state", [S.CURING, S.MET, S.RELEASED])
def test_in_doubt_or_when_nobody_judges_it_no_hour_is_foreseen(state: GateState) -> None:
    assert ready(state, doubted=True) is None
    assert ready(state, later_ms=5 * HOUR_MS) is None


@pytest.mark.parametrize("state", [S.SUSPENDED, S.WITHDRAWN])
def test_what_is_suspended_or_withdrawn_has_none(state: GateState) -> None:
    assert ready(state) is None
