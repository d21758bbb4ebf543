"""Two hundred random thin slabs: honest sensors are never doubted, faulty ones mostly are."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from slab_support import Values, World, by, worlds

from cure.doubts import doubts
from cure.seen import Cause, Doubt, Seen
from deploy.demo.scenario import Spot
from shared.models.base import HOUR_MS
from shared.models.setup import Zone

FOUND_BY_H = 23.0
"""Before the first hour at which anything may be released."""


def doubted(world: World, concrete: list[Seen], air: Seen, hours: float = FOUND_BY_H) -> tuple[Doubt, ...]:
    told = doubts(
        [by(s, hours, world) for s in concrete], [by(air, hours, world)], world.slab.start_ms, world.slab.end_ms
    )
    return tuple(d for d in told if d.told)


def found(world: World, times: object, c: Values, air: Seen | None = None) -> Cause | None:
    """Return what is said of the interior sensor when it says this, the others being honest."""
    bad = world.seen("lg-01.1", Zone.INTERIOR, np.asarray(times, np.int64), c)
    told = doubted(world, [bad, *world.bay()[1:]], world.air() if air is None else air)
    return next((d.cause for d in told if d.sensor == "lg-01.1"), None)


@pytest.mark.row("L2", "L4", "L5", "L6", "L7", "L15", "L16")
def test_of_honest_sensors_in_210_random_slabs_none_is_doubted_and_of_few_a_person_is_asked_where_they_lie() -> None:
    assert len(worlds()) >= 200
    wrong = Counter(
        (d.cause, hours)
        for world in worlds()
        for bay, air in [(world.bay(), world.air(off_c=0.3))]
        for hours in (12.0, FOUND_BY_H, 36.0)
        for d in doubted(world, bay, air, hours)
    )
    sensors = 4 * len(worlds())
    asked = {hours: n / sensors for (cause, hours), n in wrong.items() if cause is Cause.UNSEEN}
    # In air that stands still, at the temperature of the concrete, nothing tells one from the other.
    assert asked[12.0] <= 0.025
    assert asked[FOUND_BY_H] <= 0.015
    assert {key: n for key, n in wrong.items() if key[0] is not Cause.UNSEEN} == {}


def share(causes: list[Cause | None], *meant: Cause) -> float:
    return sum(c in meant for c in causes) / len(causes)


SOME = slice(0, None, 3)
"""A third of the slabs is enough to see a rate."""


@pytest.mark.row("L5")
def test_a_sensor_that_lies_in_the_air_is_found_in_nine_of_ten_slabs() -> None:
    causes = []
    for world in worlds()[SOME]:
        times = world.times
        causes.append(found(world, times, world.air_c(times) + world.rng.uniform(-0.8, 0.8)))
    assert share(causes, Cause.IN_AIR, Cause.NOT_FRESH) >= 0.9


@pytest.mark.row("L5")
def test_a_heater_that_switches_on_and_off_is_always_found() -> None:
    causes = []
    for world in worlds()[SOME]:
        times = world.times
        causes.append(found(world, times, 30.0 + 4.0 * world.rng.standard_normal(len(times))))
    assert share(causes, Cause.RESTLESS) == 1.0


@pytest.mark.row("L2")
def test_a_value_that_sticks_is_found_wherever_the_air_moves() -> None:
    causes = []
    for world in worlds():
        times, stuck_ms = world.times, world.slab.end_ms + 3 * HOUR_MS
        later = world.air_c(times[(times > stuck_ms) & (times < stuck_ms + 19 * HOUR_MS)])
        if np.ptp(later) > 4.0:
            seen = world.honest("lg-01.1", Zone.INTERIOR)
            stuck = np.where(seen.series.taken_ms > stuck_ms, 30_000, seen.series.milli_c)
            bad = Seen(seen.placement, type(seen.series)(seen.series.taken_ms, stuck))
            told = doubted(world, [bad, *world.bay()[1:]], world.air())
            causes.append(next((d.cause for d in told if d.sensor == "lg-01.1"), None))
    assert len(causes) > 50
    assert share(causes, Cause.STUCK) == 1.0


@pytest.mark.row("O2", "L7", "O4")
@pytest.mark.parametrize("early_h", [12, 20])
def test_a_sensor_cast_in_long_after_the_entered_end_is_found(early_h: int) -> None:
    causes = []
    for world in worlds()[SOME]:
        times, later = world.times, early_h * HOUR_MS
        c = np.where(
            times - later < world.slab.placed_ms[Spot.INTERIOR],
            world.air_c(times),
            world.concrete_c(Zone.INTERIOR, times - later),
        )
        causes.append(found(world, times, c))
    assert share(causes, Cause.LATE, Cause.IN_AIR, Cause.NOT_FRESH) >= 0.9


@pytest.mark.row("L16", "O5")
def test_fahrenheit_read_as_celsius_is_found_and_the_reverse_too() -> None:
    hot, cold = [], []
    for world in worlds()[SOME]:
        times = world.times
        c = world.concrete_c(Zone.INTERIOR, times)
        hot.append(found(world, times, c * 1.8 + 32.0))
        cold.append(found(world, times, (c - 32.0) / 1.8))
    assert share(hot, Cause.NOT_FRESH) >= 0.9
    assert share(cold, Cause.NOT_FRESH, Cause.EARLY) >= 0.9


@pytest.mark.row("L15")
def test_exchanged_channels_are_found_where_the_placing_can_be_felt() -> None:
    causes = []
    for world in worlds():
        times = world.times
        concrete = world.concrete_c(Zone.INTERIOR, times)
        if abs(world.slab.placed_c - float(world.air_c(np.array([world.slab.start_ms]))[0])) < 5.0:
            continue
        air = world.seen("lg-01.2", Zone.AIR, times, concrete)
        causes.append(found(world, times, world.air_c(times), air))
    assert len(causes) > 50
    assert share(causes, Cause.EXCHANGED, Cause.NOT_FRESH) >= 0.75
