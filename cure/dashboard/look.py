"""A pour for its charts and its record, read from the stores: as it is now, or as it was at an hour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from threading import Lock
from typing import Final

from cure.dashboard.pour_view import PourView, viewed
from cure.forecast import Forecast
from cure.history import Histories
from cure.rounds import checked_elapsed_ms
from cure.seen import LOOK_BEFORE_MS
from shared.models.base import Ms, PourId, SensorId
from shared.models.readings import Series
from shared.ports import BoardBook, Clock, PourCase, Readings

MOST_READINGS: Final = 500_000
"""Kept for pages: five pours of 60 days with six sensors at 5 min."""

Forecasts = Callable[[PourId, Ms], Forecast | None]
"""Pour, site time -> what is foreseen, or None."""


def no_forecast(pour: PourId, now_ms: Ms) -> Forecast | None:
    """Return nothing: what is foreseen is not known here."""
    del pour, now_ms
    return None


def look(book: BoardBook, stored: Readings, clock: Clock, pour: PourId) -> PourView:
    """Return a pour, open or closed, as the stores have it now. Raises `StoreError`."""
    case, now_ms = book.case(pour), clock.now()
    return viewed(case, _read(case, stored, now_ms), now_ms, elapsed_ms=checked_elapsed_ms(case, clock))


class Looks:
    """Pours, open or closed, as the stores have them now. For many threads.

    The readings of those looked at last are kept as the rounds keep theirs: of a pour of two months whose page is open
    in many pockets only the newest are read again.
    """

    def __init__(self, book: BoardBook, stored: Readings, clock: Clock, forecasts: Forecasts = no_forecast) -> None:
        self._forecasts = forecasts
        self._book = book
        self._clock = clock
        self._histories = Histories(stored, MOST_READINGS)
        self._one = Lock()

    def __call__(self, pour: PourId) -> PourView:
        """Return a pour. Raises `StoreError`."""
        case, now_ms = self._book.case(pour), self._clock.now()
        with self._one:
            series = self._histories.of(case, now_ms)
        view = viewed(case, series, now_ms, elapsed_ms=checked_elapsed_ms(case, self._clock))
        return replace(view, foreseen=self._forecasts(pour, now_ms))


def as_of(case: PourCase, stored: Readings, at_ms: Ms) -> PourView:
    """Return a pour as it was at an hour, from what has come of it since too. Raises `StoreError`."""
    end_ms = case.pour.end_ms
    elapsed_ms = None if end_ms is None else max(0, at_ms - end_ms)
    case = replace(case, tests=tuple(t for t in case.tests if t.tested_ms <= at_ms))
    return viewed(case, _read(case, stored, at_ms), at_ms, elapsed_ms=elapsed_ms)


def _read(case: PourCase, stored: Readings, through_ms: Ms) -> dict[SensorId, Series]:
    after_ms = case.pour.start_ms - LOOK_BEFORE_MS
    return {p.sensor: stored.between(p.sensor, after_ms, through_ms) for p in case.placements}
