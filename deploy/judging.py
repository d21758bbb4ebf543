"""What judges the pours, wired: the rounds, and what is foreseen beside them."""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from typing import Final

from cure.forecast_file import ForecastFile
from cure.foresight import Foresight, Pace, Skies
from cure.freeze_ahead import FreezeWatch
from cure.rounds import Rounds, checked_elapsed_ms
from shared.errors import StoreError
from shared.models.base import PourId
from shared.models.setup import Setup
from shared.ports import Clock, PourCase, Readings, Share, Whole
from shared.store.book import SiteBook

LOG: Final = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Judging:
    """Judges what is due, then foresees: no gate waits for a forecast."""

    rounds: Rounds
    file: ForecastFile
    """Of its forecasts."""
    freezing: FreezeWatch
    """Warns of what they foresee."""
    foresight: Foresight | None = None
    """None: nobody tells the weather, and hours are expected by plain comparison."""

    def run_due(self) -> None:
        """Judge what is due, and make the forecasts that are."""
        self.rounds.run_due()
        if self.foresight is None:
            return
        made = self.foresight.run_due()
        try:
            self.freezing.tell(made)
            self.file.keep(made)
            self.file.run_due()
        except StoreError as error:
            LOG.error("forecasts could not be told, kept or scored: %s", error)


def judging_of(
    setup: Setup,
    readings: Readings,
    book: SiteBook,
    clock: Clock,
    share: Share | None = None,
    skies: Skies | None = None,
    pace: Pace | None = None,
) -> Judging:
    """Wire what judges.

    Args:
        setup: of the site.
        readings: of the site.
        book: of the site.
        clock: site time.
        share: which pours are judged here; None: all.
        skies: who tells the weather; None: nobody.
        pace: how often a forecast is made, and by whom; None: each hour, in turn.
    """
    mine = Whole() if share is None else share
    file = ForecastFile(book.forecasts, book.board, clock)
    rounds = Rounds(readings, book.cure, clock, share=mine)
    freezing = FreezeWatch(setup.site, book.board, book.cure, clock)
    if skies is None:
        return Judging(rounds, file, freezing)

    def open_pours() -> list[PourId]:
        return [pour for pour in book.cure.open_pours() if mine.mine(pour)]

    def elapsed_ms(case: PourCase) -> int | None:
        return checked_elapsed_ms(case, clock)

    f = Foresight(book.cure, readings, clock, skies, open_pours, elapsed_ms, file.spread, pace or Pace())
    rounds = replace(rounds, foreseen=f.hours, cold_ahead=f.cold_ahead, stripped=f.stripped, foretold=f.foretold)
    return Judging(rounds, file, freezing, f)
