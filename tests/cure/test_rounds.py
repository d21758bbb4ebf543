from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cure_support import END_MS, make_case
from store_support import BAY, POUR

from cure.rounds import POURS_A_ROUND, TRIES, Rounds
from shared.clock import SimulatedClock
from shared.errors import MovedError, StoreError
from shared.models.acts import Act, act_from
from shared.models.base import HOUR_MS, MINUTE_MS, BayId, Ms, PourId, SensorId
from shared.models.decisions import GateState, LogEntry, Placement, Pour
from shared.models.messages import NewMessage
from shared.models.readings import Series
from shared.ports import PourCase, Readings, Result


class Book:
    """A site book with pours that are all due; `moves` says how often a result comes too late."""

    def __init__(self, moves: int = 0, broken: frozenset[str] = frozenset()) -> None:
        self.moves = moves
        self.broken = broken
        self.recorded: list[Result] = []
        self.asked = 0
        self.failed = 0
        self.error: type[Exception] = ZeroDivisionError
        self.limits: list[int] = []

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        self.limits.append(limit)
        return [PourId(name) for name in ("a", "b", "c")][: limit if now else 0]

    def case(self, pour: PourId) -> PourCase:
        if pour in self.broken:
            self.failed += 1
            raise self.error(pour)
        self.asked += 1
        case = make_case()
        return replace(case, pour=replace(case.pour, id=pour))

    def record(self, case: PourCase, result: Result, *also: tuple[PourCase, Result]) -> bool:
        self.moves -= 1
        if self.moves >= 0:
            return False
        assert (case.pour.id, also) == (result.pour.id, ())
        self.recorded.append(result)
        return True

    def open_pour(self, act: Act, pour: Pour, log: LogEntry) -> None:
        raise AssertionError((act, pour, log))

    def pour_named(self, pour: PourId) -> Any:
        raise AssertionError(pour)

    since_start = pour_named

    def act_on_site(self, act: Act, log: LogEntry) -> None:
        raise AssertionError((act, log))

    def placements_of(self, sensor: SensorId) -> Sequence[Placement]:
        raise AssertionError(sensor)

    def open_pours(self) -> Sequence[PourId]:
        raise AssertionError

    def open_pour_in(self, bay: BayId) -> Pour | None:
        raise AssertionError(bay)

    def place(self, act: Act, before: Sequence[Placement], after: Sequence[Placement], log: LogEntry) -> bool:
        raise AssertionError((act, before, after, log))

    def messages_of_site(self, messages: Sequence[NewMessage]) -> int:
        raise AssertionError(messages)


class NoReadings:
    """A store of readings that is empty, or down."""

    def __init__(self, *, down: bool = False) -> None:
        self.down = down

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        if self.down:
            raise StoreError(f"no readings of {sensor} in {after}..{through}")
        return Series(np.empty(0, np.int64), np.empty(0, np.int64))


class MachineClock(SimulatedClock):
    """One that can be put back, as a machine's can."""

    def set(self, now: Ms) -> None:
        self._now = now


def rounds(book: Book, *, down: bool = False, clock: SimulatedClock | None = None) -> Rounds:
    readings: Readings = NoReadings(down=down)  # type: ignore[assignment] # rounds read, and nothing else
    return Rounds(readings, book, SimulatedClock(END_MS) if clock is None else clock)


def failures(book: Book, minutes: int) -> list[int]:
    """Return the minutes at which pours failed, with a look every 10 s."""
    clock = SimulatedClock(END_MS)
    some, failed_at = rounds(book, clock=clock), []
    for tick in range(minutes * 6):
        clock.set(END_MS + tick * 10_000)
        before = book.failed
        some.run_due()
        failed_at += [tick // 6] * (book.failed - before)
    return failed_at


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
    # Were the error let out, the others would not be there.
    with suppress(ZeroDivisionError):
        assert rounds(book).run_due() == 3
    assert [r.pour.id for r in book.recorded] == ["c"]


def test_a_pour_that_cannot_be_judged_is_tried_again_ever_more_rarely_up_to_every_quarter_of_an_hour() -> None:
    book = Book(broken=frozenset({"b"}))
    assert failures(book, 50) == [0, 1, 3, 7, 15, 30, 45]
    assert sum(r.pour.id == "a" for r in book.recorded) == 50 * 6


def test_each_pour_waits_for_itself() -> None:
    book = Book(broken=frozenset({"a"}))
    clock = SimulatedClock(END_MS)
    some = rounds(book, clock=clock)
    some.run_due()
    book.broken = frozenset({"a", "b"})
    clock.set(END_MS + 60_000)
    assert some.run_due() == 3
    clock.set(END_MS + 120_000)
    assert some.run_due() == 2
    assert book.failed == 4


@pytest.mark.row("S2")
def test_when_a_store_fails_the_wait_does_not_grow() -> None:
    book = Book(broken=frozenset({"b"}))
    book.error = StoreError
    assert failures(book, 10) == list(range(10))


@pytest.mark.row("E10")
def test_a_pour_that_moved_does_not_wait() -> None:
    book = Book(moves=3 * TRIES)
    some = rounds(book)
    assert (some.run_due(), book.recorded) == (3, [])
    assert some.run_due() == len(book.recorded) == 3


def test_once_judged_a_pour_waits_from_the_shortest_time_again() -> None:
    book = Book(broken=frozenset({"a"}))
    clock = SimulatedClock(END_MS)
    some = rounds(book, clock=clock)
    for minute in (0, 1):
        clock.set(END_MS + minute * MINUTE_MS)
        some.run_due()
    book.broken = frozenset()
    some.run(PourId("a"))
    book.broken = frozenset({"a"})
    assert some.run_due() == 3
    clock.set(END_MS + 2 * MINUTE_MS)
    assert some.run_due() == 3


def test_an_act_does_not_wait_for_a_pour_that_could_not_be_judged() -> None:
    book = Book(broken=frozenset({POUR}))
    some = rounds(book)
    stop = act_from({"kind": "stop", "at": "2026-11-24T08:40:00-04:00", "who": "anybody", "pour": POUR, "why": "crack"})
    assert stop.kind == "stop"
    some.run_due()
    book.broken = frozenset()
    some.stop(POUR, stop)
    assert [r.act for r in book.recorded if r.pour.id == POUR] == [stop]


def test_a_clock_that_is_put_back_does_not_make_a_pour_wait_longer() -> None:
    book = Book(broken=frozenset({"a"}))
    clock = MachineClock(END_MS)
    some = rounds(book, clock=clock)
    some.run_due()
    clock.set(END_MS - HOUR_MS)
    assert some.run_due() == 3


def test_pours_that_wait_do_not_take_the_places_of_others() -> None:
    book = Book(broken=frozenset({"a", "b"}))
    some = rounds(book)
    some.run_due()
    some.run_due()
    assert book.limits == [POURS_A_ROUND, POURS_A_ROUND + 2]


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
