"""What a requirement would change is what the next round would make of it, and nothing of it is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from cure_support import END_MS, Story, at
from pages_support import row
from store_support import BAY, OTHER_BAY

from cure.requirement_preview import Previewed, previewed
from cure.rounds import Rounds
from shared.clock import SimulatedClock
from shared.models.acts import Require, instant
from shared.models.base import HOUR_MS, STRIP, Ms, PourId, SensorId
from shared.models.decisions import GateState
from shared.models.readings import Series
from shared.models.requirement import Requirement
from shared.ports import PourCase

S = GateState
NOW = END_MS + 25 * HOUR_MS


@dataclass
class Book:
    """One case, which nothing may change."""

    one: PourCase
    asked: list[PourId] = field(default_factory=list)

    def case(self, pour: PourId) -> PourCase:
        self.asked.append(pour)
        return self.one

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(name)


@dataclass
class Store:
    """What the story's sensors read."""

    story: Story

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        import numpy as np

        rows = [(t, c) for t, c in self.story.readings[sensor] if after < t <= through]
        return Series(np.array([t for t, _ in rows], np.int64), np.array([round(c * 1000) for _, c in rows], np.int64))


@pytest.fixture(scope="module")
def released() -> tuple[Rounds, Book]:
    story = at(S.RELEASED)
    gates = {op: replace(g, changed_ms=NOW) for op, g in story.case.gates.items()}
    book = Book(replace(story.case, gates=gates))
    stand_in: Any = book
    store: Any = Store(story)
    return Rounds(store, stand_in, SimulatedClock(NOW)), book


def require(mpa: float, bay: str | None = None, operation: str = "strip") -> Require:
    new = Requirement.model_validate({"operation": operation, "all": [{"lower_bound_mpa": mpa}]})
    return Require(at=instant(NOW), who="engineer", requirement=new, bay=bay, second_person="qc", why="rev 3")


def told(of: tuple[Rounds, Book], act: Require, written: Sequence[Any] = ()) -> list[Previewed]:
    before = of[1].one
    found = previewed(of[0], [row(BAY), row(OTHER_BAY)], written, act)
    assert of[1].one is before
    return found


def test_a_stricter_one_withdraws_what_it_contradicts_and_says_what_is_missing(released: tuple[Rounds, Book]) -> None:
    one, other = told(released, require(60.0))
    assert (one.bay, one.before, one.after, one.own) == (BAY, S.RELEASED, S.WITHDRAWN, False)
    assert [f.rule for f in one.missed] == ["lower bound of strength"]
    assert other.bay == OTHER_BAY


def test_one_that_is_met_changes_nothing_and_one_for_another_bay_concerns_no_other(
    released: tuple[Rounds, Book],
) -> None:
    (one,) = told(released, require(2.0, BAY))
    assert (one.before, one.after, one.missed) == (S.RELEASED, S.RELEASED, ())
    # The bay's own stays, whatever the site's says from now on.
    own = told(released, require(60.0), [require(2.0, BAY)])[0]
    assert (own.own, own.after) == (True, S.RELEASED)


def test_an_operation_of_the_sites_own_is_new(released: tuple[Rounds, Book]) -> None:
    (one,) = told(released, require(60.0, BAY, "crane pad"))
    assert (one.before, one.after) == (None, S.CURING)
    assert STRIP == "strip"
