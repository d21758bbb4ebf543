from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ingest_support import AIR, EDGE, NOW, placement

from ingest.payloads.decoded import Record
from ingest.screening import OLDEST_MS, screen
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, Ms
from shared.models.readings import Reason
from shared.models.setup import Zone

CONCRETE = [placement(EDGE)]
IN_AIR = [placement(AIR, Zone.AIR)]


def reason(milli_c: int, taken_ms: Ms = NOW, *, air: bool = False) -> Reason | None:
    placements = IN_AIR if air else CONCRETE
    found = screen(Record(placements[0].sensor, taken_ms, milli_c), placements, NOW)
    return None if found is None else found[0]


@given(st.integers(-2_000, 2_000), st.booleans(), st.integers(-OLDEST_MS, 2 * MINUTE_MS))
def test_no_reading_from_minus_2_to_plus_2_is_ever_refused(milli_c: int, air: bool, since: int) -> None:
    assert reason(milli_c, NOW + since, air=air) is None


@pytest.mark.parametrize(
    ("milli_c", "air", "refused"),
    [
        (-20_000, False, False),
        (-20_001, False, True),
        (80_000, False, False),
        (80_001, False, True),
        (-50_000, True, False),
        (-50_001, True, True),
        (60_000, True, False),
        (60_001, True, True),
        (-30_000, True, False),
        (-30_000, False, True),
    ],
)
def test_the_range_is_that_of_the_zone_and_its_ends_are_kept(milli_c: int, air: bool, refused: bool) -> None:
    assert reason(milli_c, air=air) == (Reason.RANGE if refused else None)


@pytest.mark.row("L3")
@pytest.mark.parametrize("celsius", [85.0, -127.0, 4095.0, 999.0, -999.0, 409.5, 6553.5, -3276.8, 32767.0, -55.0])
def test_a_sentinel_is_refused_and_never_clipped(celsius: float) -> None:
    assert reason(round(celsius * 1000)) is Reason.RANGE
    assert reason(round(celsius * 1000), air=True) is Reason.RANGE


@pytest.mark.row("L3")
@given(st.integers().filter(lambda milli_c: not -20_000 <= milli_c <= 80_000))
def test_no_concrete_temperature_outside_its_range_is_kept(milli_c: int) -> None:
    assert reason(milli_c) is Reason.RANGE


@pytest.mark.row("L16")
@pytest.mark.parametrize("celsius", [2345.0, 296.5])
def test_centidegrees_and_kelvin_for_23_45_are_refused(celsius: float) -> None:
    # 74.3, the Fahrenheit number, might be hot concrete: `cure.doubts` finds it out by its first hour.
    assert reason(round(celsius * 1000)) is Reason.RANGE


@pytest.mark.row("C2", "C3")
@pytest.mark.parametrize(
    ("since", "refused"),
    [
        (2 * MINUTE_MS, None),
        (2 * MINUTE_MS + 1, Reason.CLOCK_FUTURE),
        (8 * HOUR_MS, Reason.CLOCK_FUTURE),
        (-14 * DAY_MS, None),
        (-14 * DAY_MS - 1, Reason.CLOCK_PAST),
        (946_684_800_000 - NOW, Reason.CLOCK_PAST),  # 2000-01-01
        (-NOW, Reason.CLOCK_PAST),  # 1970-01-01
    ],
)
def test_a_time_is_kept_from_14_days_back_to_2_minutes_ahead(since: int, refused: Reason | None) -> None:
    assert reason(20_000, NOW + since) == refused


@pytest.mark.row("C12")
@pytest.mark.parametrize("off_ms", [-2000, -1000, 1000, 2000])
def test_a_logger_that_is_a_leap_second_or_two_off_is_kept(off_ms: int) -> None:
    assert reason(20_000, NOW + off_ms) is None
    assert reason(0, NOW + off_ms) is None


@pytest.mark.row("N9")
def test_a_sensor_that_was_never_placed_is_unknown_whatever_it_says() -> None:
    found = screen(Record(EDGE, NOW, 0), [], NOW)
    assert found is not None
    assert found[0] is Reason.UNKNOWN_SENSOR


def test_a_sensor_that_moved_is_judged_by_where_it_was_at_the_time() -> None:
    moved = [placement(EDGE, Zone.AIR, to_ms=NOW - HOUR_MS), placement(EDGE, from_ms=NOW - HOUR_MS + 1)]
    cold = -30_000
    assert screen(Record(EDGE, NOW - 2 * HOUR_MS, cold), moved, NOW) is None
    assert screen(Record(EDGE, NOW, cold), moved, NOW) is not None


def test_a_reading_from_after_a_placement_ended_is_still_known() -> None:
    ended = [placement(EDGE, to_ms=NOW - DAY_MS)]
    assert screen(Record(EDGE, NOW, 20_000), ended, NOW) is None


@pytest.mark.parametrize(
    ("taken_ms", "said"),
    [
        (946_684_800_000, "taken at 2000-01-01 00:00:00 UTC, more than 14 days ago"),
        (4_102_444_800_000, "taken at 2100-01-01 00:00:00 UTC, ahead of the site's clock"),  # computed
        (-1, "taken at -1 ms, more than 14 days ago"),
        (10**18, "taken at 1000000000000000000 ms, ahead of the site's clock"),
    ],
)
def test_a_refused_hour_is_said_as_people_read_it(taken_ms: Ms, said: str) -> None:
    found = screen(Record(EDGE, taken_ms, 20_000), CONCRETE, NOW)
    assert found is not None
    assert found[1].endswith(said)
