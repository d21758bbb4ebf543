"""Forecasts that were scored, as far off as a test wants."""

from __future__ import annotations

from store_support import T0

from shared.models.base import HOUR_MS, STRIP, MixId, Operation, PourId
from shared.models.forecasts import KeptForecast, Outcome, Score, ScoredForecast


def scored(
    pour: int,
    off_h: float,
    *,
    lead_h: float = 12.0,
    half_h: float = 4.0,
    widened: float = 1.0,
    mix: str = "a",
    operation: Operation = STRIP,
    outcome: Outcome = Outcome.CAME,
) -> ScoredForecast:
    """Return a forecast whose middle hour lies `lead_h` ahead, and which came `off_h` later."""
    middle = T0 + round(lead_h * HOUR_MS)
    reach = round(half_h * widened * HOUR_MS)
    kept = KeptForecast(
        PourId(f"p-{pour}"), operation, MixId(mix), T0, T0, T0 + 120 * HOUR_MS, middle - reach, middle, middle + reach,
        widened, (),
    )  # fmt: skip
    found = middle + round(off_h * HOUR_MS) if outcome is Outcome.CAME else None
    crps = None if outcome is Outcome.CLOSED else abs(off_h) / 2
    return ScoredForecast(kept, Score(pour, T0 + pour, outcome, found, crps))
