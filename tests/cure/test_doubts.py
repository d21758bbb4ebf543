from __future__ import annotations

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, QUARTER_MS, Profile, judged, make_case, placed, recorded, series
from store_support import AIR, EDGE, INSIDE, make_pour

from cure.bay import BayEvidence
from cure.seen import Cause
from shared.models.base import HOUR_MS, SensorId
from shared.models.decisions import HoldKind
from shared.models.readings import Series
from shared.models.setup import Zone

ALONE = (placed(EDGE, Zone.EXPOSED_EDGE), placed(AIR, Zone.AIR))


def cooling(hours: float) -> float:
    """A slab after its peak, never twice the same to a sixteenth of a degree."""
    return 14.0 + 8.0 * float(np.exp(-max(0.0, hours + 1) / 12.0)) + 0.07 * ((round(hours * 4) * 7) % 3)


def swinging(by_c: float) -> Profile:
    return lambda h: 6.0 + by_c / 2 * float(np.sin(h / 3.0))


def alone(edge: Series, hours: float, air: Profile | None = None) -> BayEvidence:
    readings = {EDGE: edge, AIR: recorded(swinging(6.0) if air is None else air, hours, from_h=-1.0)}
    return judged(readings, hours, make_case(placements=ALONE))


def causes(found: BayEvidence) -> list[Cause]:
    return [d.cause for d in found.doubts]


def stuck(c: float, from_h: float, to_h: float, hours: float) -> Series:
    return recorded(lambda h: c if from_h <= h <= to_h else cooling(h), hours, from_h=-1.0)


@pytest.mark.row("L2")
@pytest.mark.parametrize(("hours", "found"), [(6.0, False), (6.25, True), (12.0, True)])
def test_one_value_for_more_than_six_hours_is_not_believed(hours: float, found: bool) -> None:
    evidence = alone(stuck(30.0, 4.0, 4.0 + hours, 4.0 + hours), 4.0 + hours)
    assert (causes(evidence) == [Cause.STUCK]) is found
    assert evidence.fresh() is not found
    if found:
        assert evidence.watermark_ms == END_MS + 4 * HOUR_MS
        assert evidence.alive() == f"not believed: {EDGE}"


@pytest.mark.row("L2")
def test_a_stuck_sensor_that_comes_back_has_earned_nothing_meanwhile() -> None:
    evidence = alone(stuck(30.0, 4.0, 14.0, 24.0), 24.0)
    assert evidence.fresh()
    assert evidence.counted_h(5.0) == 24.0 - 10.25


@pytest.mark.row("L2")
@pytest.mark.parametrize(("swing_c", "c", "found"), [(2.9, 30.0, False), (6.0, 2.9, False), (6.0, 3.1, True)])
def test_the_stuck_rule_asks_for_air_that_moves_and_never_hides_cold(swing_c: float, c: float, found: bool) -> None:
    evidence = alone(stuck(c, 4.0, 16.0, 16.0), 16.0, swinging(swing_c))
    assert (Cause.STUCK in causes(evidence)) is found


@pytest.mark.row("L2")
def test_a_sensor_that_reads_to_half_a_degree_may_stand_still_for_half_a_day() -> None:
    coarse = recorded(lambda h: round(cooling(h) * 2) / 2, 24, from_h=-1.0)
    assert causes(alone(coarse, 24)) == []


def test_without_air_the_rules_that_ask_for_it_are_silent() -> None:
    edge = stuck(30.0, 4.0, 16.0, 16.0)
    evidence = judged({EDGE: edge}, 16, make_case(placements=ALONE[:1]))
    assert causes(evidence) == []
    assert evidence.fresh()


@pytest.mark.row("L5")
def test_readings_that_jump_up_and_down_are_not_concrete_and_corrupted_ones_cost_only_themselves() -> None:
    def jumping(spikes: int) -> Series:
        return recorded(lambda h: cooling(h) + (5.0 if h in [2.0 + i for i in range(spikes)] else 0.0), 20, from_h=-1.0)

    few = alone(jumping(2), 20)
    # One of them within two hours of the placing, where no jump is a spike.
    assert [(d.cause, d.told, len(d.refused)) for d in few.doubts] == [(Cause.SPIKE, False, 1)]
    assert few.counted_h(5.0) == 19.5
    found = alone(jumping(12), 20).doubts
    assert [(d.cause, d.hold) for d in found if d.told] == [(Cause.RESTLESS, HoldKind.SENSOR_DOUBTFUL)]
    assert alone(jumping(12), 20).watermark_ms is None


@pytest.mark.row("L16", "O5")
@pytest.mark.parametrize(
    ("c", "found"), [(68.0, True), (35.1, True), (35.0, False), (5.0, False), (0.0, False), (-0.1, True), (-6.7, True)]
)
def test_what_does_not_begin_as_fresh_concrete_is_not_counted(c: float, found: bool) -> None:
    # 68 is 20 degC in Fahrenheit; -6.7 is 20 degC taken for Fahrenheit and converted.
    edge = recorded(lambda h: c + 0.07 * (round(h * 4) % 3) * (1 if c > 0 else -1), 2, from_h=-1.0)
    evidence = alone(edge, 2, lambda _: 10.0)
    assert (causes(evidence) == [Cause.NOT_FRESH]) is found
    assert (evidence.watermark_ms is None) is found


@pytest.mark.row("L16")
def test_an_impossible_beginning_is_waited_for_one_hour_and_no_reading_then_is_no_doubt() -> None:
    hot = recorded(68.0, 0.75, from_h=-1.0)
    assert causes(alone(hot, 0.75)) == []
    assert causes(alone(recorded(45.0, 12, from_h=6.0), 12, lambda _: 10.0)) == []


@pytest.mark.row("L4")
def test_the_warmer_of_two_sensors_of_one_zone_is_told_and_the_colder_governs() -> None:
    beside = SensorId("lg-05.1")
    case = make_case(placements=(*ALONE, placed(beside, Zone.EXPOSED_EDGE), placed(INSIDE, Zone.INTERIOR)))

    def of(by_c: float) -> BayEvidence:
        warmer = recorded(lambda h: cooling(h) + by_c, 8, from_h=-1.0)
        readings = {EDGE: recorded(cooling, 8, from_h=-1.0), beside: warmer, INSIDE: warmer}
        return judged({**readings, AIR: recorded(10.0, 8, from_h=-1.0)}, 8, case)

    assert causes(of(3.0)) == []
    found = of(3.1)
    assert [(d.sensor, d.cause, d.hold, d.refused) for d in found.doubts] == [(beside, Cause.APART, None, ())]
    assert found.fresh()
    governing = found.governing()
    assert governing is not None
    assert governing[0].placement.sensor == EDGE


@pytest.mark.row("L4")
def test_sensors_of_a_zone_at_another_depth_are_not_compared() -> None:
    deep = placed("lg-05.1", Zone.EXPOSED_EDGE, depth_mm=90)
    readings = {EDGE: recorded(cooling, 8), deep.sensor: recorded(lambda h: cooling(h) + 4.0, 8)}
    assert causes(judged(readings, 8, make_case(placements=(*ALONE, deep)))) == []


@pytest.mark.row("L2", "L5", "L16")
def test_every_doubt_can_only_take_credit_away() -> None:
    honest = {s: recorded(cooling, 26, from_h=-1.0) for s in CONCRETE} | {AIR: recorded(swinging(6.0), 26, from_h=-1.0)}
    best = judged(honest, 26)
    assert best.doubts == ()
    for bad in (stuck(40.0, 4, 12, 26), recorded(68.0, 26, from_h=-1.0), recorded(swinging(6.0), 26, from_h=-1.0)):
        found = judged({**honest, EDGE: bad}, 26)
        assert found.doubts
        assert not found.counted_h(5.0) > best.counted_h(5.0)
        assert not found.lower_bound_mpa() > best.lower_bound_mpa()


def test_before_the_end_of_the_pour_nothing_is_doubted() -> None:
    case = make_case(placements=ALONE, pour=make_pour())
    evidence = judged({EDGE: recorded(68.0, 2, from_h=-1.0)}, 2, case)
    assert (evidence.doubts, evidence.watermark_ms) == ((), None)


def test_a_sensor_with_two_readings_is_not_doubted() -> None:
    two = series([END_MS, END_MS + QUARTER_MS], [18.0, 18.0])
    assert causes(alone(two, 0.25)) == []
