from __future__ import annotations

import math

import pytest
from cure_support import END_MS, Profile, judged, make_case, placed, recorded
from store_support import EDGE, INSIDE

from cure.accumulate import COLUMNS
from cure.bay import BayEvidence
from cure.seen import Cause, Doubt
from shared.models.base import HOUR_MS, SensorId
from shared.models.decisions import HoldKind
from shared.models.setup import Zone

AIR = SensorId("lg-09.1")
EDGE_ZONE, IN_AIR = placed(EDGE, Zone.EXPOSED_EDGE), placed(AIR, Zone.AIR)
LONG_BEFORE_H = -4.0


def air_c(h: float) -> float:
    return 8.0 + 4.0 * math.sin(h / 4.0) + 0.3 * math.sin(h * 3.0)


def slab_c(h: float) -> float:
    """Cast half an hour before the end, at 18 degC; it follows the air by two hours and warms by itself."""
    if h < -0.5:
        return air_c(h)
    return (
        air_c(h - 2.0) + (18.0 - air_c(-2.5)) * math.exp(-(h + 0.5) / 5.0) + 3.0 * math.exp(-(((h - 9.0) / 6.0) ** 2))
    )


def said(edge: Profile, hours: float = 24.0, inside: Profile | None = None, air: Profile = air_c) -> BayEvidence:
    case = make_case(placements=(EDGE_ZONE, IN_AIR) + (() if inside is None else (placed(INSIDE, Zone.INTERIOR),)))
    readings = {EDGE: recorded(edge, hours, from_h=LONG_BEFORE_H), AIR: recorded(air, hours, from_h=LONG_BEFORE_H)}
    if inside is not None:
        readings[INSIDE] = recorded(inside, hours, from_h=LONG_BEFORE_H)
    return judged(readings, hours, case)


def only(evidence: BayEvidence) -> Doubt:
    assert len(evidence.doubts) == 1
    return evidence.doubts[0]


def test_a_sensor_in_the_slab_is_not_doubted() -> None:
    assert said(slab_c).doubts == ()
    assert said(slab_c).counted_h(5.0) > 19.0


@pytest.mark.row("L5")
@pytest.mark.parametrize("off_c", [-1.5, 0.0, 1.5])
def test_a_sensor_that_says_what_the_air_says_earns_nothing(off_c: float) -> None:
    found = said(lambda h: air_c(h) + off_c)
    assert (only(found).cause, only(found).hold) == (Cause.IN_AIR, HoldKind.PLACEMENT)
    assert found.watermark_ms is None
    assert math.isnan(found.counted_h(5.0))
    assert math.isnan(found.lower_bound_mpa())


@pytest.mark.row("L5")
@pytest.mark.parametrize(("lag_h", "found"), [(0.0, True), (0.5, False), (1.0, False)])
def test_half_an_hour_behind_the_air_is_in_concrete(lag_h: float, found: bool) -> None:
    evidence = said(lambda h: air_c(h - lag_h))
    assert ([d.cause for d in evidence.doubts] == [Cause.IN_AIR]) is found


@pytest.mark.row("L5")
def test_still_air_tells_nothing_so_a_person_is_asked() -> None:
    found = said(lambda _: 8.5, air=lambda _: 8.0).doubts
    assert [(d.cause, d.hold) for d in found] == [(Cause.UNSEEN, HoldKind.PLACEMENT)]


@pytest.mark.row("L6")
def test_48_hours_of_warm_readings_before_the_pour_earn_nothing() -> None:
    case = make_case(placements=(EDGE_ZONE, IN_AIR))
    readings = {
        EDGE: recorded(lambda h: 25.0 if h < -0.5 else 18.0, 0, from_h=-48.0),
        AIR: recorded(8.0, 0, from_h=-48.0),
    }
    found = judged(readings, 0, case)
    assert found.counted_h(5.0) == 0.0
    governing = found.governing()
    assert governing is not None
    assert governing[1].tolist() == [[0.0] * COLUMNS]


def cast(at_h: float) -> Profile:
    """As warm as the air until it is cast in."""
    return lambda h: air_c(h) if h < at_h else slab_c(h - at_h - 0.5)


@pytest.mark.row("L6", "O2")
@pytest.mark.parametrize(("at_h", "held"), [(0.25, False), (1.0, False), (1.25, True), (12.0, True), (20.0, True)])
def test_credit_starts_when_the_sensor_is_cast_in_and_that_long_after_the_end_is_a_doubt(
    at_h: float, held: bool
) -> None:
    found = said(cast(at_h), 26.0)
    assert only(found).cause is Cause.LATE
    assert only(found).hold == (HoldKind.PLACEMENT if held else None)
    assert only(found).told is held
    track = found.sensors[0].track
    assert track is not None
    assert int(track.taken_ms[0]) == END_MS + round(at_h * HOUR_MS)
    assert found.counted_h(1.0) == 26.0 - at_h


@pytest.mark.row("L7", "O4")
def test_loggers_swapped_between_two_bays_are_a_doubt_in_both() -> None:
    # This bay was cast half an hour before its end; the other one twelve hours later.
    in_the_other = said(cast(12.0), 20.0, inside=slab_c)
    assert (only(in_the_other).sensor, only(in_the_other).hold) == (EDGE, HoldKind.PLACEMENT)

    of_the_other = said(lambda h: 14.0 - 0.1 * h, 3.0, inside=lambda h: slab_c(h) + 4.0)
    assert (only(of_the_other).cause, only(of_the_other).hold) == (Cause.EARLY, HoldKind.PLACEMENT)


@pytest.mark.row("L15")
def test_an_air_channel_that_feels_the_placing_is_exchanged_with_one_that_does_not() -> None:
    channel = SensorId(f"{EDGE.partition('.')[0]}.7")
    case = make_case(placements=(EDGE_ZONE, placed(channel, Zone.AIR)))

    def of(edge: Profile, air: Profile) -> list[Cause]:
        readings = {EDGE: recorded(edge, 3, from_h=LONG_BEFORE_H), channel: recorded(air, 3, from_h=LONG_BEFORE_H)}
        return [d.cause for d in judged(readings, 3, case).doubts]

    assert of(air_c, slab_c) == [Cause.EXCHANGED]
    assert of(slab_c, air_c) == []


def test_another_loggers_air_in_the_sun_is_not_taken_for_an_exchange() -> None:
    assert said(lambda h: air_c(h - 2.0), 3.0, air=lambda h: air_c(h) + (5.0 if h > -0.4 else 0.0)).doubts == ()
