from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from cure_support import CONCRETE, END_MS, make_case, recorded
from store_support import AIR, BAY, EDGE, POUR, make_pour

from cure.condition_seen import AIR_LOOK_MS, Bared, Given, Observed, air_from_ms, bared, observed
from shared.models.acts import Act, act_from
from shared.models.base import DAY_MS, HOUR_MS, Ms
from shared.models.decisions import Placement
from shared.models.setup import Zone


def did(kind: str, hours: float, pour: str = POUR, **fields: object) -> Act:
    at = datetime.fromtimestamp((END_MS + hours * HOUR_MS) / 1000, UTC)
    return act_from({"kind": kind, "at": at, "who": "super", "pour": pour, **fields})


def at_h(hours: float) -> Ms:
    return END_MS + round(hours * HOUR_MS)


def steady(hours: float, **changes: Any) -> Observed:
    case = make_case(**changes)
    readings = {sensor: recorded(18.0, hours, from_h=-1) for sensor in CONCRETE}
    return observed(case, readings, [], at_h(hours), elapsed_ms=round(hours * HOUR_MS))


def test_forms_are_coming_off_from_the_first_word_of_it_and_for_a_day_after_the_last() -> None:
    acts = [
        did("under_way", 25, operation="strip"),
        did("done", 28, operation="strip"),
        did("done", 29, operation="walk"),
        did("done", 3, pour="2-b2-p1", operation="strip"),
    ]
    assert bared(make_pour(), acts) == (Bared("strip", at_h(25), at_h(28) + DAY_MS),)


def test_each_cover_that_came_off_is_looked_at_by_itself() -> None:
    acts = [did("cover", 2, on=True), did("cover", 12, on=False), did("done", 40, operation="uncover")]
    assert bared(make_pour(), acts) == (
        Bared("uncovering", at_h(12), at_h(12) + DAY_MS),
        Bared("uncovering", at_h(40), at_h(40) + DAY_MS),
    )
    assert bared(make_pour(), [did("forms_off", 9)])[0].from_ms == at_h(9)
    assert bared(make_pour(), [did("cover", 2, on=True)]) == ()


def test_a_silence_of_more_than_three_intervals_is_named_with_its_length() -> None:
    o = steady(10)
    assert o.unread(o.tracks, at_h(-1), at_h(10.75)) == ""
    said = o.unread(o.tracks, at_h(-1), at_h(11))
    assert said == ", ".join(f"{s} said nothing for 1.0 h" for s in CONCRETE)
    assert o.unread(o.tracks, at_h(-3), at_h(10)).count("said nothing for 2.0 h") == 3


def test_readings_are_as_they_were_read_and_cold_ones_lowered_where_no_sensor_is_at_the_edge() -> None:
    inside = tuple(replace(p, zone=Zone.INTERIOR) for p in make_case().placements if p.sensor != AIR)
    o = steady(10, placements=inside)
    assert {int(s.raw.milli_c.max()) for s in o.tracks} == {18_000}
    assert {int(s.raw.milli_c.max()) for s in o.cold} == {16_500}


def test_a_sensor_that_was_exchanged_is_read_while_it_was_there() -> None:
    gone = Placement(EDGE, BAY, Zone.EXPOSED_EDGE, 50, 900, required=True, to_ms=at_h(4))
    others = tuple(p for p in make_case().placements if p.sensor != EDGE)
    o = steady(10, placements=(gone, *others))
    assert [int(s.raw.taken_ms[-1]) for s in o.counted if s.placement.sensor == EDGE] == [at_h(4)]
    assert EDGE not in {s.placement.sensor for s in o.present}
    assert o.unread(o.tracks, at_h(-1), at_h(10)) == ""
    assert len(o.cold) == len(o.tracks) == 3


def test_a_closed_pour_is_told_as_it_was_when_it_was_closed() -> None:
    o = steady(30, pour=make_pour(end_ms=END_MS, calibration_version=1))
    closed = steady(30, pour=replace(o.case.pour, closed_ms=at_h(20)))
    assert (closed.now_ms, closed.evidence.watermark_ms) == (at_h(20), at_h(20))


def test_air_is_read_from_some_days_before_a_young_pour() -> None:
    pour = make_pour(end_ms=END_MS)
    assert air_from_ms(pour, at_h(1)) == at_h(1) - AIR_LOOK_MS
    assert air_from_ms(pour, at_h(24 * 30)) == pour.start_ms
    assert Given() == Given(None, None, None, None)
