"""Site hours in words: local time with its date and its offset from UTC, in no machine's language."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final
from zoneinfo import ZoneInfo

from shared.models.base import MINUTE_MS, Ms

_DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def local(ms: Ms, zone: str) -> datetime:
    """Return the site's local time; UTC, with its offset shown, where the zone is not known."""
    at = datetime.fromtimestamp(ms // MINUTE_MS * 60, tz=UTC)
    try:
        return at.astimezone(ZoneInfo(zone))
    except (KeyError, ValueError, OSError):
        return at


def offset(at: datetime) -> str:
    """Return the offset from UTC as "-04:00"."""
    text = at.strftime("%z")
    return f"{text[:3]}:{text[3:5]}"


def long_hour(ms: Ms | None, zone: str, *, up: bool = False) -> str:
    """Return "Tue 24 Nov 2026 13:00 UTC-04:00"; `up`: a full minute later rather than earlier."""
    if ms is None:
        return "not known"
    at = local(ms + (MINUTE_MS - 1 if up else 0), zone)
    return f"{_DAYS[at.weekday()]} {at.day} {_MONTHS[at.month - 1]} {at.year} {at:%H:%M} UTC{offset(at)}"


def short_hour(ms: Ms, zone: str, *, up: bool = False) -> str:
    """Return "24 Nov 13:00 UTC-4", or "UTC-3:30" where the offset has minutes."""
    at = local(ms + (MINUTE_MS - 1 if up else 0), zone)
    hours, minutes = offset(at).split(":")
    ending = "" if minutes == "00" else f":{minutes}"
    return f"{at.day} {_MONTHS[at.month - 1]} {at:%H:%M} UTC{int(hours):+d}{ending}"
