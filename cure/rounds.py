"""The rounds: every pour with news, or due, is assessed and the result recorded. Plain functions, no threads."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import Final

from cure.assess import assess
from shared.errors import MovedError, SlabError, StoreError
from shared.models.acts import PourAct
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, PourId, SensorId
from shared.models.readings import Series
from shared.ports import Clock, CureBook, PourCase, Readings, Result

LOG: Final = logging.getLogger(__name__)
TRIES: Final = 5
"""A reading or act that comes between reading the case and recording makes a result void; then it is done again."""
STOP_TRIES: Final = 100
POURS_A_ROUND: Final = 200
BEFORE_POUR_MS: Final = 2 * HOUR_MS
FIRST_WAIT_MS: Final = MINUTE_MS
LONGEST_WAIT_MS: Final = 15 * MINUTE_MS
"""A pour that cannot be judged is tried again after 1 min, 2, 4, 8, then every 15."""


@dataclass(frozen=True, slots=True)
class _Wait:
    """How long a pour that could not be judged is left alone."""

    since_ms: Ms
    ms: Ms

    def lasts(self, now: Ms) -> bool:
        # A clock that was put back must not make it longer.
        return self.since_ms <= now < self.since_ms + self.ms


@dataclass(frozen=True, slots=True)
class Rounds:
    """Cure's loop body, wired to a clock and the stores."""

    readings: Readings
    book: CureBook
    clock: Clock
    _waits: dict[PourId, _Wait] = field(default_factory=dict, init=False, repr=False, compare=False)

    def run_due(self) -> int:
        """Bring every pour that is due up to date; return how many were tried.

        One pour that cannot be judged keeps its gates as they are, is written to the log, is left alone for a while,
        and does not keep the others waiting. A person's act does not wait.
        """
        now = self.clock.now()
        # Those that wait stay due: they must not take the places of others.
        due = self.book.due(now, POURS_A_ROUND + len(self._waits))
        tried = [pour for pour in due if pour not in self._waits or not self._waits[pour].lasts(now)]
        for pour in tried:
            try:
                self.run(pour)
            except MovedError as error:
                LOG.info("%s", error)
            except StoreError as error:
                # A store fails for every pour alike, and when it is back nobody must wait long for a withdrawal.
                self._waits[pour] = _Wait(now, FIRST_WAIT_MS)
                LOG.error("pour %s was not judged: %s", pour, error)
            except SlabError as error:
                LOG.error("pour %s was not judged: %s; next try in %d min", pour, error, self._put_off(pour, now))
            except Exception:
                LOG.exception("pour %s was not judged; next try in %d min", pour, self._put_off(pour, now))
        return len(tried)

    def _put_off(self, pour: PourId, now: Ms) -> int:
        """Leave a pour alone, twice as long as the last time; return the minutes."""
        last = self._waits.get(pour)
        self._waits[pour] = _Wait(now, FIRST_WAIT_MS if last is None else min(2 * last.ms, LONGEST_WAIT_MS))
        return self._waits[pour].ms // MINUTE_MS

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
                self._waits.pop(pour, None)
                return result
        raise MovedError(f"{pour} moved under every one of {TRIES} tries; the next round tries again")

    def stop(self, pour: PourId, act: PourAct) -> Result:
        """Record a STOP: also when the readings cannot be read or judged, because STOP only shuts."""
        try:
            return self.run(pour, act)
        except StoreError as error:
            LOG.error("STOP without readings: %s", error)
        except Exception:
            LOG.exception("STOP without readings")
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
