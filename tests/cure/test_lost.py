"""To what hours are lost: each to one thing, and together they are the whole."""

from __future__ import annotations

from typing import Any

import pytest
from days_support import at, site_with
from hypothesis import given
from hypothesis import strategies as st
from store_support import POUR

from cure.lost import Lost, Steps, inside_shifts_ms, lost, steps_of
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, STRIP, Ms
from shared.models.decisions import GateState, LogEntry

S = GateState
SITE = site_with(shift="06:30-17:00").site
DUE = at("2026-11-24T13:00-04:00")


def line(at_ms: Ms, before: GateState, after: GateState, **body: Any) -> LogEntry:
    told = {"pour": POUR, "operation": STRIP, "from": before, "to": after, **body}
    return LogEntry(at_ms, "slabhour", "gate", told)


def met(at_ms: Ms, cold_h: float = 0.0, unread_h: float = 0.0, late_ms: int = 0) -> LogEntry:
    spent = {"plan_ms": DUE, "cold_h": cold_h, "unread_h": unread_h}
    return line(at_ms, S.CURING, S.MET, evidence_ms=at_ms - late_ms, hours=spent)


def hours(found: Lost) -> tuple[float | None, ...]:
    return tuple(None if part is None else part / HOUR_MS for part in found.parts)


@pytest.mark.parametrize(
    ("cold_h", "unread_h", "late_min", "parts"),
    [
        (0.0, 0.0, 0, (0.0, 3.0, 0.0)),
        (2.0, 0.0, 0, (2.0, 1.0, 0.0)),
        (2.0, 0.5, 15, (2.0, 0.25, 0.75)),
        (0.0, 2.0, 60, (0.0, 0.0, 3.0)),
        (9.0, 9.0, 0, (3.0, 0.0, 0.0)),
    ],
)
def test_until_it_is_met_cold_comes_before_data_and_the_rest_is_the_mix(
    cold_h: float, unread_h: float, late_min: int, parts: tuple[float, ...]
) -> None:
    found = lost(Steps(met(DUE + 3 * HOUR_MS, cold_h, unread_h, late_min * MINUTE_MS)), DUE, SITE)
    assert hours(found) == (*parts, None, None)


def test_signing_and_beginning_are_lost_only_inside_shifts() -> None:
    night = at("2026-11-24T18:00-04:00")
    found = lost(Steps(met(night), at("2026-11-25T07:00-04:00"), at("2026-11-26T06:45-04:00")), DUE, SITE)
    assert hours(found) == (0.0, 5.0, 0.0, 0.5, 10.25)
    assert found.whole_ms == 15.75 * HOUR_MS


def test_what_comes_before_the_hour_it_is_due_is_not_lost() -> None:
    early = DUE - 2 * HOUR_MS
    found = lost(Steps(met(early, cold_h=5.0), early + HOUR_MS, DUE + HOUR_MS), DUE, SITE)
    assert hours(found) == (0.0, 0.0, 0.0, 0.0, 1.0)
    assert hours(lost(Steps(met(early), early, early), DUE, SITE)) == (0.0,) * 5


def test_where_nobody_has_to_sign_nothing_is_lost_to_it() -> None:
    found = lost(Steps(met(DUE), None, DUE + 2 * HOUR_MS), DUE, SITE)
    assert hours(found) == (0.0, 0.0, 0.0, 0.0, 2.0)


def test_what_is_not_known_is_never_zero() -> None:
    assert lost(Steps(), DUE, SITE) == Lost()
    assert lost(Steps(met(DUE), DUE, DUE), None, SITE) == Lost()
    bare = line(DUE, S.CURING, S.MET, evidence_ms=DUE)
    assert hours(lost(Steps(bare, DUE, DUE), DUE, SITE)) == (None, None, None, 0.0, 0.0)
    assert lost(Steps(bare, DUE, DUE), DUE, SITE).whole_ms is None
    assert hours(lost(Steps(met(DUE)), DUE, SITE))[3:] == (None, None)
    assert hours(lost(Steps(met(DUE), DUE), DUE, SITE))[3:] == (0.0, None)


@given(
    met_ms=st.integers(-3 * DAY_MS, 9 * DAY_MS),
    sign_ms=st.integers(0, 3 * DAY_MS),
    begin_ms=st.integers(0, 3 * DAY_MS),
    cold_h=st.floats(0, 300),
    unread_h=st.floats(0, 300),
    late_ms=st.integers(-HOUR_MS, DAY_MS),
)
def test_the_five_are_the_whole_time_to_the_millisecond(
    met_ms: int, sign_ms: int, begin_ms: int, cold_h: float, unread_h: float, late_ms: int
) -> None:
    # Shifts round the clock: then no hour between met and begun is anything but lost.
    site = site_with(shift="06:30-06:30").site
    at_ms = DUE + met_ms
    begun_ms = at_ms + sign_ms + begin_ms
    found = lost(Steps(met(at_ms, cold_h, unread_h, late_ms), at_ms + sign_ms, begun_ms), DUE, site)
    assert found.whole_ms == max(0, begun_ms - DUE)
    assert all(part is not None and part >= 0 for part in found.parts)
    day = lost(Steps(met(at_ms, cold_h, unread_h, late_ms), at_ms + sign_ms, begun_ms), DUE, SITE)
    assert day.parts[:3] == found.parts[:3]
    assert day.whole_ms is not None
    assert day.whole_ms <= found.whole_ms


@pytest.mark.parametrize(
    ("begins", "ends", "inside_h"),
    [
        ("2026-11-24T08:00-04:00", "2026-11-24T09:30-04:00", 1.5),
        ("2026-11-24T16:00-04:00", "2026-11-25T07:30-04:00", 2.0),
        ("2026-11-24T18:00-04:00", "2026-11-25T06:30-04:00", 0.0),
        ("2026-11-24T09:30-04:00", "2026-11-24T08:00-04:00", 0.0),
        ("2026-03-07T00:00-04:00", "2026-03-09T00:00-03:00", 21.0),
        ("2026-10-31T00:00-03:00", "2026-11-02T00:00-04:00", 21.0),
    ],
)
def test_only_what_lies_in_a_shift_is_inside_shifts(begins: str, ends: str, inside_h: float) -> None:
    assert inside_shifts_ms(at(begins), at(ends), SITE) == inside_h * HOUR_MS


def test_the_steps_are_those_that_led_to_the_first_beginning() -> None:
    first, again = line(3, S.CURING, S.MET), line(9, S.CURING, S.MET)
    story = [
        line(1, S.NOT_SET_UP, S.CURING),
        first,
        line(4, S.MET, S.CURING),
        line(5, S.CURING, S.MET),
        line(6, S.MET, S.RELEASED),
        line(7, S.RELEASED, S.WITHDRAWN),
        line(8, S.WITHDRAWN, S.CURING),
        again,
        line(10, S.MET, S.RELEASED),
        line(11, S.RELEASED, S.SUSPENDED),
        line(12, S.SUSPENDED, S.RELEASED),
        line(13, S.RELEASED, S.UNDER_WAY),
        line(14, S.UNDER_WAY, S.SUSPENDED),
        line(15, S.SUSPENDED, S.UNDER_WAY),
        line(16, S.UNDER_WAY, S.DONE),
        line(17, S.DONE, S.DONE),
    ]
    assert steps_of(story) == Steps(again, 10, 13, 16)
    assert steps_of(story[:2]) == Steps(first)
    assert steps_of(story[:3]) == Steps()
    assert steps_of(story[:6]) == Steps()
    assert steps_of([]) == Steps()


def test_a_release_that_is_done_without_a_tap_at_its_beginning_began_at_an_hour_not_known() -> None:
    release = line(2, S.CURING, S.MET)
    story = [release, line(3, S.MET, S.RELEASED), line(4, S.RELEASED, S.DONE)]
    assert steps_of(story) == Steps(release, 3, None, 4)
