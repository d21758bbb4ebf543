"""`slabhour weather`: what is held of the weather, how old it is, what of it is doubted, and what a forecast gets."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from deploy.cli_site import DONE, add_site, say, setup_of
from deploy.folders import data_folder
from shared import units
from shared.clock import SystemClock
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.decisions import Placement
from shared.models.setup import Setup, SiteSettings, Zone
from shared.models.weather import source_of
from shared.shifts import site_hour
from shared.store import has_book, read_board, read_readings, read_weather

if TYPE_CHECKING:
    from cure.forecast import Weather
    from cure.sky_held import Held, NoSky, OwnAir
    from shared.ports import Readings

SHOWN_H: Final = 48
EACH_H: Final = 3
BEFORE_MS: Final = 2 * DAY_MS
NOT_A_RELEASE: Final = "Weather only moves what is expected. It releases nothing."


def add_weather(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    add_site(parser)


def held_of(setup: Setup, folder: Path, now_ms: Ms) -> Held:
    """Return what is held of a site's weather, read beside a running service. Raises `StoreError`."""
    from cure.sky_held import Held

    source = source_of(setup.site.weather)
    if source is None or not has_book(setup, folder):
        return Held(source)
    with read_weather(setup, folder) as book:
        return Held(source, tuple(book.since(source, now_ms - BEFORE_MS)), book.heard(source))


def weather_lines(setup: Setup, folder: Path, now_ms: Ms) -> list[str]:
    """Return what `status` says of the weather: where from, how old, what is wrong with it."""
    from cure.sky_held import wrongs

    held = held_of(setup, folder, now_ms)
    if held.source is None:
        return ["weather: the site's own air sensors; no source is set"]
    found = f"weather: {held.source}"
    if held.newest is not None:
        found += f", made {site_hour(held.newest.issued_ms, setup.site.site.zone)}"
    return [found, *(f"weather: {one}" for one in wrongs(held, now_ms))]


def _own_air(placements: Sequence[Placement], stored: Readings, now_ms: Ms) -> OwnAir | None:
    """Return the air of the sensor that spoke last; None: no air sensor is placed, or none ever spoke."""
    from cure.sky_held import OwnAir

    sensors = [p.sensor for p in placements if p.zone is Zone.AIR and p.to_ms is None]
    found = [OwnAir(s, stored.between(s, now_ms - BEFORE_MS, now_ms)) for s in sensors]
    spoke = [air for air in found if len(air.series)]
    return max(spoke, key=lambda air: int(air.series.taken_ms[-1]), default=None)


def _hour_json(weather: Weather, i: int) -> Mapping[str, Any]:
    return {
        "at_ms": int(weather.hours_ms[i]),
        "air_c": round(float(weather.air_c[i]), 2),
        "air_sd_c": round(float(weather.air_sd_c[i]), 2),
        "wind_m_s": round(float(weather.wind_m_per_s[i]), 2),
        "humidity_percent": round(float(weather.humidity_percent[i]), 1),
        "sun_w_m2": round(float(weather.sun_w_per_m2[i]), 1),
        "cloud_share": round(float(weather.cloud_share[i]), 2),
    }


def _json(held: Held, weather: Weather | NoSky, wrong: Sequence[str]) -> Mapping[str, Any]:
    from cure.forecast import Weather

    newest, heard = held.newest, held.heard
    common = {
        "source": held.source,
        "issued_ms": None if newest is None else newest.issued_ms,
        "received_ms": None if newest is None else newest.received_ms,
        "ends_ms": None if newest is None else newest.ends_ms,
        "heard_ms": None if heard is None else heard.heard_ms,
        "tried_ms": None if heard is None else heard.tried_ms,
        "failures": 0 if heard is None else heard.failures,
        "wrong": list(wrong),
        "caution": NOT_A_RELEASE,
    }
    if not isinstance(weather, Weather):
        return {**common, "used": None, "reason": weather.reason, "how": weather.how}
    hours = [_hour_json(weather, i) for i in range(len(weather.hours_ms))]
    used = {"source": weather.source, "bias_sd_c": weather.bias_sd_c, "doubts": list(weather.doubts), "hours": hours}
    return {**common, "used": used}


def _temperature(c: float, site: SiteSettings) -> str:
    return units.shown(c, "degC", first=site.units, limit=False)


def _lines(weather: Weather | NoSky, site: SiteSettings, now_ms: Ms) -> list[str]:
    from cure.forecast import Weather

    if not isinstance(weather, Weather):
        return [f"nothing can be foreseen: {weather.reason}", f"      mend: {weather.how}"]
    found = [f"a forecast gets: {weather.source}", *(f"      {said}" for said in weather.doubts)]
    for i, at in enumerate(weather.hours_ms):
        ahead_h = (int(at) - now_ms) // HOUR_MS
        if 0 <= ahead_h <= SHOWN_H and ahead_h % EACH_H == 0:
            spread = units.shown(1.28 * float(weather.air_sd_c[i]), "degC apart", first=site.units, limit=True)
            wind = f"wind {weather.wind_m_per_s[i]:.0f} m/s"
            air = _temperature(float(weather.air_c[i]), site)
            found.append(f"  {site_hour(int(at), site.zone)}  {air}  +- {spread} (80 %)  {wind}")
    return found


def weather(args: argparse.Namespace) -> int:
    """Show what is held of the weather: source, age, what was left out or refused, the air of the hours to come."""
    from cure.sky import weather_over
    from cure.sky_held import wrongs

    setup = setup_of(args)
    folder, now_ms = data_folder(setup), SystemClock().now()
    held = held_of(setup, folder, now_ms)
    air = None
    if has_book(setup, folder):
        with read_board(setup, folder) as book, closing(read_readings(setup, folder)) as stored:
            air = _own_air(book.placements(), stored, now_ms)
    found = weather_over(held, air, now_ms, now_ms + SHOWN_H * HOUR_MS, now_ms)
    if args.json:
        say(json.dumps(_json(held, found, wrongs(held, now_ms))))
    else:
        say("\n".join([*weather_lines(setup, folder, now_ms), *_lines(found, setup.site.site, now_ms), NOT_A_RELEASE]))
    return DONE
