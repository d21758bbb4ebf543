from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pytest
from cure_support import CONCRETE, END_MS, Profile, make_case, recorded
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, EDGE, END, INSIDE, POUR, make_pour

from cure.condition_seen import Bared, Observed, observed
from cure.condition_table import Kept, Row, freezing, held, temperatures
from cure.limits import LIMITS, Weight
from cure.watch import LOCK_TOP_MILLI_C
from shared.models.base import DAY_MS, HOUR_MS, SensorId
from shared.models.decisions import MixTest
from shared.models.readings import Series
from shared.models.setup import Zone


def seen(profiles: Mapping[SensorId, Profile | float], hours: float, **changes: Any) -> Observed:
    """Return a pour whose sensors were read each quarter from the first concrete on."""
    readings = {sensor: recorded(profile, hours, from_h=-1) for sensor, profile in profiles.items()}
    return looked(readings, hours, **changes)


def looked(readings: Mapping[SensorId, Series], hours: float, **changes: Any) -> Observed:
    elapsed = None if changes.get("pour") == make_pour() else round(hours * HOUR_MS)
    return observed(make_case(**changes), readings, [], END_MS + round(hours * HOUR_MS), elapsed_ms=elapsed)


def row(rows: Sequence[Row], begins: str) -> Row:
    (found,) = [r for r in rows if r.quantity.startswith(begins)]
    return found


def heat(o: Observed, begins: str) -> Row:
    return row(list(temperatures(o)), begins)


def frost(o: Observed, begins: str) -> Row:
    return row(list(freezing(o)), begins)


def all_at(profile: Profile | float) -> dict[SensorId, Profile | float]:
    return dict.fromkeys(CONCRETE, profile)


def thick(mm: int) -> Any:
    return make_case().bay.model_copy(update={"thickness_mm": mm})


def topped() -> tuple[Any, ...]:
    """Return the bay's sensors with the last one at the top."""
    return tuple(replace(p, zone=Zone.TOP) if p.sensor == END else p for p in make_case().placements)


@given(st.floats(-30, 90), st.sampled_from(sorted(LIMITS)), st.sampled_from(["", "a hole"]))
def test_a_row_is_kept_only_where_its_limit_is_and_nothing_may_hide_a_worse_value(
    found: float, name: str, why: str
) -> None:
    limit = LIMITS[name]
    told = held("x", found, limit, "SI", why=why)
    assert (told.kept is Kept.KEPT) == (limit.kept(found) and not why)
    assert (told.kept is Kept.NOT_KEPT) == (not limit.kept(found))
    assert (told.value is None) == (told.kept is Kept.NOT_KNOWN)


@pytest.mark.row("E3")
def test_what_is_not_known_says_so_and_why_and_gives_no_number() -> None:
    told = held("x", math.nan, LIMITS["hottest"], "SI", why="no readings yet")
    assert (told.kept, told.found, told.value) == (Kept.NOT_KNOWN, "not known: no readings yet", None)
    # Also by a clock that stands before the pour.
    for hours in (20, -2):
        empty = looked({}, hours, pour=make_pour())
        rows = [*freezing(empty), *temperatures(empty)]
        assert {r.kept for r in rows} == {Kept.NOT_KNOWN}
        assert [r.quantity for r in rows if not r.found.startswith("not known: ")] == []
        assert {r.value for r in rows} == {None}


def test_a_value_just_beyond_its_limit_is_not_shown_as_the_limit() -> None:
    told = held("x", 70.001, LIMITS["hottest"], "SI")
    assert (told.found, told.limit, told.kept) == (
        "70.1 °C (158.1 °F)", "at most 70.0 °C (158.0 °F)", Kept.NOT_KEPT,
    )  # fmt: skip
    assert held("x", 12.999, LIMITS["kept in the cold, below 300 mm"], "US").found == "55.3 °F (12.9 °C)"


def test_every_row_says_whom_it_binds_and_where_it_stands() -> None:
    o = seen(all_at(18.0), 30)
    for told in (*freezing(o), *temperatures(o)):
        assert (told.weight is not None and len(told.source) > 10) or told.kept is Kept.NO_LIMIT
    assert heat(o, "surface to air").weight is Weight.RULE
    assert heat(o, "between sensors").weight is Weight.ADVICE


def test_the_strength_that_stands_one_freezing_is_not_there_yet_and_then_it_is() -> None:
    young, grown = seen(all_at(18.0), 6), seen(all_at(18.0), 72)
    assert frost(young, "strength before freezing: ").kept is Kept.NOT_YET
    assert {r.kept for r in freezing(grown) if r.quantity.startswith("strength")} == {Kept.KEPT}
    assert frost(looked({}, 6), "strength before freezing: ").found == "not known: a required sensor has no credit yet"
    none = replace(make_case(), calibration=None)
    bare = observed(none, {}, [], END_MS, elapsed_ms=0)
    assert "no calibration of mix c32-f" in frost(bare, "strength before freezing: ").found


def test_the_strength_is_that_of_the_calibration_as_later_cylinders_leave_it() -> None:
    low = tuple(MixTest(POUR, END_MS + 40 * HOUR_MS, 40.0, mpa) for mpa in (3.0, 3.1))
    o = seen(all_at(18.0), 72, mix_tests=low)
    assert "no calibration of mix c32-f is in force" in frost(o, "strength before freezing: ").found


@pytest.mark.parametrize(("c", "kept"), [(LOCK_TOP_MILLI_C / 1000, Kept.NOT_KEPT), (1.001, Kept.KEPT)])
def test_a_top_sensor_at_the_hold_is_not_kept(c: float, kept: Kept) -> None:
    o = seen(all_at(8.0) | {END: c}, 5, placements=topped())
    told = frost(o, "coldest reading, top sensor")
    assert (told.kept, told.limit) == (kept, "above 1.0 °C (33.8 °F)")
    assert not [r for r in freezing(o) if "no top sensor" in r.quantity]


def test_cold_after_the_strength_is_there_is_no_early_freezing() -> None:
    o = seen(all_at(lambda h: 20.0 if h < 70 else -3.0), 80)
    assert frost(o, "coldest reading, any sensor").kept is Kept.KEPT
    assert heat(o, "coldest since").value == -3.0


@pytest.mark.row("E3")
def test_a_hole_may_hide_frost_and_heat_and_cannot_excuse_what_was_read() -> None:
    holed = dict.fromkeys(CONCRETE, recorded(lambda h: 71.0 if h == 9 else 8.0, 10, from_h=-1, but=(2, 5)))
    o = looked(holed, 10)
    told = frost(o, "coldest reading, any sensor")
    assert told.kept is Kept.NOT_KNOWN
    assert told.found.startswith("8.0 °C (46.4 °F) (lg-01.1) or less, not known: lg-01.1 said nothing for 3.0 h")
    assert told.value is None
    assert heat(o, "hottest").kept is Kept.NOT_KEPT
    cool = dict.fromkeys(CONCRETE, recorded(8.0, 10, from_h=-1, but=(2, 5)))
    assert heat(looked(cool, 10), "hottest").kept is Kept.NOT_KNOWN


@pytest.mark.parametrize(("mm", "kept", "weight"), [(100, "kept", "rule"), (300, "not kept", "advice")])
def test_the_drop_in_24_h_is_held_against_the_limit_of_the_thickness(mm: int, kept: str, weight: str) -> None:
    # ACI 306.1, thin members (read in a summary): 28 degC; ACI 306R, 300 mm and more (from memory): 22 degC.
    o = seen(all_at(lambda h: 20.0 if h < 6 else 40.0 if h < 20 else 15.0), 30, bay=thick(mm))
    told = heat(o, "drop in the last 24 h")
    assert (told.value, told.kept, told.weight) == (25.0, kept, weight)


def test_the_drop_after_forms_came_off_counts_from_the_reading_before_and_for_a_day() -> None:
    o = seen(all_at(lambda h: 20.0 if h < 6 else 45.0 if h < 26.5 else 16.0 if h < 51 else 5.0), 60)
    at = END_MS + round(26.25 * HOUR_MS)
    told = heat(replace(o, bared=(Bared("strip", at, at + DAY_MS),)), "drop in 24 h after strip, Tue 25 Nov 15:15")
    assert (told.value, told.kept) == (29.0, Kept.NOT_KEPT)
    late = END_MS + 30 * HOUR_MS
    later = heat(replace(o, bared=(Bared("uncovering", late, late + DAY_MS),)), "drop in 24 h after uncovering")
    assert (later.value, later.kept) == (11.0, Kept.KEPT)
    assert "neither strip nor uncovering is entered" in heat(o, "drop in 24 h after strip or uncovering").found
    now = replace(o, bared=(Bared("strip", o.now_ms + 1, o.now_ms + DAY_MS),))
    assert "no readings since" in heat(now, "drop in 24 h after strip").found


def test_sensors_surface_and_air_are_apart_by_what_was_read_last() -> None:
    o = seen({EDGE: 10.0, INSIDE: 30.5, END: 12.0, AIR: 2.0}, 5, placements=topped())
    assert (heat(o, "between sensors").value, heat(o, "between sensors").kept) == (20.5, Kept.NOT_KEPT)
    # ACI 301-20, 35 degF (read in ACI FAQ 889): the interior against the top.
    assert heat(o, "centre to surface").value == 18.5
    assert (heat(o, "surface to air").value, heat(o, "surface to air").kept) == (10.0, Kept.KEPT)
    without = seen({EDGE: 10.0}, 5)
    assert "fewer than two sensors" in heat(without, "between sensors").found
    assert "not every sensor at the surface, or no air" in heat(without, "surface to air").found
    assert "one at the top" in heat(without, "centre to surface").found


@pytest.mark.parametrize(("c", "kept"), [(13.0, Kept.KEPT), (12.9, Kept.NOT_KEPT)])
def test_thin_concrete_is_kept_at_thirteen_degrees_for_three_days(c: float, kept: Kept) -> None:
    # ACI 306.1-90 (read in a summary): 55 degF for 3 d.
    o = seen(all_at(lambda h: c if h <= 72 else 4.0), 100)
    told = heat(o, "coldest in the first 3 days")
    assert (told.value, told.kept) == (c, kept)
    assert "in 72.0 h" in told.found


@pytest.mark.row("E3")
def test_a_sensor_that_never_spoke_leaves_heat_drop_difference_and_surface_not_known() -> None:
    o = seen({EDGE: 18.0, INSIDE: 17.0, AIR: 12.0}, 30, placements=topped())
    for begins in ("hottest", "drop in the last 24 h", "between sensors", "coldest since", "surface to air", "centre"):
        assert heat(o, begins).kept is Kept.NOT_KNOWN, begins
    assert "lg-02.1 said nothing for 31.0 h" in heat(o, "hottest").found
    day = Bared("strip", END_MS + 25 * HOUR_MS, END_MS + 49 * HOUR_MS)
    after = heat(replace(o, bared=(day,)), "drop in 24 h after strip")
    assert "lg-02.1 said nothing for 5.0 h" in after.found


def test_a_sensor_that_is_not_believed_is_no_heat_and_may_be_frost() -> None:
    # Stuck: not one last digit moves while the others cool.
    o = seen({EDGE: lambda h: 20.0 - 0.3 * h, INSIDE: lambda h: 20.0 - 0.3 * h, END: 71.0}, 12)
    assert END in o.evidence.not_counted
    assert heat(o, "hottest").kept is Kept.KEPT
    assert END in {s.placement.sensor for s in o.cold}
