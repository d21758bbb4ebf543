"""Weather for a replay: recorded forecasts, each of which reaches the site in the hour in which it was made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from cure.forecast import Forecast, NoForecast
from deploy.wiring import Service
from ingest.weather import Unusable, made_ms, read_weather
from ingest.weather_intake import WeatherIntake
from shared.errors import Fault, SetupError, SlabError
from shared.models.acts import instant
from shared.models.base import Ms, PourId
from shared.models.setup import Setup, SiteFile
from shared.models.weather import FileWeather, NoWeather, WeatherMap, source_of

CHANCES: Final = (0.1, 0.5, 0.9)
SAID: Final = "EXPECTED, NOT RELEASED"
SOURCE: Final = "replayed weather"


@dataclass(frozen=True, slots=True)
class Issued:
    """One recorded forecast."""

    at_ms: Ms
    payload: bytes
    is_csv: bool


def map_of(site: SiteFile) -> WeatherMap | None:
    """Return where in a recorded forecast each value stands: the site's own map, if it has one."""
    return None if isinstance(site.weather, NoWeather) else site.weather.map


def read_issues(paths: Sequence[Path], site: SiteFile) -> list[Issued]:
    """Return the forecasts of files, in the order in which they were made.

    Args:
        paths: each a CSV or a JSON by its ending, one forecast, or a JSONL with one JSON a line.
        site: whose map says where what stands.

    Raises:
        SetupError: every file, or line of a JSONL, of which nothing can be used.
        OSError: one cannot be read.
    """
    faults, found = list[Fault](), list[Issued]()
    for path in paths:
        ending, whole = path.suffix.lower(), path.read_bytes()
        parts = [line for line in whole.splitlines() if line.strip()] if ending == ".jsonl" else [whole]
        for number, payload in enumerate(parts, 1):
            one = _issued(payload, site, is_csv=ending == ".csv")
            if isinstance(one, Issued):
                found.append(one)
            else:
                line = number if ending == ".jsonl" else None
                faults.append(Fault(str(path), line, "weather", one.why, "what [weather] reads"))
    if faults:
        raise SetupError(faults)
    return sorted(found, key=lambda one: one.at_ms)


def _issued(payload: bytes, site: SiteFile, *, is_csv: bool) -> Issued | Unusable:
    mapped = map_of(site)
    made = made_ms(payload, mapped, is_csv=is_csv)
    if isinstance(made, Unusable):
        return made
    read = read_weather(payload, SOURCE, made, mapped, is_csv=is_csv)
    return read if isinstance(read, Unusable) else Issued(made, payload, is_csv)


def told_of_weather(setup: Setup) -> Setup:
    """Return the set-up of a site whose weather is what is replayed."""
    if source_of(setup.site.weather) is not None:
        return setup
    weather = FileWeather(kind="file", file=SOURCE)
    return replace(setup, site=setup.site.model_copy(update={"weather": weather}))


def take(service: Service, issued: Issued) -> None:
    """Let a forecast reach the site.

    Raises:
        SlabError: it cannot be used after all.
    """
    site = service.setup.site
    intake = WeatherIntake(str(source_of(site.weather)), map_of(site), service.book.weather, service.clock)
    found = intake.take(issued.payload, is_csv=issued.is_csv)
    if isinstance(found, Unusable):
        raise SlabError(f"the weather of a replay: {found.why}")


class ForecastTeller:
    """Turns new forecasts into lines."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._zone = ZoneInfo(service.setup.site.site.zone)
        self._told: dict[PourId, Forecast | NoForecast] = {}

    def news(self) -> Iterator[dict[str, Any]]:
        """Yield a line for each forecast made since the last call, and for each pour that has none any more."""
        foresight = self._service.foresight
        for pour, one in sorted({} if foresight is None else foresight.latest.items()):
            before, self._told[pour] = self._told.get(pour), one
            if one is before:
                continue
            if isinstance(one, Forecast):
                yield self._line(one)
            elif not isinstance(before, NoForecast) or before.reason != one.reason:
                at = self._iso(self._service.clock.now())
                yield {"at": at, "what": "no forecast", "pour": pour, "reason": one.reason, "how": one.how}

    def _iso(self, at_ms: Ms | None) -> str | None:
        return None if at_ms is None else instant(at_ms, self._zone).isoformat(timespec="seconds")

    def _line(self, one: Forecast) -> dict[str, Any]:
        hours = {
            operation: {
                **{f"p{round(100 * chance)}": self._iso(expected.at(chance)) for chance in CHANCES},
                "waits_for": {str(what): round(share, 3) for what, share in expected.governs.items()},
                "spread": {str(source): round(share, 3) for source, share in expected.spread.items()},
            }
            for operation, expected in one.expected.items()
        }
        return {
            "at": self._iso(one.issued_ms),
            "what": "forecast",
            "said": SAID,
            "pour": one.pour,
            "evidence_to": self._iso(one.through_ms),
            "horizon": self._iso(one.horizon_ms),
            "expected": hours,
            "freezing": round(one.freezing, 3),
            "notes": list(one.notes),
        }
