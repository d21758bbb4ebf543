from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from store_support import POUR, T0, make_log, make_pour

from cure.forecast import Course, Expected, Forecast
from cure.forecast_file import EVERY_MS, ForecastFile
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, STRIP, Ms, Operation, PourId
from shared.models.decisions import LogEntry, PourState
from shared.models.forecasts import KeptForecast, Outcome, Score, ScoredForecast
from shared.ports import BoardRow

_FLAT = Course(np.zeros(1), np.zeros(1), np.zeros(1))
MET = make_log("gate", T0 + 15 * HOUR_MS, pour=POUR, operation=STRIP, to="met", evidence_ms=T0 + 14 * HOUR_MS)


def forecast(made_ms: Ms = T0, pour: PourId = POUR, come_h: float = 20.0) -> Forecast:
    hours = made_ms + (come_h + np.arange(100) / 10.0) * HOUR_MS
    expected = {STRIP: Expected(STRIP, hours, {}, {})}
    times = np.array([made_ms], dtype=np.int64)
    return Forecast(pour, made_ms, made_ms, made_ms + 120 * HOUR_MS, expected, 0.0, times, _FLAT, _FLAT, None)


@dataclass
class Book:
    """The `ForecastBook` port in memory."""

    kept: list[KeptForecast] = field(default_factory=list)
    scores: dict[int, Score] = field(default_factory=dict)
    asked: int = 0

    def keep(self, forecasts: Sequence[KeptForecast]) -> int:
        self.kept += forecasts
        return len(forecasts)

    def newest(self) -> Sequence[KeptForecast]:
        return self.kept[-1:]

    def waiting(self) -> Sequence[tuple[PourId, Operation, Ms]]:
        self.asked += 1
        left = [k for no, k in enumerate(self.kept) if no not in self.scores]
        keys = dict.fromkeys((k.pour, k.operation) for k in left)
        return [(p, o, min(k.horizon_ms for k in left if (k.pour, k.operation) == (p, o))) for p, o in keys]

    def unscored(self, pour: PourId, operation: Operation) -> Sequence[tuple[int, KeptForecast]]:
        left = [(no, k) for no, k in enumerate(self.kept) if no not in self.scores]
        return [(no, k) for no, k in left if (k.pour, k.operation) == (pour, operation)]

    def score(self, scores: Sequence[Score]) -> None:
        self.scores |= {s.no: s for s in scores}

    def scored(self, last_pours: int | None = None) -> Sequence[ScoredForecast]:
        del last_pours
        return [ScoredForecast(self.kept[no], score) for no, score in self.scores.items()]


@dataclass
class Board:
    """What the file reads of the board."""

    rows: list[BoardRow]
    log: list[LogEntry] = field(default_factory=list)

    def board(self) -> Sequence[BoardRow]:
        return self.rows

    def log_after(self, seq: int) -> Sequence[tuple[int, LogEntry]]:
        return list(enumerate(self.log, 1))[seq:]


def made(rows: Sequence[BoardRow] | None = None) -> tuple[ForecastFile, Book, Board, SimulatedClock]:
    row = BoardRow(make_pour(), "2", {}, (), PourState(), ())
    book, board, clock = Book(), Board([row] if rows is None else list(rows)), SimulatedClock(T0)
    return ForecastFile(book, board, clock), book, board, clock  # type: ignore[arg-type]  # what it reads of the board


def test_forecasts_are_kept_until_what_they_foretold_comes_and_then_all_are_scored() -> None:
    file, book, board, clock = made()
    assert file.keep([forecast(), forecast(T0 + HOUR_MS), forecast(pour=PourId("closed"))]) == 2
    assert file.keep([]) == 0
    assert [k.mix for k in book.kept] == ["c32-f", "c32-f"]
    assert file.run_due() == 0
    clock.set(T0 + EVERY_MS - 1)
    file.run_due()
    assert book.asked == 1
    board.log.append(MET)
    clock.set(T0 + 15 * HOUR_MS)
    assert file.run_due() == 2
    assert {s.found_ms for s in book.scores.values()} == {T0 + round(13.5 * HOUR_MS)}
    assert all(s.crps_h is not None and s.crps_h > 5.0 for s in book.scores.values())


def test_what_has_not_come_is_scored_when_the_horizon_is_over_and_what_was_closed_is_counted() -> None:
    file, book, board, clock = made()
    file.keep([forecast(), forecast(T0 + 10 * HOUR_MS)])
    clock.set(T0 + 121 * HOUR_MS)
    assert file.run_due() == 1
    assert book.scores[0].outcome is Outcome.NOT_WITHIN
    board.rows.clear()
    clock.set(T0 + 122 * HOUR_MS)
    assert file.run_due() == 1
    assert book.scores[1].outcome is Outcome.CLOSED


def test_what_came_of_a_pour_whose_start_was_taken_back_is_counted_and_not_scored() -> None:
    back = make_log("act", T0 + 16 * HOUR_MS, kind="take_back", pour=POUR, why="wrong bay")
    file, book, board, clock = made()
    file.keep([forecast()])
    board.rows.clear()
    board.log += [MET, back]
    clock.set(T0 + 130 * HOUR_MS)
    assert file.run_due() == 1
    assert [score.outcome for score in book.scores.values()] == [Outcome.CLOSED]


def test_the_spread_is_widened_once_thirty_pours_say_so_and_kept_forecasts_say_by_how_much() -> None:
    rows = [BoardRow(make_pour(f"p-{n}"), "2", {}, (), PourState(), ()) for n in range(31)]
    file, book, board, clock = made(rows)
    assert file.spread() == (1.0, "")
    file.keep([forecast(pour=PourId(f"p-{n}")) for n in range(30)])
    board.log += [
        make_log("gate", T0, pour=f"p-{n}", operation=STRIP, to="met", evidence_ms=T0 + 14 * HOUR_MS) for n in range(30)
    ]
    clock.set(T0 + 15 * HOUR_MS)
    assert file.run_due() == 30
    widened, why = file.spread()
    assert widened > 1.0
    assert "widened" in why
    file.keep([forecast(T0 + 15 * HOUR_MS, pour=PourId("p-30"))])
    assert book.kept[-1].widened == widened
