"""A pour for its charts and its record, read from the stores: as it is now, or as it was at an hour."""

from __future__ import annotations

from dataclasses import replace

from cure.dashboard.pour_view import PourView, viewed
from cure.rounds import checked_elapsed_ms
from cure.seen import LOOK_BEFORE_MS
from shared.models.base import Ms, PourId, SensorId
from shared.models.readings import Series
from shared.ports import BoardBook, Clock, PourCase, Readings


def look(book: BoardBook, stored: Readings, clock: Clock, pour: PourId) -> PourView:
    """Return a pour, open or closed, as the stores have it now. Raises `StoreError`."""
    case, now_ms = book.case(pour), clock.now()
    return viewed(case, _read(case, stored, now_ms), now_ms, elapsed_ms=checked_elapsed_ms(case, clock))


def as_of(case: PourCase, stored: Readings, at_ms: Ms) -> PourView:
    """Return a pour as it was at an hour, from what has come of it since too. Raises `StoreError`."""
    end_ms = case.pour.end_ms
    elapsed_ms = None if end_ms is None else max(0, at_ms - end_ms)
    case = replace(case, tests=tuple(t for t in case.tests if t.tested_ms <= at_ms))
    return viewed(case, _read(case, stored, at_ms), at_ms, elapsed_ms=elapsed_ms)


def _read(case: PourCase, stored: Readings, through_ms: Ms) -> dict[SensorId, Series]:
    after_ms = case.pour.start_ms - LOOK_BEFORE_MS
    return {p.sensor: stored.between(p.sensor, after_ms, through_ms) for p in case.placements}
