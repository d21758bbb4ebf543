from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import placed
from hypothesis import given
from hypothesis import strategies as st
from store_support import EDGE, INSIDE, T0, make_pour

from cure.first_reading import Found, Spoken, checks, hand_warmth, line, verdict
from shared.models.base import HOUR_MS, MINUTE_MS, LoggerId, Ms, SensorId
from shared.models.readings import Heard, Reading, Reason
from shared.models.setup import Zone

NOW: Ms = T0 + HOUR_MS
QUARTER = 15 * MINUTE_MS
HERE = placed(EDGE, Zone.EXPOSED_EDGE, position="grid C4", from_ms=T0 - HOUR_MS)


def said(*values_c: float, every_ms: int = QUARTER, late_ms: int = 2_000, until_ms: Ms = NOW) -> list[Reading]:
    """Return readings of the edge, the last one at an hour."""
    times = [until_ms - n * every_ms for n in reversed(range(len(values_c)))]
    return [Reading(EDGE, t, round(c * 1000), t + late_ms) for t, c in zip(times, values_c, strict=True)]


def spoken(**changes: Any) -> Spoken:
    battery = Heard(LoggerId("lg-01"), NOW, battery_percent=87.0)
    return replace(Spoken(EDGE, HERE, said(4.0, 5.0, 6.0), battery, air_milli_c=4_000), **changes)


def found(of: Spoken, now: Ms = NOW + 3 * MINUTE_MS) -> dict[str, Found]:
    return {check.name: check.found for check in checks(of, now) if check.found is not Found.OK}


def test_a_sensor_that_is_as_it_should_be_is_told_in_one_line() -> None:
    assert line(EDGE, checks(spoken(), NOW + 3 * MINUTE_MS)) == (
        "lg-01.1 OK: in bay 2-b1, exposed edge, 50 mm deep, grid C4; 6.0 degC 3 min ago; "
        "as the air of the bay, -1 to 9 degC; clock within 2 s; every 15 min; battery 87 %"
    )


CASES: list[tuple[dict[str, Any], dict[str, Found]]] = [
    ({"placement": None}, {"place": Found.NOT_OK}),
    ({"readings": []}, {"alive": Found.NOT_YET}),
    ({"readings": [], "refused": Reason.UNIT}, {"alive": Found.NOT_OK}),
    ({"readings": [], "refused": Reason.UNKNOWN_SENSOR}, {"alive": Found.NOT_YET}),
    ({"readings": said(5.0, 5.0, until_ms=NOW - HOUR_MS)}, {"alive": Found.NOT_OK}),
    ({"placement": replace(HERE, from_ms=NOW + 1)}, {"alive": Found.NOT_YET}),
    ({"readings": said(5.0)}, {"interval": Found.NOT_YET}),
    ({"readings": said(5.0, 5.0, every_ms=3 * QUARTER // 2)}, {"interval": Found.NOT_OK}),
    ({"readings": said(5.0, 5.0, every_ms=QUARTER // 3)}, {"interval": Found.NOT_OK}),
    ({"readings": said(5.0, 5.0, late_ms=2 * MINUTE_MS)}, {}),
    ({"readings": said(5.0, 5.0, late_ms=2 * MINUTE_MS + 1)}, {"clock": Found.NOT_OK}),
    ({"readings": said(5.0, 5.0, late_ms=-2 * MINUTE_MS - 1)}, {"clock": Found.NOT_OK}),
    ({"readings": said(5.0, 5.0, late_ms=QUARTER)}, {}),
    ({"refused": Reason.CLOCK_FUTURE}, {"clock": Found.NOT_OK}),
    ({"refused": Reason.RANGE}, {}),
    ({"heard": None}, {}),
    ({"heard": Heard(LoggerId("lg-01"), NOW, battery_percent=20.0)}, {"battery": Found.NOT_OK}),
    ({"heard": Heard(LoggerId("lg-01"), NOW, signal_db=-110.0)}, {"signal": Found.NOT_OK}),
    ({"heard": Heard(LoggerId("lg-01"), NOW, signal_db=-71.0)}, {}),
    ({"air_milli_c": 12_000}, {"plausible": Found.NOT_OK}),
    ({"air_milli_c": None}, {}),
    ({"air_milli_c": None, "readings": said(68.0, 68.0)}, {"plausible": Found.NOT_OK}),
    ({"pour": make_pour(), "readings": said(5.0, 5.0)}, {}),
    ({"pour": make_pour(), "readings": said(4.9, 4.9)}, {"plausible": Found.NOT_OK}),
    ({"pour": make_pour(), "readings": said(35.1, 35.1)}, {"plausible": Found.NOT_OK}),
    ({"pour": make_pour(end_ms=NOW - 13 * HOUR_MS), "readings": said(1.9, 1.9)}, {}),
    ({"pour": make_pour(end_ms=NOW - 13 * HOUR_MS), "readings": said(81.0, 81.0)}, {"plausible": Found.NOT_OK}),
    ({"pour": make_pour(end_ms=NOW - 11 * HOUR_MS), "readings": said(1.9, 1.9)}, {"plausible": Found.NOT_OK}),
    ({"pour": make_pour(start_ms=NOW + 1), "readings": said(3.0, 3.0)}, {}),
    ({"pour": make_pour(), "readings": said(-9.0, -9.0), "placement": replace(HERE, zone=Zone.AIR)}, {}),
]


@pytest.mark.row("O5", "L5", "L16", "L18")
@pytest.mark.parametrize(("changes", "wrong"), CASES)
def test_each_thing_that_can_be_wrong_is_found_and_nothing_else(
    changes: dict[str, Any], wrong: dict[str, Found]
) -> None:
    assert found(spoken(**changes)) == wrong


def test_a_buffer_that_is_sent_in_one_message_is_no_wrong_clock() -> None:
    buffered = [replace(r, received_ms=NOW + 2_000) for r in said(5.0, 5.0, 5.0, 5.0)]
    assert found(spoken(readings=buffered)) == {}


def test_the_worst_is_the_verdict_and_stands_first() -> None:
    several = checks(spoken(readings=said(5.0), heard=Heard(LoggerId("lg-01"), NOW, battery_percent=3.0)), NOW)
    assert verdict(several) is Found.NOT_OK
    assert line(EDGE, several).startswith("lg-01.1 NOT OK: battery 3 %: change it now")
    assert verdict(()) is Found.OK


BEGAN = NOW
WAIT = 20 * MINUTE_MS


def after(*values_c: float) -> list[Reading]:
    return [*said(5.0), *(Reading(EDGE, NOW + n * MINUTE_MS, round(c * 1000), NOW) for n, c in enumerate(values_c, 1))]


def hand(readings: list[Reading], now: Ms = BEGAN + MINUTE_MS, **others: list[Reading]) -> tuple[Found, str]:
    known = {EDGE: readings, **{SensorId(f"lg-0{name[-1]}.2"): rows for name, rows in others.items()}}
    warmth = hand_warmth(EDGE, known, BEGAN, now, WAIT)
    return warmth.found, warmth.text


def test_a_sensor_that_gets_two_degrees_warmer_in_the_hand_is_the_one() -> None:
    assert hand(after(6.0, 7.0)) == (Found.OK, "lg-01.1 felt it: 5.0 to 7.0 degC")
    assert hand(after(6.0, 6.9))[0] is Found.NOT_YET


def test_progress_is_shown_until_the_time_is_over() -> None:
    assert hand(after()) == (Found.NOT_YET, "hold it in your hand; 5.0 degC, no reading since; 19 min left")
    over = hand(after(5.5), BEGAN + WAIT)
    assert over == (Found.NOT_OK, "lg-01.1 felt nothing in 20 min: 5.0 to 5.5 degC")
    assert hand([], BEGAN + WAIT) == (Found.NOT_OK, "lg-01.1 felt nothing in 20 min: no reading")


@pytest.mark.row("L7", "L15")
def test_another_sensor_that_felt_the_hand_instead_is_named() -> None:
    other = [replace(r, sensor=INSIDE) for r in after(9.0)]
    assert hand(after(5.0), other_1=other) == (Found.NOT_OK, "lg-01.2 felt it, lg-01.1 did not: are they exchanged?")
    assert hand(after(8.0), other_1=other)[0] is Found.OK


def test_a_warm_sensor_is_cooled_instead() -> None:
    warm = [replace(r, milli_c=r.milli_c + 25_000) for r in after()]
    assert hand(warm)[1].startswith("it is warm: put it into snow or cold water")
    cooled = [*warm, Reading(EDGE, NOW + MINUTE_MS, 28_000, NOW)]
    assert hand(cooled)[0] is Found.OK
    warmed = [*warm, Reading(EDGE, NOW + MINUTE_MS, 34_000, NOW)]
    assert hand(warmed)[0] is Found.NOT_YET


@given(st.lists(st.integers(-40_000, 80_000), max_size=6), st.integers(0, 3 * WAIT))
def test_the_check_by_hand_always_ends(values: list[int], later_ms: int) -> None:
    readings = [Reading(EDGE, BEGAN + n * MINUTE_MS, c, BEGAN) for n, c in enumerate(values)]
    warmth = hand_warmth(EDGE, {EDGE: readings}, BEGAN, BEGAN + later_ms, WAIT)
    assert later_ms < WAIT or warmth.found is not Found.NOT_YET
