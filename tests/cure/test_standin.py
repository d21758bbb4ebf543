"""A dead sensor does not stop a floor; what stands in for it never says more than the sensor could have."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, Story, judged, make_case, placed, recorded, series
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, EDGE, END, INSIDE

from cure.accumulate import Air
from cure.standin import COLDER_MILLI_C, colder_by, silences, stand_in
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.decisions import GateState, HoldKind, Placement
from shared.models.messages import MessageKind
from shared.models.readings import Series
from shared.models.setup import Zone

INTERVAL_MS = 15 * MINUTE_MS
TWIN, THIRD = SensorId("lg-01.7"), SensorId("lg-01.8")
NOTHING = Series(np.empty(0, np.int64), np.empty(0, np.int64))


def stood(readings: Mapping[SensorId, Series], hours: float, air: Air | None = None, **placements: Placement) -> Series:
    """Return what stands in for the sensor at the edge."""
    everybody = [placed(EDGE, Zone.EXPOSED_EDGE), *placements.values()]
    believed = {p.sensor: readings.get(p.sensor, NOTHING) for p in everybody}
    return stand_in(everybody[0], believed, everybody, air, END_MS + round(hours * HOUR_MS)).series


def beside(sensor: SensorId = TWIN, zone: Zone = Zone.EXPOSED_EDGE) -> Placement:
    return placed(sensor, zone, required=False)


def swinging(celsius: float) -> Series:
    return recorded(lambda h: celsius + float(np.sin(h)), 24)


def values(found: Series) -> set[float]:
    return {c / 1000 for c in found.milli_c.tolist()}


def test_a_sensor_that_speaks_needs_nobody() -> None:
    readings = {EDGE: recorded(18.0, 24, but=(10, 10.75)), TWIN: recorded(18.0, 24)}
    assert len(stood(readings, 24, twin=beside())) == 0


def test_another_of_its_zone_carries_on_lowered_by_the_most_that_it_was_colder_and_half_a_degree() -> None:
    dead = recorded(lambda h: 15.0 if h == 7.0 else 17.0, 12)
    found = stood({EDGE: dead, TWIN: recorded(18.0, 24)}, 24, twin=beside())
    assert values(found) == {18.0 - 3.0 - COLDER_MILLI_C / 1000}
    assert found.taken_ms[0] == END_MS + round(12.25 * HOUR_MS)
    assert found.taken_ms[-1] == END_MS + 24 * HOUR_MS


def test_one_that_was_always_warmer_is_no_reason_to_say_more_than_the_other_does() -> None:
    found = stood({EDGE: recorded(20.0, 12), TWIN: recorded(18.0, 24)}, 24, twin=beside())
    assert values(found) == {17.5}


@pytest.mark.parametrize(
    ("twin", "shared_h", "expected"),
    [
        (beside(), 6.0, True),
        (beside(), 5.75, False),
        (beside(zone=Zone.INTERIOR), 12.0, False),
    ],
)
def test_it_is_of_the_same_zone_and_has_shared_six_hours(twin: Placement, shared_h: float, expected: bool) -> None:
    readings = {EDGE: recorded(18.0, shared_h), TWIN: recorded(18.0, 24)}
    assert (len(stood(readings, 24, twin=twin)) > 0) is expected


def test_of_several_each_is_lowered_by_its_own_and_of_one_hour_the_colder_counts() -> None:
    readings = {EDGE: recorded(18.0, 12), TWIN: recorded(19.0, 24), THIRD: recorded(18.0, 24)}
    assert values(stood(readings, 24, twin=beside(), third=beside(THIRD))) == {17.5}
    readings |= {THIRD: recorded(lambda h: 18.0 if h <= 12 else 12.0, 24)}
    assert values(stood(readings, 24, twin=beside(), third=beside(THIRD))) == {11.5}


def test_where_the_other_is_silent_too_the_air_stands_in_from_there_on() -> None:
    air = Air(recorded(10.0, 24), ())
    found = stood({EDGE: recorded(18.0, 12), TWIN: recorded(18.0, 15)}, 24, air, twin=beside())
    assert values(found) == {17.5, 6.0}
    assert values(Series(*(a[found.taken_ms > END_MS + 15 * HOUR_MS] for a in (found.taken_ms, found.milli_c)))) == {
        6.0
    }


@pytest.mark.parametrize(
    ("covers", "expected"),
    [((), {6.0}), (((0, 2**62),), {8.0}), (((0, END_MS + 18 * HOUR_MS),), {6.0, 8.0})],
)
def test_the_air_less_four_degrees_or_two_under_a_cover(
    covers: tuple[tuple[Ms, Ms], ...], expected: set[float]
) -> None:
    assert values(stood({EDGE: recorded(18.0, 12)}, 24, Air(recorded(10.0, 24), covers))) == expected


def test_the_air_never_says_more_than_the_last_reading() -> None:
    assert values(stood({EDGE: recorded(18.0, 12)}, 24, Air(recorded(30.0, 24), ()))) == {18.0}


def test_nor_more_than_the_first_one_after_a_silence_that_is_over() -> None:
    dead = recorded(lambda h: 18.0 if h <= 12 else 9.0, 24, but=(12, 20))
    assert values(stood({EDGE: dead}, 24, Air(recorded(30.0, 24), ()))) == {9.0}


def test_nothing_stands_in_once_it_may_freeze() -> None:
    air = Air(recorded(lambda h: 10.0 if h < 16 else 5.0 if h < 17 else 10.0, 24), ())
    found = stood({EDGE: recorded(18.0, 12)}, 24, air)
    assert found.taken_ms[-1] == END_MS + round(15.75 * HOUR_MS)


def test_a_sensor_that_never_spoke_has_nobody_in_its_place() -> None:
    assert len(stood({TWIN: recorded(18.0, 24)}, 24, Air(recorded(10.0, 24), ()), twin=beside())) == 0


@given(st.lists(st.tuples(st.integers(0, 200), st.floats(-5, 40)), min_size=30, max_size=80, unique_by=lambda x: x[0]))
def test_what_stands_in_is_never_above_what_the_other_says_less_half_a_degree(rows: list[tuple[int, float]]) -> None:
    rows.sort()
    dead = series([END_MS + n * QUARTER_MS for n, _ in rows], [c for _, c in rows])
    twin = recorded(lambda h: 20.0 + 3.0 * np.sin(h), 60)
    found = stood({EDGE: dead, TWIN: twin}, 60, twin=beside())
    said = dict(zip(twin.taken_ms.tolist(), twin.milli_c.tolist(), strict=True))
    assert all(
        c <= said[t] - COLDER_MILLI_C for t, c in zip(found.taken_ms.tolist(), found.milli_c.tolist(), strict=True)
    )
    assert not set(found.taken_ms.tolist()) & set(dead.taken_ms.tolist())


def test_silences_are_the_holes_of_more_than_three_intervals_and_the_one_that_lasts() -> None:
    record = recorded(18.0, 10, but=(2, 3))
    assert [(h.from_ms, h.to_ms) for h in silences(record, 3 * INTERVAL_MS, END_MS + 12 * HOUR_MS)] == [
        (END_MS + 2 * HOUR_MS, END_MS + 3 * HOUR_MS),
        (END_MS + 10 * HOUR_MS, END_MS + 12 * HOUR_MS + 1),
    ]


def test_two_records_that_never_meet_share_nothing() -> None:
    assert colder_by(recorded(18.0, 8), recorded(18.0, 24, from_h=9.0), INTERVAL_MS) is None


PLACED = (*make_case().placements, beside())
CONCRETE_C: Mapping[SensorId, float] = {EDGE: 17.0, INSIDE: 19.0, END: 18.0, TWIN: 18.0, AIR: 12.0}


def told(silent_from_h: float, hours: float, **changes: Callable[[float], float]) -> Story:
    """Tell of a pour whose sensor at the edge falls silent."""
    story = Story(make_case(placements=PLACED))
    story.profile = {s: (lambda _, c=c: c) for s, c in CONCRETE_C.items()}  # type: ignore[misc]  # bound by default
    story.profile |= {SensorId(s.replace("_", ".").replace("lg.", "lg-")): of for s, of in changes.items()}
    story.run(silent_from_h)
    story.silent = {EDGE}
    return story.run(hours)


def test_a_bay_is_met_with_a_dead_sensor_the_evidence_names_who_stands_in() -> None:
    story = told(12, 26)
    assert story.state() is GateState.MET
    strip = next(v for v in story.case.state.verdicts if v.operation == "strip")
    assert f"{EDGE} is silent, in its place: {TWIN}" in [f.found for f in strip.findings]
    (wanted,) = (m for m in story.messages if m.kind is MessageKind.SIGN_OFF_WANTED and m.subject == "strip")
    assert any(TWIN in line for line in wanted.facts["findings"])
    story.press("sign", operations=["strip"])
    (body,) = story.results[-1].snapshots.values()
    assert body["in_place_of"] == {EDGE: [TWIN]}


def test_it_is_later_than_with_the_sensor_alive() -> None:
    dead, alive = told(12, 26), Story(make_case(placements=PLACED))
    alive.profile = {s: (lambda _, c=c: c) for s, c in CONCRETE_C.items()}  # type: ignore[misc]  # bound by default
    alive.run(26)
    bounds = [s.case.state.estimate.lower_bound_mpa for s in (dead, alive) if s.case.state.estimate is not None]
    assert bounds[0] is not None
    assert bounds[1] is not None
    assert bounds[0] < bounds[1]


def test_a_doubted_sensor_has_nobody_in_its_place() -> None:
    """Stuck for hours while the air moved: then it falls silent."""
    readings = {s: swinging(c) for s, c in CONCRETE_C.items()}
    readings[AIR] = recorded(lambda h: 12.0 + 4.0 * np.sin(h / 4), 24)
    readings[EDGE] = recorded(lambda h: 17.0 + (0.1 if h == 1.0 else 0.0), 20)
    found = judged(readings, 24, make_case(placements=PLACED))
    assert [(d.sensor, d.cause) for d in found.doubts] == [(EDGE, "stuck")]
    assert not found.fresh()
    assert f"silent: {EDGE}" in found.alive()


def test_where_what_stands_in_is_near_freezing_it_is_suspected() -> None:
    story = told(7, 16, lg_01_7=lambda h: 18.0 if h <= 8 else 2.0)
    assert HoldKind.FREEZE_SUSPECTED in {h.kind for h in story.case.holds}
    assert any("silent, and in its place" in h.reason for h in story.case.holds)


def test_a_sensor_that_comes_back_has_its_own_word_again() -> None:
    readings = {s: recorded(c, 24) for s, c in CONCRETE_C.items()}
    readings[EDGE] = recorded(17.0, 24, but=(12, 23))
    found = judged(readings, 24, make_case(placements=PLACED))
    assert found.alive() == "yes"
    assert found.fresh()
    track = next(s for s in found.sensors if s.placement.sensor == EDGE).track
    assert track is not None
    assert np.count_nonzero(track.temperature_c < 16.9) == len(range(round(12.25 * 4), 23 * 4))
