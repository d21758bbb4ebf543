"""Shifts in site time: "06:30-17:00", may cross midnight; right over both nights when the clocks change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shared.models.base import Ms


@dataclass(frozen=True, slots=True)
class ShiftHours:
    """One shift of one day: the first instant in it, and the first after it."""

    begins_ms: Ms
    ends_ms: Ms


def day_of(at_ms: Ms, zone: str) -> date:
    """Return the site's day at an hour."""
    return datetime.fromtimestamp(at_ms // 1000, UTC).astimezone(ZoneInfo(zone)).date()


def site_hour(at_ms: Ms, zone: str) -> str:
    """Return an hour in site time, as boards and lists show it."""
    return datetime.fromtimestamp(at_ms // 1000, UTC).astimezone(ZoneInfo(zone)).strftime("%a %d %b %H:%M UTC%z")


def file_hour(at_ms: Ms, zone: str) -> str:
    """Return an hour in site time for the name of a file, to the second."""
    return datetime.fromtimestamp(at_ms // 1000, UTC).astimezone(ZoneInfo(zone)).strftime("%Y%m%dT%H%M%S%z")


def hour_of(day: date, hour: str, zone: str) -> Ms:
    """Return an hour of a day in site time: one that spring leaves out is an hour later; of two in autumn the first."""
    return round(datetime.combine(day, time.fromisoformat(hour), ZoneInfo(zone)).timestamp() * 1000)


def _from_day_before(at_ms: Ms, shift: str, zone: str) -> Iterator[ShiftHours]:
    begin, end = shift.split("-")
    today = day_of(at_ms, zone)
    for days in (-1, 0, 1, 2):
        day = today + timedelta(days=days)
        last = day + timedelta(days=1) if end <= begin else day
        begins, ends = hour_of(day, begin, zone), hour_of(last, end, zone)
        # A short shift inside the hour that spring leaves out has no length that day.
        if begins < ends:
            yield ShiftHours(begins, ends)


def running_or_next(at_ms: Ms, shift: str, zone: str) -> ShiftHours:
    """Return the shift that is running at an hour, or else the next one.

    Args:
        at_ms: the hour.
        shift: from-to in site time; an end at or before its begin is on the next day, so that equal ends run round
            the clock.
        zone: IANA time zone of the site.
    """
    return next(s for s in _from_day_before(at_ms, shift, zone) if s.ends_ms > at_ms)


def next_to_begin(at_ms: Ms, shift: str, zone: str) -> ShiftHours:
    """Return the first shift that begins after an hour."""
    return next(s for s in _from_day_before(at_ms, shift, zone) if s.begins_ms > at_ms)
