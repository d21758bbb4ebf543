"""Keeps every forecast that is made, scores it when what it foretold comes, and widens the next ones by the scores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from cure.forecast import Forecast
from cure.forecast_scores import LAST_POURS, Rolling, rolling
from cure.kept import came_ms, first_met, kept_of, score_of
from shared.models.base import MINUTE_MS, Ms, Operation, PourId
from shared.models.decisions import LogEntry
from shared.models.forecasts import Outcome, Score
from shared.ports import BoardBook, BoardRow, Clock, ForecastBook

EVERY_MS: Final = 5 * MINUTE_MS


@dataclass(slots=True)
class ForecastFile:
    """The forecasts on file. For one thread, that of the rounds."""

    book: ForecastBook
    board: BoardBook
    clock: Clock
    _looked_ms: Ms | None = field(default=None, init=False)
    _seq: int = field(default=0, init=False)
    _met: dict[tuple[str, Operation], LogEntry] = field(default_factory=dict, init=False)
    _void: set[PourId] = field(default_factory=set, init=False)
    """Pours whose start was taken back: whatever came of them is no forecast's."""
    _rolling: Rolling | None = field(default=None, init=False)

    def spread(self) -> tuple[float, str]:
        """Return by how much the spread of a new forecast is to be widened, and in words why; 1 and "": by nothing.

        Raises:
            StoreError: nobody can say.
        """
        if self._rolling is None:
            self._rolling = rolling(self.book.scored(LAST_POURS))
        return self._rolling.widened, self._rolling.said if self._rolling.widened > 1.0 else ""

    def keep(self, made: Sequence[Forecast]) -> int:
        """Keep forecasts with the spread they were made with; return how many. Raises `StoreError`."""
        if not made:
            return 0
        mixes, (widened, _) = {row.pour.id: row.pour.mix for row in self.board.board()}, self.spread()
        kept = [k for f in made if f.pour in mixes for k in kept_of(f, mixes[f.pour], widened)]
        return self.book.keep(kept) if kept else 0

    def run_due(self) -> int:
        """Score what can be scored, every few minutes; return how many were. Raises `StoreError`."""
        now = self.clock.now()
        # A clock that was put back must not make it wait.
        if self._looked_ms is not None and 0 <= now - self._looked_ms < EVERY_MS:
            return 0
        self._looked_ms = now
        waiting = self.book.waiting()
        if not waiting:
            return 0
        self._read_log()
        rows = {row.pour.id: row for row in self.board.board()}
        scores: list[Score] = []
        for pour, operation, horizon_ms in waiting:
            scores += self._scores(pour, operation, horizon_ms, rows.get(pour), now)
        self.book.score(scores)
        if scores:
            self._rolling = None
        return len(scores)

    def _scores(self, pour: PourId, operation: Operation, horizon_ms: Ms, row: BoardRow | None, now: Ms) -> list[Score]:
        if pour in self._void:
            return [Score(no, now, Outcome.CLOSED, None, None) for no, _ in self.book.unscored(pour, operation)]
        met = self._met.get((pour, operation))
        found_ms = came_ms(row, operation, {} if met is None else {operation: met})
        if found_ms is None and row is not None and now < horizon_ms:
            return []
        asked = self.book.unscored(pour, operation)
        scores = (score_of(no, kept, found_ms, now, closed=row is None) for no, kept in asked)
        return [score for score in scores if score is not None]

    def _read_log(self) -> None:
        lines = self.board.log_after(self._seq)
        if lines:
            self._seq = lines[-1][0]
            acts = (line.body for _, line in lines if line.what == "act")
            self._void |= {PourId(body["pour"]) for body in acts if body.get("kind") == "take_back"}
            for key, line in first_met(line for _, line in lines).items():
                self._met.setdefault(key, line)
