"""Which files of a site hold secrets, and what is secret in them: to look after it, and to keep it out of logs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from deploy import check_weather
from ingest.broker_access import read_users
from shared.errors import SetupError
from shared.models.people import ReachUrl, WebhookUrl
from shared.models.setup import Setup
from shared.models.weather import HttpWeather

SHORTEST: Final = 4
"""A secret of fewer characters would be found in every other word."""
_PEM: Final = "-----"


def secret_files(setup: Setup) -> list[str]:
    """Return the files that nobody else should read, as the site file names them, in the order of their names."""
    site = setup.site
    names: set[str | None] = set(check_weather.secret_files(setup))
    for address in (a for r in site.recipient for a in r.channels):
        if isinstance(address, WebhookUrl):
            names.add(address.secret_file)
        elif isinstance(address, ReachUrl):
            names.add(address.url_file)
    if site.channel.email is not None:
        names.add(site.channel.email.password_file)
    if site.stores.readings.kind == "influxdb":
        names.add(site.stores.readings.token_file)
    if site.stores.book.kind == "postgresql":
        names.add(site.stores.book.dsn_file)
    names |= {site.broker.key_file, site.broker.password_file, site.web.key_file, site.heartbeat.url_file}
    return sorted({n for n in (*names, *_lists(setup)) if n is not None})


def _lists(setup: Setup) -> set[str]:
    """Return the files in which names stand beside their passwords."""
    named = (setup.site.broker.loggers_file, setup.site.web.loggers_file, setup.site.site.keys_file)
    return {name for name in named if name is not None}


def secrets_of(setup: Setup) -> frozenset[str]:
    """Return every secret in those files that can be read now; what cannot is told by whoever needs it."""
    weather, lists = setup.site.weather, _lists(setup)
    headers = weather.headers_file if isinstance(weather, HttpWeather) else None
    found: set[str] = set()
    for name in secret_files(setup):
        try:
            text = Path(setup.folder, name).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            continue
        if name in lists:
            found |= _passwords(text, name)
        elif name == headers:
            found |= {line.partition(":")[2].strip() for line in text.splitlines()}
        else:
            found |= {text.strip(), *_lines(text)}
    return frozenset(one for one in found if len(one) >= SHORTEST)


def _passwords(text: str, name: str) -> set[str]:
    try:
        return set(read_users(text, name).values())
    except SetupError:
        # The service does not start with it, and says so without repeating what stands there.
        return {word for line in text.splitlines() for word in (line.strip(), *line.split())}


def _lines(text: str) -> Iterator[str]:
    for line in text.splitlines():
        said = line.strip()
        if not said.startswith(_PEM):
            yield said
