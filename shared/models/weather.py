"""The weather over a site: where it comes from, as `site.toml` says, and what one source said at one hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal, TypeAlias

from pydantic import Field, StringConstraints

from shared.models.base import HOUR_MS, Line, Ms, Record
from shared.models.payloads import JsonPath

WEATHER_PATHS: Final = ("records", "issued", "time", "air", "wind", "humidity", "sun", "cloud")
"""The fields of a map that are JMESPath expressions."""


class WeatherMap(Record):
    """[weather.map]: where in a JSON, or in which column of a CSV, each value stands."""

    records: JsonPath | None = None
    """The list of hours; none: each path below finds a list in the whole message, all of the same length."""
    issued: JsonPath | None = None
    """When the forecast was made, in the message; none: at its first hour."""
    time: JsonPath
    air: JsonPath
    wind: JsonPath | None = None
    humidity: JsonPath | None = None
    """Percent."""
    sun: JsonPath | None = None
    """Global radiation on the level [W/m2]."""
    cloud: JsonPath | None = None
    air_unit: Literal["degC", "degF", "K"]
    wind_unit: Literal["m/s", "km/h", "mph", "kn"] = "m/s"
    cloud_unit: Literal["percent", "share"] = "percent"
    time_format: Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=r"^[^\r\n]*$")] = "iso"
    utc_offset: Annotated[str, StringConstraints(pattern=r"^[+-](0\d|1[0-4]):[0-5]\d$")] | None = None
    """Of times that do not say it; fixed."""

    @property
    def resolution_ms(self) -> int:
        """Times are taken as they are."""
        return 1


OWN_MAP: Final = WeatherMap(
    records="hours",
    issued="issued_at",
    time="at",
    air="air_c",
    wind="wind_m_s",
    humidity="humidity_percent",
    sun="sun_w_m2",
    cloud="cloud_percent",
    air_unit="degC",
)
"""How weather is read that no map is given for."""


class NoWeather(Record):
    """[weather] of a site that has none: its own air sensors speak for the hours to come."""

    kind: Literal["none"] = "none"


class FileWeather(Record):
    """[weather] in a file that somebody else writes."""

    kind: Literal["file"]
    file: Line
    """CSV or JSON by its ending, relative to the site file."""
    map: WeatherMap | None = None


class PutWeather(Record):
    """[weather] that somebody sends by HTTP PUT."""

    kind: Literal["put"]
    token_file: Line
    """Holds the token that the sender must have."""
    map: WeatherMap | None = None


class TopicWeather(Record):
    """[weather] on a topic of the broker."""

    kind: Literal["mqtt"]
    topic: Annotated[str, StringConstraints(max_length=200, pattern=r"^[A-Za-z0-9._:-]+(/[A-Za-z0-9._:-]+)*$")]
    map: WeatherMap | None = None


class HttpWeather(Record):
    """[weather] that is fetched from a provider."""

    kind: Literal["http"]
    url: Annotated[str, StringConstraints(pattern=r"^https?://[^\s]+$")]
    headers_file: Line | None = None
    """Holds what the provider wants in the request, such as a key: a line each, name, colon, value."""
    every_min: Annotated[int, Field(ge=15, le=360)] = 60
    map: WeatherMap


WeatherSettings: TypeAlias = NoWeather | FileWeather | PutWeather | TopicWeather | HttpWeather


@dataclass(frozen=True, slots=True)
class WeatherHour:
    """What a source says of one hour; None: nothing."""

    at_ms: Ms
    """A whole hour UTC."""
    air_c: float
    wind_m_s: float | None = None
    humidity_percent: float | None = None
    sun_w_m2: float | None = None
    """On the level."""
    cloud_share: float | None = None
    """Of the sky, 0 to 1."""


@dataclass(frozen=True, slots=True)
class WeatherIssue:
    """One forecast, as it was taken in."""

    source: str
    """As it is told: "weather.csv", "PUT", "topic site/weather", a provider's host."""
    issued_ms: Ms
    """When it was made; its first hour if it does not say."""
    received_ms: Ms
    hours: tuple[WeatherHour, ...]
    """By hour, each once."""
    left_out: tuple[str, ...] = ()
    """What of it was not believed, in words."""

    @property
    def ends_ms(self) -> Ms:
        """Until when it says something."""
        return self.hours[-1].at_ms + HOUR_MS


@dataclass(frozen=True, slots=True)
class WeatherHeard:
    """How it goes with a source."""

    source: str
    tried_ms: Ms
    heard_ms: Ms | None = None
    """When something usable last came, or the source last said that nothing is new."""
    failures: int = 0
    """In a row, since then."""
    why: str = ""
    """Of the last failure; "" after a success."""
    tag: str | None = None
    """By which a provider knows what was had from it (ETag)."""
    changed: str | None = None
    """When it last changed, in the provider's own words (Last-Modified)."""


def source_of(weather: WeatherSettings) -> str | None:
    """Return under which name a site's weather is kept and told; None: it has none."""
    match weather:
        case FileWeather():
            return weather.file
        case PutWeather():
            return "PUT /weather"
        case TopicWeather():
            return f"topic {weather.topic}"
        case HttpWeather():
            # Without the rest of the address, in which a key may stand.
            return weather.url.partition("://")[2].partition("/")[0].partition("?")[0].rpartition("@")[2]
        case _:
            return None
