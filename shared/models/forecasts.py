"""A forecast of one operation as it is kept on file, and how far it was from what happened."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shared.models.base import HOUR_MS, MINUTE_MS, MixId, Ms, Operation, PourId


class Outcome(StrEnum):
    """What became of a forecast."""

    CAME = "came"
    NOT_WITHIN = "not within the horizon"
    CLOSED = "the pour was closed before"
    """Nobody can say when it would have come: it is counted, and not scored."""


@dataclass(frozen=True, slots=True)
class KeptForecast:
    """When an operation's requirement was expected to be met. Expected, not released."""

    pour: PourId
    operation: Operation
    mix: MixId
    made_ms: Ms
    through_ms: Ms
    """Of the readings it rests on."""
    horizon_ms: Ms
    """Of later hours it says nothing."""
    low_ms: Ms | None
    """Met by then with a chance of 10 %; None: not within the horizon. So also the two below."""
    middle_ms: Ms | None
    high_ms: Ms | None
    """With a chance of 90 %."""
    widened: float
    """By how much its spread was multiplied because earlier ones were too sure; 1: not."""
    levels_min: tuple[int | None, ...]
    """Minutes after it was made, at evenly spaced chances (`cure.kept.CHANCES`); None: not within the horizon."""

    def lead_h(self, found_ms: Ms) -> float:
        """Return how long before an hour it was made."""
        return (found_ms - self.made_ms) / HOUR_MS

    def level_ms(self) -> tuple[float, ...]:
        """Return the hours at those chances; infinite: not within the horizon."""
        never = float("inf")
        return tuple(never if m is None else self.made_ms + m * float(MINUTE_MS) for m in self.levels_min)


@dataclass(frozen=True, slots=True)
class Score:
    """What became of the forecast with a number."""

    no: int
    scored_ms: Ms
    outcome: Outcome
    found_ms: Ms | None
    """When it was met; None: not within the horizon, or nobody can say."""
    crps_h: float | None


@dataclass(frozen=True, slots=True)
class ScoredForecast:
    """A forecast and its score. Its levels are dropped when it is scored."""

    forecast: KeptForecast
    score: Score
