"""What is kept of the weather, and of forecasts until they are scored."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from shared.models.base import Ms, Operation, PourId
from shared.models.forecasts import KeptForecast, Score, ScoredForecast
from shared.models.weather import WeatherHeard, WeatherIssue


class WeatherBook(Protocol):
    """The weather as it came."""

    def keep(self, issue: WeatherIssue, heard: WeatherHeard) -> bool:
        """Keep an issue and how it goes with its source; return whether it was new."""
        ...

    def note(self, heard: WeatherHeard) -> None:
        """Write down how it goes with a source."""
        ...

    def heard(self, source: str) -> WeatherHeard | None:
        """Return how it goes with a source; None: it was never tried."""
        ...

    def since(self, source: str, received_ms: Ms) -> Sequence[WeatherIssue]:
        """Return the issues of a source that came from an hour on, and the newest in any case, the oldest first."""
        ...

    def forget(self, before_ms: Ms) -> int:
        """Forget issues that came before an hour, the newest of each source excepted; return how many."""
        ...


class ForecastBook(Protocol):
    """The forecasts on file."""

    def keep(self, forecasts: Sequence[KeptForecast]) -> int:
        """Keep forecasts; return how many were not there: one for each pour, operation and hour of making."""
        ...

    def newest(self) -> Sequence[KeptForecast]:
        """Return the newest that is not scored of each pour and operation."""
        ...

    def waiting(self) -> Sequence[tuple[PourId, Operation, Ms]]:
        """Return which pours and operations have forecasts that are not scored, and the earliest of their horizons."""
        ...

    def unscored(self, pour: PourId, operation: Operation) -> Sequence[tuple[int, KeptForecast]]:
        """Return those of an operation that are not scored, with their numbers."""
        ...

    def score(self, scores: Sequence[Score]) -> None:
        """Write scores down; one that is there stays."""
        ...

    def scored(self, last_pours: int | None = None) -> Sequence[ScoredForecast]:
        """Return what is scored, in the order of scoring; of so many last pours, or of all."""
        ...
