from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import placed
from store_support import AIR, BAY, EDGE, INSIDE, T0

from cure.loggers import RECENT_MS, Known, LoggerRow, Standing, ago, is_low, is_weak, rows
from shared.models.base import HOUR_MS, MINUTE_MS, LoggerId, SensorId
from shared.models.readings import Arrival, Heard, Stranger
from shared.models.setup import Zone

NOW = T0 + HOUR_MS


def arrival(sensor: SensorId, ago_ms: int) -> Arrival:
    return Arrival(sensor, 1, NOW - ago_ms - 2_000, NOW - ago_ms)


KNOWN = Known(
    placements=[placed(EDGE, Zone.EXPOSED_EDGE), placed(INSIDE, Zone.INTERIOR), placed(AIR, Zone.AIR)],
    arrivals={EDGE: arrival(EDGE, 60_000), INSIDE: arrival(INSIDE, 46 * MINUTE_MS)},
    newest={EDGE: 12_500, INSIDE: 13_000},
    heard={"lg-01": Heard(LoggerId("lg-01"), NOW, battery_percent=87.0, signal_db=-71.0)},
)


def by_name(known: Known) -> dict[str, LoggerRow]:
    return {row.name: row for row in rows(known, NOW)}


def test_each_placed_sensor_is_listed_with_its_standing_and_what_to_do() -> None:
    found = by_name(KNOWN)
    assert list(found) == [EDGE, INSIDE, AIR]
    assert {name: (row.standing, row.to_do) for name, row in found.items()} == {
        EDGE: (Standing.ALIVE, "nothing"),
        INSIDE: (Standing.SILENT, "go and look, nothing for 46 min: battery, cable, radio"),
        AIR: (Standing.NEVER_HEARD, "switch it on and look at its radio, broker address and topic"),
    }
    edge = found[EDGE]
    assert (edge.heard_ms, edge.milli_c, edge.battery_percent, edge.signal_db) == (NOW - 60_000, 12_500, 87.0, -71.0)


@pytest.mark.row("C1", "C7")
@pytest.mark.parametrize(("behind_ms", "told"), [(30 * MINUTE_MS, False), (31 * MINUTE_MS, True), (6 * HOUR_MS, True)])
def test_a_logger_whose_clock_is_behind_or_was_put_back_is_told_by_the_age_of_what_comes(
    behind_ms: int, told: bool
) -> None:
    late = Arrival(EDGE, 9, NOW - 5_000 - behind_ms, NOW - 5_000)
    row = by_name(replace(KNOWN, arrivals={EDGE: late}))[EDGE]
    words = f"its newest reading was {ago(behind_ms)} old when it came: look at its clock, and at its radio"
    assert row.to_do == (words if told else "nothing")


@pytest.mark.row("N9")
def test_an_unknown_logger_is_heard_and_not_placed_and_the_list_says_how_to_place_it() -> None:
    unknown = Stranger("lg-77.1", NOW - 5_000, 9_500)
    row = by_name(replace(KNOWN, strangers=[Stranger("lg-77.1", NOW - 9_000), unknown]))["lg-77.1"]
    assert (row.standing, row.placement, row.heard_ms, row.milli_c) == (Standing.NOT_PLACED, None, NOW - 5_000, 9_500)
    assert row.to_do == "place it, nothing of it counts: slabhour logger place lg-77.1 BAY ZONE --who YOU"


def test_an_unknown_logger_is_told_once_by_its_sensors_else_by_its_name() -> None:
    both = [Stranger("lg-77.1", NOW), Stranger("lg-77", NOW), Stranger("lg-78", NOW, battery_percent=4.0)]
    found = by_name(replace(KNOWN, strangers=both))
    assert list(found)[3:] == ["lg-77.1", "lg-78"]
    assert found["lg-78"].to_do.endswith("slabhour logger place lg-78.CHANNEL BAY ZONE --who YOU")


def test_one_that_was_placed_since_is_no_stranger_any_more() -> None:
    assert list(by_name(replace(KNOWN, strangers=[Stranger(EDGE, NOW), Stranger("lg-01", NOW)]))) == [EDGE, INSIDE, AIR]


@pytest.mark.parametrize(("quiet_ms", "listed"), [(RECENT_MS, True), (RECENT_MS + 1, False)])
def test_one_that_was_taken_out_and_still_sends_is_listed_for_a_day(quiet_ms: int, listed: bool) -> None:
    gone = replace(KNOWN, placements=[placed(EDGE, Zone.TOP, to_ms=T0)], arrivals={EDGE: arrival(EDGE, quiet_ms)})
    found = by_name(gone)
    assert (EDGE in found) is listed
    if listed:
        assert found[EDGE].standing is Standing.NOT_PLACED
        assert found[EDGE].to_do == f"it lay in {BAY} and still sends: place it, or switch it off"


def test_refusals_and_an_empty_battery_are_something_to_do() -> None:
    low = {"lg-01": replace(KNOWN.heard["lg-01"], battery_percent=20.0)}
    found = by_name(replace(KNOWN, heard=low, refused=["lg-01.1", "lg-09"]))
    assert found[EDGE].to_do == (
        "look why its messages are refused: `slabhour refused list`; change the battery of lg-01"
    )
    assert found[AIR].to_do == "look why its messages are refused: `slabhour refused list`"


def test_a_battery_is_low_from_a_fifth_on_and_unknown_is_not() -> None:
    assert [is_low(p) for p in (None, 20.1, 20.0, 0.0, float("nan"))] == [False, False, True, True, True]


def test_a_weak_signal_is_something_to_do_and_an_unknown_one_is_none() -> None:
    for level, told in (
        (-109.9, "nothing"),
        (-110.0, "the signal of lg-01 is weak: move the gateway nearer, or the antenna out"),
    ):
        weak = {"lg-01": replace(KNOWN.heard["lg-01"], signal_db=level)}
        assert by_name(replace(KNOWN, heard=weak))[EDGE].to_do == told
    assert [is_weak(level) for level in (None, -40.0, -137.0, float("nan"))] == [False, False, True, True]


def test_spans_are_said_as_people_say_them() -> None:
    said = [ago(ms) for ms in (-5, 999, 119_999, 120_000, 2 * HOUR_MS - 1, 2 * HOUR_MS, 48 * HOUR_MS)]
    assert said == ["0 s", "0 s", "119 s", "2 min", "119 min", "2 h", "2 d"]
