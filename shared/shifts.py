"""Shifts in site time: "06:30-17:00", may cross midnight; right over both nights when the clocks change."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from shared.models.base import Ms

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


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


def _of_days(days: Iterable[date], shift: str, zone: str) -> Iterator[ShiftHours]:
    begin, end = shift.split("-")
    for day in days:
        last = day + timedelta(days=1) if end <= begin else day
        begins, ends = hour_of(day, begin, zone), hour_of(last, end, zone)
        # A short shift inside the hour that spring leaves out has no length that day.
        if begins < ends:
            yield ShiftHours(begins, ends)


def _from_day_before(at_ms: Ms, shift: str, zone: str) -> Iterator[ShiftHours]:
    today = day_of(at_ms, zone)
    return _of_days((today + timedelta(days=days) for days in (-1, 0, 1, 2)), shift, zone)


def openings(from_ms: Ms, to_ms: Ms, shift: str, zone: str, weekdays: Container[str]) -> Iterator[ShiftHours]:
    """Return the shifts of some days of the week that touch a stretch of time, in order.

    Args:
        from_ms: where the stretch begins.
        to_ms: where it ends.
        shift: from-to in site time, as for `running_or_next`.
        zone: IANA time zone of the site.
        weekdays: days on which a shift begins, of `WEEKDAYS`.
    """
    # From the day before: its shift may run into the first day.
    first, last = day_of(from_ms, zone) - timedelta(days=1), day_of(to_ms, zone)
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    of_week = (day for day in days if WEEKDAYS[day.weekday()] in weekdays)
    return (s for s in _of_days(of_week, shift, zone) if s.ends_ms > from_ms and s.begins_ms <= to_ms)


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
