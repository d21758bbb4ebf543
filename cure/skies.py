"""The weather over a bay as a forecast asks for it: of what the site book holds, and the bay's own air."""

from __future__ import annotations

from dataclasses import dataclass

from cure.forecast import NoForecast, Weather
from cure.sky import weather_over
from cure.sky_held import Held, NoSky, OwnAir
from shared.models.base import DAY_MS, Ms
from shared.models.readings import Series
from shared.models.setup import Zone
from shared.ports import PourCase, WeatherBook

BEFORE_MS = DAY_MS
"""Issues of the day before a pour speak of its first hours."""


def held(source: str | None, book: WeatherBook, from_ms: Ms) -> Held:
    """Return what is held of a source that came from an hour on. Raises `StoreError`."""
    if source is None:
        return Held(None)
    return Held(source, tuple(book.since(source, from_ms)), book.heard(source))


@dataclass(frozen=True, slots=True)
class SiteSkies:
    """The `Skies` of a site."""

    source: str | None
    """Of its weather; None: its own air alone."""
    book: WeatherBook

    def over(self, case: PourCase, air: Series | None, from_ms: Ms, to_ms: Ms, now_ms: Ms) -> Weather | NoForecast:
        """Return the weather of a stretch, or why there is none. Raises `StoreError`."""
        names = ", ".join(p.sensor for p in case.placements if p.zone is Zone.AIR)
        own = None if air is None else OwnAir(names, air)
        found = weather_over(held(self.source, self.book, from_ms - BEFORE_MS), own, from_ms, to_ms, now_ms)
        return NoForecast(case.pour.id, found.reason, found.how) if isinstance(found, NoSky) else found
