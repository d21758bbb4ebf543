"""While a logger's buffer comes in no gate advances: what is known of the pour is a part of what is on its way."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import make_case

from cure.burst import LATE_INTERVALS, QUIET_MS, quiet_at_ms
from shared.models.base import DAY_MS, MINUTE_MS, Ms
from shared.models.readings import Arrival
from shared.ports import PourCase

NOW: Ms = 1_795_510_800_000


def case(newest_ms: Ms, received_ms: Ms, revision: int = 9, rewritten: int = 1) -> PourCase:
    whole = make_case()
    sensor = whole.placements[0].sensor
    return replace(whole, arrivals={sensor: Arrival(sensor, revision, newest_ms, received_ms, rewritten)})


@pytest.mark.row("L14")
def test_while_three_days_of_a_buffer_come_in_no_gate_advances_until_two_minutes_of_quiet() -> None:
    for hours_left in (72, 24, 1):
        received = NOW - 1000 * hours_left
        assert quiet_at_ms(case(received - hours_left * 60 * MINUTE_MS, received), received + 1) == received + QUIET_MS
    last = case(NOW - MINUTE_MS, NOW)
    assert quiet_at_ms(last, NOW + 1) is None


@pytest.mark.row("L14")
def test_a_gap_that_is_filled_from_the_middle_counts_too() -> None:
    filled = case(NOW - MINUTE_MS, NOW, revision=9, rewritten=9)
    assert quiet_at_ms(filled, NOW) == NOW + QUIET_MS
    assert quiet_at_ms(filled, NOW + QUIET_MS - 1) == NOW + QUIET_MS
    assert quiet_at_ms(filled, NOW + QUIET_MS) is None


def test_a_logger_that_reports_in_time_keeps_nothing_waiting_nor_does_one_never_heard() -> None:
    interval_ms = make_case().placements[0].interval_s * 1000
    assert quiet_at_ms(case(NOW - LATE_INTERVALS * interval_ms, NOW), NOW) is None
    assert quiet_at_ms(replace(make_case(), arrivals={}), NOW) is None


def test_an_hour_of_a_clock_that_was_put_back_since_holds_nothing_for_ever() -> None:
    assert quiet_at_ms(case(NOW - DAY_MS, NOW + DAY_MS), NOW) is None
