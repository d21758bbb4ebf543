"""The rounds: every pour with news, or due, is assessed and the result recorded. Plain functions, no threads."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Final

from cure.assess import assess
from shared.errors import MovedError, SlabError, StoreError
from shared.models.acts import PourAct
from shared.models.base import HOUR_MS, Ms, PourId, SensorId
from shared.models.readings import Series
from shared.ports import Clock, CureBook, PourCase, Readings, Result

LOG: Final = logging.getLogger(__name__)
TRIES: Final = 5
"""A reading or act that comes between reading the case and recording makes a result void; then it is done again."""
STOP_TRIES: Final = 100
POURS_A_ROUND: Final = 200
BEFORE_POUR_MS: Final = 2 * HOUR_MS


@dataclass(frozen=True, slots=True)
class Rounds:
    """Cure's loop body, wired to a clock and the stores."""

    readings: Readings
    book: CureBook
    clock: Clock

    def run_due(self) -> int:
        """Bring every pour that is due up to date; return how many were.

        One pour that cannot be judged keeps its gates as they are, is written to the log, and does not keep the
        others waiting.
        """
        due = self.book.due(self.clock.now(), POURS_A_ROUND)
        for pour in due:
            try:
                self.run(pour)
            except MovedError as error:
                LOG.info("%s", error)
            except SlabError as error:
                LOG.error("pour %s was not judged: %s", pour, error)
            except Exception:
                LOG.exception("pour %s was not judged", pour)
        return len(due)

    def run(self, pour: PourId, act: PourAct | None = None) -> Result:
        """Assess one pour, with a person's act if there is one, and record the result.

        Raises:
            ActRefusedError: the act cannot be accepted now; nothing was recorded.
            StoreError: a store failed, or the pour moved under every try.
        """
        for _ in range(TRIES):
            case = self.book.case(pour)
            now = self.clock.now()
            series = self._series(case, now)
            result = assess(case, series, now, clock_ok=self._clock_ok(case), act=act)
            if self.book.record(case, result):
                return result
        raise MovedError(f"{pour} moved under every one of {TRIES} tries; the next round tries again")

    def stop(self, pour: PourId, act: PourAct) -> Result:
        """Record a STOP: also when the readings store cannot be read, because STOP only shuts."""
        try:
            return self.run(pour, act)
        except StoreError as error:
            LOG.error("STOP without readings: %s", error)
        for _ in range(STOP_TRIES):
            case = self.book.case(pour)
            result = assess(case, {}, self.clock.now(), clock_ok=self._clock_ok(case), act=act)
            if self.book.record(case, result):
                return result
        raise MovedError(f"{pour} moved under every one of {STOP_TRIES} tries: press STOP again")

    def _clock_ok(self, case: PourCase) -> bool:
        return case.site.site.clock_sync == "not-checked" or self.clock.synchronised()

    def _series(self, case: PourCase, now: Ms) -> dict[SensorId, Series]:
        after = case.pour.start_ms - BEFORE_POUR_MS
        return {p.sensor: self.readings.between(p.sensor, after, now) for p in case.placements}
