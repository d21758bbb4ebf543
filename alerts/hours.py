"""Site hours in words: local time with its date and its offset from UTC, in the reader's language, no machine's."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from shared.catalogue import Voice
from shared.models.base import MINUTE_MS, Ms


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


def long_hour(ms: Ms | None, zone: str, voice: Voice, *, up: bool = False) -> str:
    """Return "Tue 24 Nov 2026 13:00 UTC-04:00"; `up`: a full minute later rather than earlier."""
    if ms is None:
        return voice.say("not-known")
    at = local(ms + (MINUTE_MS - 1 if up else 0), zone)
    return voice.say("long-hour", day=_nth(voice, "days", at.weekday()), year=str(at.year), **_common(at, voice))


def short_hour(ms: Ms | None, zone: str, voice: Voice, *, up: bool = False) -> str:
    """Return "24 Nov 13:00 UTC-4", or "UTC-3:30" where the offset has minutes."""
    if ms is None:
        return voice.say("not-known")
    at = local(ms + (MINUTE_MS - 1 if up else 0), zone)
    hours, minutes = offset(at).split(":")
    ending = "" if minutes == "00" else f":{minutes}"
    return voice.say("short-hour", **_common(at, voice) | {"offset": f"{int(hours):+d}{ending}"})


def _common(at: datetime, voice: Voice) -> dict[str, str]:
    month = _nth(voice, "months", at.month - 1)
    return {"date": str(at.day), "month": month, "time": f"{at:%H:%M}", "offset": offset(at)}


def _nth(voice: Voice, key: str, n: int) -> str:
    names = voice.say(key).split()
    return names[n] if n < len(names) else str(n + 1)
