"""What `slabhour check` says of the weather: can its way in be used, and is what is held any good?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from deploy.folders import data_folder
from deploy.weather_cli import held_of
from deploy.weather_parts import headers_of, token_of
from shared.errors import SlabError
from shared.models.base import Ms
from shared.models.setup import Setup
from shared.models.weather import FileWeather, HttpWeather, PutWeather

MEND = "slabhour weather shows what is held; look at whoever sends it, or at [weather] and its map"


class Looked(NamedTuple):
    """One thing looked at."""

    ok: bool
    found: str
    mend: str = ""


def secret_files(setup: Setup) -> set[str]:
    """Return the files of [weather] that nobody else should read."""
    weather = setup.site.weather
    names = {weather.token_file} if isinstance(weather, PutWeather) else set()
    if isinstance(weather, HttpWeather) and weather.headers_file is not None:
        names.add(weather.headers_file)
    return names


def look_at_weather(setup: Setup, now_ms: Ms) -> Iterator[Looked]:
    """Yield what is found. Nothing here asks a provider: its answers are written down by the service."""
    from cure.sky_held import wrongs

    weather = setup.site.weather
    try:
        if isinstance(weather, PutWeather):
            token_of(setup, weather)
        if isinstance(weather, HttpWeather):
            headers_of(setup, weather)
        held = held_of(setup, data_folder(setup), now_ms)
    except SlabError as error:
        yield Looked(False, str(error), "correct that file, or start `slabhour serve` once")
        return
    if held.source is None:
        yield Looked(
            True, "no source is set: the site's own air sensors speak for the hours to come, with a wide error"
        )
        return
    if isinstance(weather, FileWeather) and not Path(setup.folder, weather.file).is_file():
        yield Looked(False, f"{weather.file} is not there", "have it written, or correct [weather] file")
    for wrong in wrongs(held, now_ms):
        yield Looked(False, wrong, MEND)
    if held.newest is not None:
        yield Looked(True, f"{held.source}: {len(held.newest.hours)} hours, made {held.age_h(now_ms):.1f} h ago")
