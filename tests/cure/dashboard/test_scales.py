"""Marks of an axis: a site's own midnights, also in the nights in which the clocks are changed."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.chart_words import WORDS
from cure.dashboard.scales import Mark, hours_of, logarithmic, nice, numbers
from shared.models.base import HOUR_MS

HALIFAX = "America/Halifax"


def at_ms(zone: str, *wall: int) -> int:
    return round(datetime(*wall, tzinfo=ZoneInfo(zone)).timestamp() * 1000)  # type: ignore[arg-type, misc]


def marked(zone: str, from_ms: int, hours: float, want: int = 8) -> list[tuple[float, str]]:
    """Return hours after the first, and the label, of each mark."""
    axis = hours_of(zone, from_ms, from_ms + round(hours * HOUR_MS))
    return [((mark.at - from_ms) / HOUR_MS, mark.label) for mark in axis.marks(want)]


def test_in_the_night_in_which_an_hour_is_left_out_no_label_is_shifted() -> None:
    # Halifax, 2026-03-08: 02:00 becomes 03:00 (computed by zoneinfo; second Sunday of March).
    begin = at_ms(HALIFAX, 2026, 3, 7, 18)
    assert marked(HALIFAX, begin, 48, want=4) == [
        (6, "Sun 8"),
        (17, "12:00"),
        (29, "Mon 9"),
        (41, "12:00"),
    ]


def test_an_hour_that_is_left_out_has_no_mark() -> None:
    begin = at_ms(HALIFAX, 2026, 3, 8, 0)
    found = marked(HALIFAX, begin, 5)
    assert [hours for hours, _ in found] == [0, 1, 2, 3, 4, 5]
    assert [label for _, label in found] == ["Sun 8", "01:00", "03:00", "04:00", "05:00", "06:00"]


def test_in_the_night_in_which_an_hour_comes_twice_no_label_is_shifted() -> None:
    # Halifax, 2026-11-01: 02:00 becomes 01:00.
    begin = at_ms(HALIFAX, 2026, 10, 31, 18)
    assert marked(HALIFAX, begin, 48, want=4) == [(6, "Sun 1"), (19, "12:00"), (31, "Mon 2"), (43, "12:00")]
    assert [label for _, label in marked(HALIFAX, at_ms(HALIFAX, 2026, 11, 1, 0), 6)].count("01:00") == 1


def test_a_day_whose_midnight_is_left_out_begins_when_it_begins() -> None:
    # Santiago, 2026-09-06: 00:00 becomes 01:00 (computed by zoneinfo).
    begin = at_ms("America/Santiago", 2026, 9, 5, 12)
    found = marked("America/Santiago", begin, 40, want=4)
    assert found == [(0, "12:00"), (12, "Sun 6"), (23, "12:00"), (35, "Mon 7")]


@given(
    st.sampled_from([HALIFAX, "Europe/Paris", "Asia/Kolkata", "America/Santiago", "UTC", "-03:30", "nowhere"]),
    st.integers(1_700_000_000_000, 1_900_000_000_000),
    st.floats(0.5, 24 * 400),
    st.integers(2, 12),
)
def test_marks_lie_inside_ascend_and_are_no_more_than_there_is_room_for(
    zone: str, from_ms: int, hours: float, want: int
) -> None:
    found = marked(zone, from_ms, hours, want)
    at = [h for h, _ in found]
    assert all(0 <= h <= hours + 1e-6 for h in at)
    assert all(a < b for a, b in pairwise(at))
    # One more than whole steps fit; and a changed clock gives an hour.
    assert len(found) <= want + 2


def test_days_are_named_in_the_language_asked_for() -> None:
    begin = at_ms("UTC", 2026, 11, 25, 12)
    axis = hours_of("UTC", begin, begin + 24 * HOUR_MS, WORDS["es"].days)
    assert "jue 26" in [mark.label for mark in axis.marks(4)]


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(2, 8))
def test_round_numbers_hold_both_ends_and_are_few(low: float, span: float, want: int) -> None:
    found = nice(low, low + span, want)
    assert found[0] <= low + 1e-6 * span
    assert found[-1] >= low + span - 1e-6 * span
    assert 2 <= len(found) <= want + 3


def test_equal_ends_still_make_a_scale() -> None:
    assert len(nice(5.0, 5.0, 5)) >= 2


def test_a_logarithmic_axis_lays_ratios_evenly_and_marks_one_two_five() -> None:
    axis = logarithmic(1.0, 1000.0, "h")
    assert np.allclose(axis.part(np.array([1.0, 10.0, 100.0, 1000.0])), [0, 1 / 3, 2 / 3, 1])
    assert [mark.label for mark in axis.marks(8)] == ["1", "2", "5", "10", "20", "50", "100", "200", "500", "1000"]
    assert [mark.label for mark in axis.marks(4)] == ["1", "10", "100", "1000"]


def test_a_plain_axis_takes_the_marks_that_it_is_given() -> None:
    own = [Mark(0.5, "half")]
    assert list(numbers(0.0, 1.0, "", lambda _: own).marks(3)) == own
    assert [mark.label for mark in numbers(0.0, 10.0).marks(5)] == ["0", "2", "4", "6", "8", "10"]


@pytest.mark.parametrize("language", sorted(WORDS))
def test_every_language_has_seven_days(language: str) -> None:
    assert len(set(WORDS[language].days)) == 7
