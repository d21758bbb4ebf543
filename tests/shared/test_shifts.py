from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from store_support import T0

from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS
from shared.shifts import WEEKDAYS, ShiftHours, file_hour, next_to_begin, openings, running_or_next, site_hour

ZONE = "America/Halifax"
HALIFAX = ZoneInfo(ZONE)
DAY, NIGHT = "06:30-17:00", "22:00-06:00"


def at(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def hours(begins: str, ends: str) -> ShiftHours:
    return ShiftHours(at(begins), at(ends))


TUESDAY = hours("2026-11-24T06:30-04:00", "2026-11-24T17:00-04:00")
WEDNESDAY = hours("2026-11-25T06:30-04:00", "2026-11-25T17:00-04:00")
THURSDAY = hours("2026-11-26T06:30-04:00", "2026-11-26T17:00-04:00")


@pytest.mark.parametrize(
    ("now", "running", "begins"),
    [
        ("2026-11-24T06:29:59.999-04:00", TUESDAY, TUESDAY),
        ("2026-11-24T06:30-04:00", TUESDAY, WEDNESDAY),
        ("2026-11-24T16:59:59.999-04:00", TUESDAY, WEDNESDAY),
        ("2026-11-24T17:00-04:00", WEDNESDAY, WEDNESDAY),
        ("2026-11-25T00:00-04:00", WEDNESDAY, WEDNESDAY),
        ("2026-11-25T06:30-04:00", WEDNESDAY, THURSDAY),
    ],
)
def test_a_shift_includes_its_begin_and_not_its_end(now: str, running: ShiftHours, begins: ShiftHours) -> None:
    assert running_or_next(at(now), DAY, ZONE) == running
    assert next_to_begin(at(now), DAY, ZONE) == begins


@pytest.mark.parametrize(
    ("now", "day", "next_day"),
    [
        ("2026-11-24T21:59-04:00", 24, 24),
        ("2026-11-24T22:00-04:00", 24, 25),
        ("2026-11-25T00:00-04:00", 24, 25),
        ("2026-11-25T05:59-04:00", 24, 25),
        ("2026-11-25T06:00-04:00", 25, 25),
    ],
)
def test_a_shift_may_cross_midnight(now: str, day: int, next_day: int) -> None:
    def night(d: int) -> ShiftHours:
        return hours(f"2026-11-{d}T22:00-04:00", f"2026-11-{d + 1}T06:00-04:00")

    assert running_or_next(at(now), NIGHT, ZONE) == night(day)
    assert next_to_begin(at(now), NIGHT, ZONE) == night(next_day)


def test_equal_ends_run_round_the_clock() -> None:
    now = at("2026-11-24T03:00-04:00")
    assert running_or_next(now, "00:00-00:00", ZONE) == hours("2026-11-24T00:00-04:00", "2026-11-25T00:00-04:00")
    assert running_or_next(now, "05:00-05:00", ZONE) == hours("2026-11-23T05:00-04:00", "2026-11-24T05:00-04:00")
    assert next_to_begin(now, "00:00-00:00", ZONE).begins_ms == at("2026-11-25T00:00-04:00")


AUTUMN, SPRING = "2026-11-01", "2026-03-08"
"""In Halifax: 02:00 becomes 01:00, and 02:00 becomes 03:00."""


@pytest.mark.parametrize(
    ("shift", "now", "found"),
    [
        # The night is an hour longer or shorter, the shift still begins at half past six by the site's clock.
        (DAY, "2026-10-31T18:00-03:00", hours(f"{AUTUMN}T06:30-04:00", f"{AUTUMN}T17:00-04:00")),
        (DAY, "2026-03-07T18:00-04:00", hours(f"{SPRING}T06:30-03:00", f"{SPRING}T17:00-03:00")),
        # A night shift that lives through the change is nine hours long, or seven.
        (NIGHT, f"{AUTUMN}T01:30-04:00", hours("2026-10-31T22:00-03:00", f"{AUTUMN}T06:00-04:00")),
        (NIGHT, f"{SPRING}T03:00-03:00", hours("2026-03-07T22:00-04:00", f"{SPRING}T06:00-03:00")),
        # A begin in the hour that spring leaves out, and one in the hour that autumn has twice.
        ("02:30-05:00", f"{SPRING}T00:00-04:00", hours(f"{SPRING}T03:30-03:00", f"{SPRING}T05:00-03:00")),
        ("01:30-05:00", f"{AUTUMN}T00:00-03:00", hours(f"{AUTUMN}T01:30-03:00", f"{AUTUMN}T05:00-04:00")),
        ("01:30-05:00", f"{AUTUMN}T01:15-04:00", hours(f"{AUTUMN}T01:30-03:00", f"{AUTUMN}T05:00-04:00")),
        # An end in the hour that autumn has twice is the first of the two: what is valid to it ends earlier.
        ("17:00-01:30", f"{AUTUMN}T01:15-03:00", hours("2026-10-31T17:00-03:00", f"{AUTUMN}T01:30-03:00")),
        ("17:00-01:30", f"{AUTUMN}T01:15-04:00", hours(f"{AUTUMN}T17:00-04:00", "2026-11-02T01:30-04:00")),
        # Spring turns 02:30-03:10 round: there is no such shift on that day.
        ("02:30-03:10", f"{SPRING}T00:00-04:00", hours("2026-03-09T02:30-03:00", "2026-03-09T03:10-03:00")),
    ],
)
@pytest.mark.row("C10")
def test_hours_are_the_sites_own_on_both_nights_of_the_clock_change(shift: str, now: str, found: ShiftHours) -> None:
    assert running_or_next(at(now), shift, ZONE) == found
    if found.begins_ms > at(now):
        assert next_to_begin(at(now), shift, ZONE) == found


def test_lengths_over_both_nights_of_the_clock_change() -> None:
    for now, length_h in (("2026-10-31T23:00-03:00", 9), ("2026-03-07T23:00-04:00", 7), ("2026-11-24T23:00-04:00", 8)):
        shift = running_or_next(at(now), NIGHT, ZONE)
        assert shift.ends_ms - shift.begins_ms == length_h * HOUR_MS


def test_the_hours_are_those_of_the_zone() -> None:
    now = at("2026-11-24T05:00+00:00")
    assert running_or_next(now, DAY, "Europe/Paris").begins_ms == at("2026-11-24T06:30+01:00")
    assert running_or_next(now, DAY, "Australia/Sydney").ends_ms == at("2026-11-24T17:00+11:00")
    assert running_or_next(now, DAY, "America/St_Johns").begins_ms == at("2026-11-24T06:30-03:30")


MINUTES = st.integers(0, 24 * 60 - 1)


@given(MINUTES, MINUTES, st.integers(0, 3 * 365 * 24 * 60))
def test_both_find_a_shift_that_fits_at_most_two_days_away(begin: int, end: int, minutes: int) -> None:
    now = T0 + minutes * MINUTE_MS
    text = f"{begin // 60:02}:{begin % 60:02}-{end // 60:02}:{end % 60:02}"
    running, later = running_or_next(now, text, ZONE), next_to_begin(now, text, ZONE)
    assert now < running.ends_ms
    assert now < later.begins_ms <= now + 2 * DAY_MS
    assert running == later or running.begins_ms <= now
    for found in (running, later):
        assert found.begins_ms < found.ends_ms <= found.begins_ms + 25 * HOUR_MS
        local = datetime.fromtimestamp(found.begins_ms / 1000, HALIFAX)
        assert text[:5] in {f"{local:%H:%M}", f"{local - timedelta(hours=1):%H:%M}"}, "or an hour left out"


WORKDAYS = WEEKDAYS[:5]


def test_a_laboratory_opens_on_its_days_only() -> None:
    # The 27th is a Friday.
    found = [*openings(at("2026-11-27T16:00-04:00"), at("2026-12-01T06:30-04:00"), DAY, ZONE, WORKDAYS)]
    assert found == [
        hours("2026-11-27T06:30-04:00", "2026-11-27T17:00-04:00"),
        hours("2026-11-30T06:30-04:00", "2026-11-30T17:00-04:00"),
        hours("2026-12-01T06:30-04:00", "2026-12-01T17:00-04:00"),
    ]


def test_one_that_has_ended_or_begins_later_is_not_among_them_and_a_night_is_of_the_day_on_which_it_begins() -> None:
    assert [*openings(at("2026-11-27T17:00-04:00"), at("2026-11-30T06:29-04:00"), DAY, ZONE, WORKDAYS)] == []
    friday = hours("2026-11-27T22:00-04:00", "2026-11-28T06:00-04:00")
    assert [*openings(at("2026-11-28T01:00-04:00"), at("2026-11-29T23:00-04:00"), NIGHT, ZONE, WORKDAYS)] == [friday]


@given(st.integers(0, 365 * 24), st.integers(0, 20 * 24), st.sets(st.sampled_from(WEEKDAYS)))
def test_every_hour_of_a_day_on_which_it_opens_is_in_an_opening(first: int, length: int, days: set[str]) -> None:
    from_ms = T0 + first * HOUR_MS
    found = [*openings(from_ms, from_ms + length * HOUR_MS, DAY, ZONE, days)]
    assert found == sorted(found, key=lambda s: s.begins_ms)
    for hour in range(length + 1):
        now_ms = from_ms + hour * HOUR_MS
        there = datetime.fromtimestamp(now_ms / 1000, HALIFAX)
        is_open = f"{there:%a}".lower() in days and "06:30" <= f"{there:%H:%M}" < "17:00"
        assert any(s.begins_ms <= now_ms < s.ends_ms for s in found) is is_open
    assert all(s.ends_ms > from_ms and s.begins_ms <= from_ms + length * HOUR_MS for s in found)


def test_an_hour_is_shown_with_its_offset_and_as_part_of_a_name() -> None:
    assert site_hour(at("2026-07-01T09:05-03:00"), ZONE) == "Wed 01 Jul 09:05 UTC-0300"
    assert file_hour(at("2026-07-01T09:05:07-03:00"), ZONE) == "20260701T090507-0300"
