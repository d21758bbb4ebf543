from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from cure_support import END_MS, Story, make_case, placed, recorded, series, site_of_all, warm
from hypothesis import given
from hypothesis import strategies as st
from store_support import AIR, EDGE, T0

from cure.accumulate import Air, Carried, Law, Track, advance
from cure.by_hand import LATE_MS, LONGEST_APART_MS, measured
from cure.standin import StandIn, merged, stand_in
from shared.errors import ActRefusedError
from shared.models.acts import HandReading, instant
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.decisions import ByHand, HoldKind
from shared.models.readings import Series
from shared.models.setup import Zone

TWIN = SensorId("lg-01.7")
DIED_H = 12.0
INTERVAL_MS = 15 * MINUTE_MS
HERE = placed(EDGE, Zone.EXPOSED_EDGE)


def ms(hours: float) -> Ms:
    return END_MS + round(hours * HOUR_MS)


def by(hours: float, c: float, **changes: Any) -> ByHand:
    whole: dict[str, Any] = {"zone": Zone.EXPOSED_EDGE, "under_insulation": True, "by": "qc", **changes}
    return ByHand(ms(hours), round(c * 1000), "grid C4", **whole)


def stood(*typed: ByHand, own: Series | None = None, air: Air | None = None, twin: Series | None = None) -> StandIn:
    """Return what stands in for the sensor at the edge, dead since 12 h at 15 degC unless told otherwise, at 24 h."""
    everybody = [HERE, placed(TWIN, Zone.EXPOSED_EDGE, required=False)]
    believed = {EDGE: recorded(15.0, DIED_H) if own is None else own, TWIN: series([], []) if twin is None else twin}
    return stand_in(HERE, believed, everybody, air, ms(24), typed)


def at(found: Series, hours: float) -> float | None:
    """Return what stands in nearest to an hour, within an interval; None: nothing."""
    near = np.abs(found.taken_ms - ms(hours)) <= INTERVAL_MS
    return None if not np.any(near) else float(found.milli_c[near].min()) / 1000


def test_between_two_readings_by_hand_the_lower_counts_for_the_whole_of_it() -> None:
    found = stood(by(15, 9.0), by(18, 11.0), by(21, 10.0))
    assert [at(found.series, h) for h in (13, 14.9, 16, 17, 20, 20.9, 21.5)] == [9.0, 9.0, 9.0, 9.0, 10.0, 10.0, None]
    assert found.by == ("by hand, hand probe, qc",)


def test_it_never_says_more_than_the_last_reading_of_the_sensor_nor_than_its_first_after_the_silence() -> None:
    assert at(stood(by(15, 45.0), by(18, 45.0)).series, 17) == 15.0
    back = recorded(lambda h: 15.0 if h <= DIED_H else 8.0, 24, but=(12, 20))
    assert at(stood(by(15, 12.0), by(18, 12.0), own=back).series, 16) == 8.0


@pytest.mark.parametrize(("hours", "covered"), [(16.0, True), (16.001, False)])
def test_readings_further_apart_than_four_hours_answer_for_nothing_between(hours: float, covered: bool) -> None:
    assert (at(stood(by(hours, 9.0)).series, 14) is not None) is covered
    assert (at(stood(by(15, 9.0), by(15 + hours - DIED_H, 9.0)).series, 17) is not None) is covered
    assert LONGEST_APART_MS == 4 * HOUR_MS


@pytest.mark.parametrize(
    "changes", [{"zone": None}, {"zone": Zone.INTERIOR}, {"zone": Zone.TOP}, {"under_insulation": False}]
)
def test_it_stands_in_only_under_insulation_and_in_its_zone(changes: dict[str, object]) -> None:
    found = stood(by(15, 9.0, **changes), by(18, 9.0, **changes))
    assert (len(found.series), found.by) == (0, ())


def test_a_sensor_that_speaks_needs_no_hand_and_one_that_never_spoke_gets_none() -> None:
    assert len(stood(by(15, 9.0), by(18, 9.0), own=recorded(15.0, 24)).series) == 0
    assert len(stood(by(15, 9.0), by(18, 9.0), own=series([], [])).series) == 0


def test_what_else_stands_in_is_lowered_by_hand_and_never_raised() -> None:
    twin = recorded(15.0, 24)
    plain = stood(twin=twin)
    assert set(plain.series.milli_c.tolist()) == {14_500}
    warmer = stood(by(15, 15.0), by(18, 15.0), twin=twin)
    assert np.array_equal(warmer.series.milli_c, plain.series.milli_c)
    assert (warmer.by, plain.by) == ((TWIN,), (TWIN,))
    colder = stood(by(15, 9.0), by(18, 9.0), twin=twin)
    assert [at(colder.series, h) for h in (14, 17, 20)] == [9.0, 9.0, 14.5]


def test_where_the_air_says_that_it_may_freeze_a_hand_says_what_it_is() -> None:
    frost = Air(recorded(lambda h: 12.0 if h < 15 else -5.0, 24))
    assert at(stood(air=frost).series, 17) is None
    found = stood(by(15, 9.0), by(18, 10.0), air=frost)
    assert [at(found.series, h) for h in (13, 17)] == [8.0, 9.0]
    assert found.by == ("air", "by hand, hand probe, qc")


def summed(whole: Series) -> Track:
    carried = Carried(int(whole.taken_ms[0]), float(whole.milli_c[0]) / 1000)
    rest = Series(whole.taken_ms[1:], whole.milli_c[1:])
    return advance(carried, rest, law=Law(), interval_ms=INTERVAL_MS)


QUARTERS = st.lists(st.integers(-5_000, 40_000), min_size=97, max_size=97)
TYPED = st.lists(st.tuples(st.integers(49, 96), st.integers(0, 8_000)), min_size=1, max_size=8)


@given(QUARTERS, TYPED, st.booleans())
def test_a_hand_never_earns_more_than_a_sensor_that_is_never_colder_than_it(
    quarters: list[int], typed: list[tuple[int, int]], back: bool
) -> None:
    true = np.array(quarters, np.int64)
    hours = sorted(dict(typed).items())
    hand = [by(q / 4, (true[q] - cooler) / 1000) for q, cooler in hours]
    # Never colder than what was typed: between two readings not below the lower one.
    ends = [(48, int(true[48])), *((q, one.milli_c) for (q, _), one in zip(hours, hand, strict=True))]
    for (a, low), (b, other) in zip(ends, [*ends[1:], (96, int(true[96]))], strict=True):
        true[a + 1 : b] = np.maximum(true[a + 1 : b], min(low, other))
    times = np.array([ms(q / 4) for q in range(97)], np.int64)
    truth = summed(Series(times, true))
    keep = np.append(np.arange(49), [96] if back else []).astype(int)
    own = Series(times[keep], true[keep])
    found = summed(merged([own, stood(*hand, own=own).series]))
    for when in times.tolist():
        assert np.all(found.at(when) <= truth.at(when) + 1e-9)


def in_frost(hours: float) -> Story:
    """Return a warm pour in cold air whose sensor at the edge has been silent since 20 h."""
    story = Story(make_case(site_of_all()))
    story.profile = {**story.profile, AIR: lambda _: -6.0}
    story.run(20).silent.add(EDGE)
    return story.run(hours)


def alive(story: Story) -> str:
    every = (f for v in story.case.state.verdicts for f in v.findings)
    return next(f.explain() for f in every if f.rule == "required sensors alive")


def type_in(story: Story) -> None:
    """Hand a reading in, and keep it as the site book does."""
    fields: dict[str, Any] = {"temperature_c": 14.0, "position": "C4", "zone": "exposed edge", "under_insulation": True}
    act = story.press("hand_reading", **fields).act
    assert isinstance(act, HandReading)
    story.case = replace(story.case, by_hand=(*story.case.by_hand, measured(act, story.case, story.now_ms)))


def test_a_pour_goes_on_by_hand_and_its_finding_says_who() -> None:
    story = in_frost(21)
    assert alive(story) == "required sensors alive: silent: lg-01.1 - not met"
    for hour in (21.0, 24.0, 27.0):
        type_in(story.run(hour))
        assert alive(story) == (
            "required sensors alive: lg-01.1 is silent, in its place: by hand, hand probe, qc - met"
        )
    estimate = story.case.state.estimate
    assert estimate is not None
    assert estimate.counted_h["5"] == pytest.approx(27.0, abs=0.01)


def test_it_does_not_stand_longer_than_a_silent_sensor_may() -> None:
    story = in_frost(21)
    type_in(story)
    assert alive(story.run(21.5)).endswith("qc - met")
    assert alive(story.run(22)) == "required sensors alive: silent: lg-01.1 - not met"


def test_what_was_measured_is_part_of_the_evidence_that_is_kept() -> None:
    story = in_frost(21)
    for hour in (21.0, 24.0, 27.0):
        type_in(story.run(hour))
    type_in(story.run(27.5))
    kept = [body for result in story.results for body in result.snapshots.values()]
    assert kept
    assert {one["by"] for one in kept[-1]["by_hand"]} == {"qc"}
    assert kept[-1]["in_place_of"][EDGE] == ["by hand, hand probe, qc"]


@pytest.mark.parametrize(("c", "locked"), [(1.0, True), (1.1, False), (2.5, False)])
def test_cold_that_a_person_measured_locks_as_a_top_sensor_does(c: float, locked: bool) -> None:
    story = warm(2)
    story.press("hand_reading", temperature_c=c, position="C4")
    holds = {hold.kind: hold.reason for hold in story.case.holds}
    assert (HoldKind.FREEZE_LOCKED in holds) is locked
    assert HoldKind.FREEZE_SUSPECTED not in holds
    if locked:
        assert holds[HoldKind.FREEZE_LOCKED].startswith("by hand (top) at 1.0")


@pytest.mark.parametrize("who", ["crew", "viewer", "admin"])
def test_not_everybody_measures(who: str) -> None:
    story = warm(2)
    with pytest.raises(ActRefusedError, match="takes one of: installer"):
        story.press("hand_reading", who, temperature_c=9.0, position="C4")


def test_a_reading_is_entered_within_the_hour_and_during_its_pour() -> None:
    case, now = make_case(site_of_all()), ms(5)

    def act(taken: Ms) -> HandReading:
        happened = instant(taken)
        return HandReading(
            at=instant(now), who="qc", pour=case.pour.id, temperature_c=7.5, position="C4", happened=happened
        )

    assert measured(act(now - LATE_MS), case, now) == ByHand(now - LATE_MS, 7_500, "C4", None, False, "qc")
    for wrong in (now - LATE_MS - 1, now + 1):
        with pytest.raises(ActRefusedError, match="within the hour"):
            measured(act(wrong), case, now)
    early = replace(case, pour=replace(case.pour, start_ms=now))
    with pytest.raises(ActRefusedError, match="after the start"):
        measured(act(now - 1), early, now)
    assert now > T0
