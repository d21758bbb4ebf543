from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from cure_support import END_MS, make_case
from store_support import BAY, POUR

from cure.rounds import TRIES, Rounds
from shared.clock import SimulatedClock
from shared.errors import MovedError, StoreError
from shared.models.acts import Act, act_from
from shared.models.base import Ms, PourId, SensorId
from shared.models.decisions import GateState, LogEntry, Pour
from shared.models.readings import Series
from shared.ports import PourCase, Readings, Result


class Book:
    """A site book with pours that are all due; `moves` says how often a result comes too late."""

    def __init__(self, moves: int = 0, broken: frozenset[str] = frozenset()) -> None:
        self.moves = moves
        self.broken = broken
        self.recorded: list[Result] = []
        self.asked = 0

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        return [PourId(name) for name in ("a", "b", "c")][: limit if now else 0]

    def case(self, pour: PourId) -> PourCase:
        if pour in self.broken:
            raise ZeroDivisionError(pour)
        self.asked += 1
        case = make_case()
        return replace(case, pour=replace(case.pour, id=pour))

    def record(self, case: PourCase, result: Result) -> bool:
        self.moves -= 1
        if self.moves >= 0:
            return False
        assert case.pour.id == result.pour.id
        self.recorded.append(result)
        return True

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        raise AssertionError((act, pour, log))

    def pour_named(self, pour: PourId) -> Pour | None:
        raise AssertionError(pour)


class NoReadings:
    """A store of readings that is empty, or down."""

    def __init__(self, *, down: bool = False) -> None:
        self.down = down

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        if self.down:
            raise StoreError(f"no readings of {sensor} in {after}..{through}")
        return Series(np.empty(0, np.int64), np.empty(0, np.int64))


def rounds(book: Book, *, down: bool = False) -> Rounds:
    readings: Readings = NoReadings(down=down)  # type: ignore[assignment] # rounds read, and nothing else
    return Rounds(readings, book, SimulatedClock(END_MS))


@pytest.mark.row("E10", "J5")
def test_a_result_on_a_case_that_moved_is_void_and_done_again() -> None:
    book = Book(moves=2)
    rounds(book).run(POUR)
    assert (book.asked, len(book.recorded)) == (3, 1)


@pytest.mark.row("E10")
def test_a_pour_that_never_holds_still_is_left_for_later() -> None:
    book = Book(moves=1000)
    with pytest.raises(MovedError, match="moved under every one"):
        rounds(book).run(POUR)
    assert (book.asked, book.recorded) == (TRIES, [])


@pytest.mark.row("E4", "J2")
def test_a_pour_that_cannot_be_judged_keeps_its_gates_and_does_not_stop_the_others() -> None:
    book = Book(broken=frozenset({"a", "b"}))
    assert rounds(book).run_due() == 3
    assert [r.pour.id for r in book.recorded] == ["c"]


@pytest.mark.row("S2")
def test_without_a_store_of_readings_nothing_is_recorded() -> None:
    book = Book()
    assert rounds(book, down=True).run_due() == 3
    assert book.recorded == []


def test_stop_shuts_although_no_reading_can_be_read() -> None:
    book = Book()
    stop = act_from({"kind": "stop", "at": "2026-11-24T08:40:00-04:00", "who": "anybody", "pour": POUR, "why": "crack"})
    assert stop.kind == "stop"
    rounds(book, down=True).stop(POUR, stop)
    assert {g.state for g in book.recorded[0].gates} == {GateState.WITHDRAWN}
    assert book.recorded[0].pour.bay == BAY
