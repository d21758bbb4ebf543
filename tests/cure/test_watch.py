"""What is watched beside strength, by little stories through the pure core."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Profile, Story, make_case, placed, plain
from store_support import AIR, EDGE, INSIDE

from shared.errors import ActRefusedError
from shared.models.base import HOUR_MS, SensorId
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import MessageKind
from shared.models.setup import Zone

S = GateState
TOP = SensorId("lg-05.1")
LOCKED, SUSPECTED, CONFLICT = HoldKind.FREEZE_LOCKED, HoldKind.FREEZE_SUSPECTED, HoldKind.CONFLICT


def with_top(**profiles: Profile) -> Story:
    """Return the story of a bay that has a top sensor too; EDGE and TOP as given, else 15 degC."""
    story = Story(make_case(placements=(*make_case().placements, placed(TOP, Zone.TOP, required=False))))
    mild = dict.fromkeys((*CONCRETE, TOP), lambda _: 15.0)
    story.profile = {
        **mild,
        AIR: lambda _: 2.0,
        EDGE: profiles.get("edge", mild[EDGE]),
        TOP: profiles.get("top", mild[TOP]),
    }
    return story


def holds(story: Story) -> set[HoldKind]:
    return {h.kind for h in story.case.holds}


def dip(c: float, from_h: float, to_h: float) -> Profile:
    return lambda h: c if from_h <= h < to_h else 15.0


def test_freezing_is_suspected_told_held_and_lifted_by_a_measured_surface() -> None:
    story = Story()
    story.profile = {**dict.fromkeys(CONCRETE, lambda h: 2.5 if h >= 6 else 15.0), AIR: lambda _: 0.0}
    story.run(7)
    assert story.state() is S.HOLD
    assert MessageKind.FREEZE_SUSPECTED in story.told()
    with pytest.raises(ActRefusedError, match="surface"):
        story.press("lift", hold="freeze suspected", why="looks fine")
    story.press("lift", hold="freeze suspected", surface_c=2.0, why="measured")
    assert story.state() is S.CURING
    story.run(10)
    assert story.state() is S.CURING
    story.run(12)
    assert story.state() is S.HOLD  # 4 h after the measurement, still so cold


@pytest.mark.row("E11")
@pytest.mark.parametrize(("c", "locked"), [(0.5, True), (0.501, False), (-3.0, True)])
def test_half_a_degree_before_3_5_mpa_locks_the_pour(c: float, locked: bool) -> None:
    def cold(hours: float) -> float:
        return c if 5 <= hours < 6 else 15.0

    story = Story()
    story.profile = {**story.profile, EDGE: cold}
    story.run(7)
    assert any(h.kind is HoldKind.FREEZE_LOCKED for h in story.case.holds) is locked
    assert story.told().count(MessageKind.FREEZE_LOCKED) == locked
    if locked:
        with pytest.raises(ActRefusedError, match="engineer"):
            story.press("lift", hold="freeze locked", document="d.pdf", why="x")
        story.press("lift", "engineer", hold="freeze locked", document="d.pdf", why="cores tested")
        assert not any(h.kind is HoldKind.FREEZE_LOCKED for h in story.case.holds)


def test_cold_after_3_5_mpa_is_no_freezing_doubt() -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: lambda h: 0.0 if h >= 40 else 18.0}
    story.run(45)
    assert story.case.holds == ()


@pytest.mark.row("L10")
def test_conflicting_readings_more_than_a_degree_apart_hold_the_pour() -> None:
    story = plain(10)
    story.conflict(EDGE, END_MS + HOUR_MS, 17.0, 18.0)
    story.round()
    assert [*story.case.holds] == []
    story.conflict(EDGE, END_MS + HOUR_MS, 16.999, 18.0)
    story.round()
    assert holds(story) == {CONFLICT}
    assert story.state() is S.HOLD


@pytest.mark.row("L10")
def test_a_conflict_that_was_looked_into_stays_lifted_and_a_new_one_is_a_new_doubt() -> None:
    story = plain(10)
    story.conflict(EDGE, END_MS + HOUR_MS, 16.0, 18.0)
    story.round()
    story.press("lift", "super", hold="conflicting readings", why="the colder is right")
    assert holds(story.run(11)) == set()
    story.conflict(INSIDE, END_MS + 2 * HOUR_MS, 16.0, 18.0)
    story.round()
    assert holds(story) == {CONFLICT}
    assert story.told().count(MessageKind.HOLD) == 2
    assert len({m.epoch for m in story.messages if m.kind is MessageKind.HOLD}) == 2


@pytest.mark.row("E11")
@pytest.mark.parametrize(("c", "locked"), [(0.9, True), (1.0, True), (1.001, False)])
def test_one_degree_at_the_top_locks_the_pour(c: float, locked: bool) -> None:
    assert (LOCKED in holds(with_top(top=dip(c, 5, 6)).run(7))) is locked


@pytest.mark.row("E11")
@pytest.mark.parametrize(("c", "suspected"), [(2.9, True), (3.0, True), (3.001, False)])
def test_three_degrees_inside_are_a_suspicion_only_without_a_top_sensor(c: float, suspected: bool) -> None:
    bare = Story()
    bare.profile = {**bare.profile, EDGE: dip(c, 5, 6)}
    assert holds(bare.run(7)) == ({SUSPECTED} if suspected else set())
    assert bare.told().count(MessageKind.FREEZE_SUSPECTED) == suspected
    assert holds(with_top(edge=dip(c, 5, 6)).run(7)) == set()


@pytest.mark.row("E11")
def test_a_top_sensor_that_is_dead_spares_nobody_the_suspicion() -> None:
    story = with_top(edge=dip(2.5, 6, 99))
    story.silent = {TOP}
    assert holds(story.run(7)) == {SUSPECTED}
    died = with_top(edge=dip(2.5, 5, 99)).run(6)
    died.silent = {TOP}
    assert holds(died.run(6.75)) == set()
    assert holds(died.run(7)) == {SUSPECTED}


@pytest.mark.row("E11")
def test_freezing_is_watched_from_the_first_concrete_on_calibrated_or_not() -> None:
    early = Story()
    early.profile = {**early.profile, EDGE: dip(0.0, -0.5, 0)}
    assert holds(early.run(0)) == {LOCKED}
    bare = Story(replace(make_case(), calibration=None))
    bare.case = replace(bare.case, pour=replace(bare.case.pour, end_ms=None))
    bare.profile = {**bare.profile, EDGE: dip(0.0, 60, 61)}
    assert holds(bare.run(62)) == {LOCKED}


@pytest.mark.row("E11")
def test_a_lifted_lock_comes_back_with_a_new_freezing() -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: lambda h: 0.4 if h in {5.0, 9.0} else 15.0}
    story.run(6)
    story.press("lift", "engineer", hold="freeze locked", document="d.pdf", why="cores tested")
    assert holds(story.run(8.75)) == set()
    assert holds(story.run(9)) == {LOCKED}
    assert story.told().count(MessageKind.FREEZE_LOCKED) == 2


@pytest.mark.row("E11", "E13")
@pytest.mark.parametrize(("late_c", "back"), [(0.4, False), (0.0, False), (-0.1, True)])
def test_a_late_reading_that_the_engineer_did_not_know_of_locks_again(late_c: float, back: bool) -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: dip(0.4, 5, 5.25)}
    story.run(6)
    story.press("lift", "engineer", hold="freeze locked", document="d.pdf", why="cores tested")
    story.add(EDGE, END_MS + 5 * HOUR_MS + QUARTER_MS, late_c)
    story.round()
    assert (LOCKED in holds(story)) is back


@pytest.mark.row("E13")
def test_a_late_colder_reading_of_before_the_measurement_is_a_suspicion_again() -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: dip(2.5, 5, 5.25)}
    story.run(6)
    story.press("lift", hold="freeze suspected", surface_c=2.0, why="measured")
    story.add(INSIDE, END_MS + 5 * HOUR_MS, 2.1)
    story.round()
    assert holds(story) == set()
    story.add(INSIDE, END_MS + 5 * HOUR_MS, 2.0)
    story.round()
    assert holds(story) == {SUSPECTED}


def gapped(air_c: float | None, slab_c: float, hours: float = 2.0) -> Story:
    """Return a story in which the edge says nothing for hours from the fifth on."""
    story = Story()
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: 15.0), AIR: lambda _: 0.0 if air_c is None else air_c}
    story.profile[EDGE] = lambda h: slab_c if h >= 4 else 15.0
    story.silent = {AIR} if air_c is None else set()
    story.run(5)
    story.silent |= {EDGE}
    story.run(5 + hours - 0.25)
    story.silent -= {EDGE}
    return story.run(5 + hours)


@pytest.mark.row("E11", "E1")
@pytest.mark.parametrize(("air_c", "suspected"), [(4.9, True), (5.0, True), (5.001, False)])
def test_a_gap_credited_at_one_degree_or_less_may_hide_freezing(air_c: float, suspected: bool) -> None:
    story = gapped(air_c, slab_c=15.0)
    assert holds(story) == ({SUSPECTED} if suspected else set())
    assert story.told().count(MessageKind.FREEZE_SUSPECTED) == suspected


@pytest.mark.row("E11", "E1")
@pytest.mark.parametrize(("slab_c", "suspected"), [(4.9, True), (5.0, True), (5.001, False)])
def test_a_gap_without_air_may_hide_freezing_when_the_slab_was_cold_beside_it(slab_c: float, suspected: bool) -> None:
    assert holds(gapped(None, slab_c)) == ({SUSPECTED} if suspected else set())


@pytest.mark.row("E11", "E1")
@pytest.mark.parametrize(("until_h", "back"), [(10.0, False), (10.25, True)])
def test_a_measured_surface_answers_for_a_gap_only_for_four_hours(until_h: float, back: bool) -> None:
    story = Story()
    story.profile = {
        **dict.fromkeys(CONCRETE, lambda _: 15.0),
        EDGE: lambda h: 2.5 if h == 5 else 4.0 if h > 5 else 15.0,
    }
    story.run(5.5)
    story.silent = {EDGE}
    story.run(6)
    story.press("lift", hold="freeze suspected", surface_c=2.0, why="measured")
    story.run(until_h - 0.25)
    story.silent = set()
    assert (SUSPECTED in holds(story.run(until_h))) is back


def test_a_sensor_is_told_silent_once_and_again_only_after_it_came_back() -> None:
    story = plain(3)
    story.silent = {EDGE}
    story.run(8)
    told = [m for m in story.messages if m.kind is MessageKind.LOGGER_SILENT]
    assert [(m.subject, m.facts["required"], m.facts["newest_ms"]) for m in told] == [
        (EDGE, True, END_MS + 3 * HOUR_MS)
    ]
    story.silent = set()
    story.run(9)
    story.silent = {EDGE, AIR}
    story.run(12)
    again = [(m.subject, m.facts["required"]) for m in story.messages if m.kind is MessageKind.LOGGER_SILENT]
    assert again == [(EDGE, True), (EDGE, True), (AIR, False)]
    assert len({(m.subject, m.epoch) for m in story.messages if m.kind is MessageKind.LOGGER_SILENT}) == 3


@pytest.mark.parametrize(
    ("profile", "cold"),
    [
        (dip(9.9, 3, 3.5), True),
        (dip(10.0, 3, 3.5), False),
        (dip(9.9, 24, 24.25), True),
        (dip(9.9, 24.25, 26), False),
        (dip(9.9, -1, 0), False),
    ],
)
def test_a_first_day_below_ten_degrees_is_noted_for_good(profile: Profile, cold: bool) -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: profile}
    story.run(26)
    assert story.case.state.memory.get("cold_start", False) is cold
