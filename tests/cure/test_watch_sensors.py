"""What is told and held of doubtful sensors, and of heat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cure_support import CONCRETE, Profile, Story, make_case, placed, site_of_all
from store_support import AIR, EDGE, INSIDE

from shared.models.base import SensorId
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import MessageKind, NewMessage
from shared.models.setup import Zone

S = GateState


def air_c(h: float) -> float:
    return 9.0 + 4.0 * float(np.sin(h / 4.0)) + 0.3 * float(np.sin(3.0 * h))


def slab_c(h: float) -> float:
    return 18.0 + 0.1 * (round(h * 4) % 3) + float(np.sin(h / 5.0))


def story(**profiles: Profile) -> Story:
    """Return a pour with moving air; sensors as given, else in the slab."""
    told = Story(make_case(site_of_all()))
    told.profile = {**dict.fromkeys(CONCRETE, slab_c), AIR: air_c}
    names = {"edge": EDGE, "inside": INSIDE}
    told.profile |= {names[name]: profile for name, profile in profiles.items()}
    return told


def doubtful(told: Story) -> list[NewMessage]:
    return [m for m in told.messages if m.kind is MessageKind.LOGGER_DOUBTFUL]


def holds(told: Story) -> set[HoldKind]:
    return {h.kind for h in told.case.holds}


def stuck(from_h: float, to_h: float = 999.0, c: float = 30.0) -> Profile:
    return lambda h: c if from_h <= h <= to_h else slab_c(h)


@pytest.mark.row("L2")
def test_a_stuck_required_sensor_shuts_and_is_told_once() -> None:
    told = story(edge=stuck(4.0)).run(40)
    assert [(m.subject, m.epoch, m.facts["required"]) for m in doubtful(told)] == [(EDGE, 1, True)]
    assert "one value" in doubtful(told)[0].facts["reason"]
    assert S.MET not in {g.state for r in told.results for g in r.gates}
    assert holds(told) == set()


@pytest.mark.row("L2", "L1")
def test_a_sensor_that_sticks_after_the_release_withdraws_nothing() -> None:
    told = story(edge=stuck(26.0)).run(25)
    told.press("sign", operations=["strip", "walk"])
    assert told.state() is S.RELEASED
    told.run(40)
    assert len(doubtful(told)) == 1
    assert told.state() is S.RELEASED
    assert MessageKind.WITHDRAWAL not in told.told()


@pytest.mark.row("L2")
def test_a_release_that_rested_on_a_stuck_value_is_withdrawn() -> None:
    told = story(edge=stuck(21.0)).run(25)
    told.press("sign", operations=["strip", "walk"])
    assert told.state() is S.RELEASED
    assert told.run(30).state() is S.WITHDRAWN


@pytest.mark.row("L5")
def test_a_sensor_in_the_air_holds_the_pour_until_a_person_confirms_once_that_it_lies_in_the_concrete() -> None:
    told = story(edge=air_c).run(26)
    assert holds(told) == {HoldKind.PLACEMENT}
    assert told.state() is S.HOLD
    (hold,) = told.case.holds
    assert (hold.owner, EDGE in hold.reason) == ("qc", True)
    told.press("lift", hold="placement in doubt", why="dug out, it is in the concrete")
    told.run(27)
    assert holds(told) == set()
    assert told.results[-1].state.estimate is not None
    assert told.results[-1].state.estimate.counted_h != {}
    assert len(doubtful(told)) == 1


@pytest.mark.row("L5")
def test_lifting_answers_for_no_sensor_that_was_not_doubted_then() -> None:
    told = story(edge=air_c).run(20)
    told.press("lift", hold="placement in doubt", why="looked at")
    told.profile = {**told.profile, INSIDE: air_c}
    told.run(32)
    assert [m.subject for m in doubtful(told)] == [EDGE, INSIDE]
    assert holds(told) == {HoldKind.PLACEMENT}


@pytest.mark.row("L5")
def test_a_sensor_that_nothing_rests_on_is_told_and_holds_nothing() -> None:
    spare = SensorId("lg-05.1")
    told = story()
    told.case = replace(
        told.case, placements=(*told.case.placements, placed(spare, Zone.INTERIOR, required=False, depth_mm=90))
    )
    told.profile = {**told.profile, spare: air_c}
    told.run(25)
    assert [(m.subject, m.facts["required"]) for m in doubtful(told)] == [(spare, False)]
    assert told.state() is S.MET


@pytest.mark.row("L16", "O5")
def test_fahrenheit_for_celsius_is_held_for_a_person_and_releases_nothing() -> None:
    told = story(edge=lambda h: slab_c(h) * 1.8 + 32.0).run(30)
    assert holds(told) == {HoldKind.SENSOR_DOUBTFUL}
    assert told.state() is S.HOLD
    assert MessageKind.SIGN_OFF_WANTED not in told.told()


def test_too_hot_is_told_once_above_70() -> None:
    told = story(edge=lambda h: 70.0 if h < 10 else 70.1 + 0.1 * (h % 3)).run(9)
    told.profile = {**told.profile, EDGE: lambda h: slab_c(h) if h < 10 else 71.0}
    told.readings.clear()
    told.run(16)
    hot = [m for m in told.messages if m.kind is MessageKind.TOO_HOT]
    assert [(m.subject, m.facts["found_c"], m.facts["limit_c"]) for m in hot] == [(EDGE, 71.0, 70.0)]


def test_a_drop_of_more_than_28_in_a_day_and_more_than_20_between_sensors_are_told_once_each() -> None:
    told = story(edge=lambda h: 35.0 if h < 5 else 15.0 if h < 6 else 6.9).run(4)
    assert MessageKind.TOO_STEEP not in told.told()
    told.profile = {**told.profile, INSIDE: lambda h: 27.0 + 0.1 * (round(h * 4) % 3)}
    told.run(12)
    steep = [m for m in told.messages if m.kind is MessageKind.TOO_STEEP]
    assert sorted((m.epoch, m.facts["limit_c"]) for m in steep) == [(1, 28.0), (2, 20.0)]
    assert {m.epoch: m.facts["found_c"] for m in steep}[1] == pytest.approx(28.1)
