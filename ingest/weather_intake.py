"""Takes weather in, by whichever way it came: read, judged, kept, and what was wrong written down."""

from __future__ import annotations

import logging
from typing import Final

from ingest.weather import Unusable, read_weather
from shared.models.base import DAY_MS
from shared.models.weather import WeatherHeard, WeatherIssue, WeatherMap
from shared.ports import Clock, WeatherBook

KEPT_MS: Final = 21 * DAY_MS
"""So long an issue is kept: longer than a pour is foreseen (our judgement)."""

_log = logging.getLogger(__name__)


class WeatherIntake:
    """Takes the weather of one source."""

    def __init__(self, source: str, mapped: WeatherMap | None, book: WeatherBook, clock: Clock) -> None:
        self.source: Final = source
        self._map = mapped
        self._book = book
        self._clock = clock

    def heard(self) -> WeatherHeard | None:
        """Return how it goes with the source. Raises `StoreError`."""
        return self._book.heard(self.source)

    def take(
        self, payload: bytes, *, is_csv: bool = False, tag: str | None = None, changed: str | None = None
    ) -> WeatherIssue | Unusable:
        """Keep what came, or write down why it cannot be used; return which.

        Args:
            payload: as it came.
            is_csv: else it is a JSON.
            tag: by which the provider will know it again.
            changed: when it last changed, in the provider's words.

        Raises:
            StoreError: nothing was kept; the same may be handed in again.
        """
        now = self._clock.now()
        found = read_weather(payload, self.source, now, self._map, is_csv=is_csv)
        if isinstance(found, Unusable):
            self.failed(found.why)
            return found
        if self._book.keep(found, WeatherHeard(self.source, now, now, tag=tag, changed=changed)):
            self._book.forget(now - KEPT_MS)
        for said in found.left_out:
            _log.warning("weather of %s: left out: %s", self.source, said)
        return found

    def failed(self, why: str) -> int:
        """Write down that nothing usable came; return how often in a row. Raises `StoreError`."""
        now, before = self._clock.now(), self.heard()
        if before is None:
            before = WeatherHeard(self.source, now)
        if why != before.why:
            _log.warning("weather of %s: %s", self.source, why)
        failures = before.failures + 1
        # What was had is not asked for by its tag again: it may be the very thing that is no good.
        self._book.note(WeatherHeard(self.source, now, before.heard_ms, failures, why))
        return failures

    def unchanged(self) -> None:
        """Write down that the source says that nothing is new. Raises `StoreError`."""
        now, before = self._clock.now(), self.heard()
        if before is not None:
            self._book.note(WeatherHeard(self.source, now, now, tag=before.tag, changed=before.changed))
