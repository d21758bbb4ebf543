"""The weather of a plan: what the site holds, or a file like the one that [weather] reads."""

from __future__ import annotations

from pathlib import Path

from cure.forecast import Weather
from cure.plan_weather import EARLIER_H
from cure.sky import weather_over
from cure.sky_held import Held, NoSky
from deploy.folders import data_folder
from deploy.weather_cli import held_of
from ingest.weather import Unusable, read_weather
from shared.errors import PlanError
from shared.models.base import HOUR_MS, Ms
from shared.models.setup import Setup, SiteFile
from shared.models.weather import NoWeather


def of_file(path: Path, site: SiteFile, hours: tuple[Ms, Ms], now_ms: Ms) -> Weather:
    """Return the weather of a file, CSV or JSON by its ending, in the map of the site's own [weather] if it has one.

    Raises:
        PlanError: nothing in it can be used.
        OSError: it cannot be read.
    """
    mapped = None if isinstance(site.weather, NoWeather) else site.weather.map
    issue = read_weather(path.read_bytes(), path.name, now_ms, mapped, is_csv=path.suffix.lower() == ".csv")
    if isinstance(issue, Unusable):
        raise PlanError(f"{path}: {issue.why}")
    held = Held(path.name, (issue,))
    found = weather_over(held, None, hours[0] - EARLIER_H * HOUR_MS, hours[1], now_ms)
    if isinstance(found, NoSky):
        raise PlanError(f"{path}: {found.reason}: {found.how}")
    return found


def of_site(setup: Setup, hours: tuple[Ms, Ms], now_ms: Ms) -> Weather:
    """Return the weather that the site holds.

    Raises:
        PlanError: it holds none that can be used.
        StoreError: its book cannot be read.
    """
    held = held_of(setup, data_folder(setup), now_ms)
    found = weather_over(held, None, hours[0] - EARLIER_H * HOUR_MS, hours[1], now_ms)
    if isinstance(found, NoSky):
        said = "say what the weather will be: --weather FILE, or --air LOW,HIGH for days that are alike"
        raise PlanError(f"the site holds no weather that can be used; {said}")
    return found
