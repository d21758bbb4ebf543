"""The way by which a site's weather comes in, as its site file says: a loop, a part of the web, or a topic."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from deploy.wiring import Service
from ingest.weather_intake import WeatherIntake
from ingest.weather_poll import PolledWeather, WatchedWeather, WeatherLoop
from ingest.weather_topic import Takes, WithWeather
from shared.errors import Fault, SetupError
from shared.models.setup import Setup
from shared.models.weather import FileWeather, HttpWeather, PutWeather, TopicWeather, source_of

if TYPE_CHECKING:
    from fastapi import APIRouter

SHORTEST_TOKEN: Final = 16
_HEADER: Final = re.compile(r"([A-Za-z0-9-]{1,64}):[ \t]*([\x21-\x7e]+(?:[ \t]+[\x21-\x7e]+)*)[ \t]*")


@dataclass(frozen=True, slots=True)
class WeatherParts:
    """What of it the service starts, ends and hangs in."""

    takes: Takes
    """What the listener feeds: the readings, and the weather if it comes on a topic."""
    routers: Sequence[APIRouter] = ()
    loop: WeatherLoop | None = None

    def start(self) -> None:
        """Begin."""
        if self.loop is not None:
            self.loop.start()

    def close(self) -> None:
        """End."""
        if self.loop is not None:
            self.loop.close()


def _text(setup: Setup, name: str, fieldname: str) -> str:
    try:
        return Path(setup.folder, name).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "is no plain text"
        fault = Fault("site file", None, f"weather.{fieldname}", f"{name}: {why}", "a file that can be read")
        raise SetupError([fault]) from error


def token_of(setup: Setup, weather: PutWeather) -> str:
    """Return the token of whoever sends weather. Raises `SetupError`, without repeating it."""
    token = _text(setup, weather.token_file, "token_file")
    if len(token) < SHORTEST_TOKEN or len(token.split()) != 1:
        allowed = f"one word of {SHORTEST_TOKEN} characters or more"
        raise SetupError([Fault("site file", None, "weather.token_file", f"{weather.token_file}: no such", allowed)])
    return token


def headers_of(setup: Setup, weather: HttpWeather) -> Mapping[str, str]:
    """Return what the provider wants in the request. Raises `SetupError`, without repeating it."""
    if weather.headers_file is None:
        return {}
    lines = [line.strip() for line in _text(setup, weather.headers_file, "headers_file").splitlines()]
    found = [_HEADER.fullmatch(line) for line in lines if line]
    if not all(found):
        wrong = f"{weather.headers_file}: line {found.index(None) + 1} of those that are not empty"
        raise SetupError([Fault("site file", None, "weather.headers_file", wrong, "a name, a colon, a value")])
    return {match[1]: match[2] for match in found if match is not None}


def weather_parts(service: Service) -> WeatherParts:
    """Return the parts of the site's weather. Raises `SetupError`: a file that it names cannot be used."""
    setup, weather = service.setup, service.setup.site.weather
    source = source_of(weather)
    if source is None:
        return WeatherParts(service.intake)
    mapped = getattr(weather, "map", None)
    intake = WeatherIntake(source, mapped, service.book.weather, service.clock)
    match weather:
        case FileWeather():
            return WeatherParts(
                service.intake, loop=WeatherLoop(WatchedWeather(Path(setup.folder, weather.file), intake).look)
            )
        case PutWeather():
            from ingest.weather_http import router

            return WeatherParts(service.intake, routers=[router(intake, token_of(setup, weather))])
        case HttpWeather():
            polled = PolledWeather(
                weather.url, weather.every_min * 60.0, headers_of(setup, weather), intake, service.clock
            )
            return WeatherParts(service.intake, loop=WeatherLoop(polled.look, polled.first_s))
        case TopicWeather():
            return WeatherParts(WithWeather(service.intake, weather.topic, intake))
        case _:
            raise AssertionError(f"no way in for {source}")
