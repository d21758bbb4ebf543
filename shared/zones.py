"""Time zones: fixed offsets and the names of the IANA."""

from __future__ import annotations

import re
from datetime import UTC, timedelta, timezone, tzinfo
from functools import cache
from importlib.resources import files
from typing import Final
from zoneinfo import ZoneInfo

_OFFSET: Final = re.compile(r"([+-])([01]\d|2[0-3]):([0-5]\d)")


@cache
def zones() -> frozenset[str]:
    """Return the names of the IANA time zones, as the tzdata package lists them: the same on every machine."""
    return frozenset(files("tzdata").joinpath("zones").read_text(encoding="utf-8").split())


def place_of(zone: str) -> tzinfo | None:
    """Return the fixed offset ("-04:00", "UTC") or the IANA time zone of a name; None: it is neither."""
    if zone == "UTC":
        return UTC
    match = _OFFSET.fullmatch(zone)
    if match is not None:
        apart = timedelta(hours=int(match[2]), minutes=int(match[3]))
        return timezone(-apart if match[1] == "-" else apart)
    return ZoneInfo(zone) if zone in zones() else None
