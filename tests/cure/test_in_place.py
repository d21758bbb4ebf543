"""A sensor that is lost mid-cure: the forecast goes on with what stands in for it, as the evidence will."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, judged, make_case, placed, recorded
from forecast_support import MEMBERS, weather
from store_support import AIR, EDGE

from cure.accumulate import AIR_ALLOWANCE_C, COVERED_ALLOWANCE_C
from cure.assimilate import begun
from cure.forecast import FOR_EVER_MS, Forecast, Span, Spread, Weather
from cure.foresee import Asked, foresee
from cure.foreseeable import asked_of
from cure.in_place import NOTHING_EARNED_C, InPlace, in_place_c
from cure.plans import PLANS
from shared.models.base import HOUR_MS, STRIP, SensorId
from shared.models.readings import Series
from shared.models.setup import Zone

PLAN = PLANS["common-practice"]
TWIN = SensorId("lg-01.7")
HEARD_H = 8.0
NOW_H = 10.0
CERTAIN = Spread(*[0.0] * 11)


def known(air_c: float) -> Weather:
    return weather(air_c, air_sd_c=np.zeros(200), bias_sd_c=0.0)


def asked(*, silent: bool, twin: bool = False, air_c: float = 10.0, spread: Spread | None = None) -> Asked:
    """Return what is asked of a pour of which one sensor was last heard after eight hours."""
    readings: dict[SensorId, Series] = {s: recorded(14.0, NOW_H, from_h=-0.75) for s in CONCRETE}
    readings[AIR] = recorded(air_c, NOW_H, from_h=-2.0)
    case = make_case()
    if twin:
        case = make_case(placements=(*case.placements, placed(TWIN, Zone.EXPOSED_EDGE, required=False)))
        readings[TWIN] = recorded(14.5, NOW_H, from_h=-0.75)
    if silent:
        readings[EDGE] = recorded(14.0, HEARD_H, from_h=-0.75)
    found = asked_of(judged(readings, NOW_H, case), PLAN, known(air_c))
    assert isinstance(found, Asked)
    of = found.work.spread if spread is None else spread
    return replace(found, members=MEMBERS, work=replace(found.work, spread=of))


def said(one: Asked) -> Forecast:
    (found,) = foresee([one])
    assert isinstance(found.said, Forecast)
    return found.said


def test_a_sensor_that_is_lost_is_said_and_makes_the_hour_later_and_colder_for_good() -> None:
    alive, lost, zone = (asked(silent=s, twin=t) for s, t in ((False, False), (True, False), (True, True)))
    assert alive.earned.in_place == {}
    assert (lost.earned.in_place[EDGE].by, zone.earned.in_place[EDGE].by) == ("air", "zone")
    assert f"{EDGE} is silent, in its place: air" in lost.notes
    assert f"{EDGE} is silent, in its place: {TWIN}" in zone.notes
    hours = [said(one).expected[STRIP].at(0.1) for one in (alive, zone, lost)]
    assert hours[0] is not None
    assert hours[1] is not None
    # The twin was half a degree warmer and is taken half a degree colder; the air less four degrees is far colder.
    assert hours[0] <= hours[1]
    assert hours[2] is None or hours[2] > hours[1] + 2 * HOUR_MS


def test_what_is_foreseen_of_it_is_what_the_evidence_will_count() -> None:
    one = said(asked(silent=True, spread=CERTAIN))
    # Air of 10 degC less four, for good; not back to the model's own within half a day.
    assert one.governing_c.middle[4:] == pytest.approx(10.0 - AIR_ALLOWANCE_C, abs=0.01)
    # It is no reading: no frost is foreseen for it.
    assert float(np.min(one.coldest_c.middle)) > 8.0


def test_the_hour_that_is_foreseen_comes_true_when_all_stays_as_it_is() -> None:
    def met(hours: float) -> bool:
        readings = {s: recorded(14.0, HEARD_H if s == EDGE else hours, from_h=-0.75) for s in CONCRETE}
        found = judged({**readings, AIR: recorded(10.0, hours, from_h=-2.0)}, hours)
        return found.lower_bound_mpa() >= 3.5 and found.counted_h(5.0) >= 24.0

    even_ms = said(asked(silent=True)).expected[STRIP].at(0.5)
    assert even_ms is not None
    foreseen_h = (even_ms - END_MS) / HOUR_MS
    assert not met(foreseen_h - 0.75)
    assert met(foreseen_h + 0.75)


def test_where_the_air_may_freeze_it_or_nobody_measures_nothing_is_earned_any_more() -> None:
    hours = np.arange(0.0, 20.0)
    work = replace(asked(silent=True).work, spread=CERTAIN)
    scores = begun(work, 5).drawn
    expected = np.full((len(hours), 5), 12.0)

    def counts(of: InPlace, **changes: object) -> list[float]:
        found = in_place_c(of, replace(work, **changes), scores, expected, 9.0, END_MS, hours)  # type: ignore[arg-type]
        assert np.ptp(found, axis=1).max() == 0.0
        return [float(c) for c in found[:, 0]]

    front = np.where(np.arange(200) < 12 + 6, 10.0, 4.5)
    cold = counts(InPlace("air", 12.0), weather=replace(work.weather, air_c=front))
    assert cold[0] == 10.0 - AIR_ALLOWANCE_C
    assert cold[6:] == [NOTHING_EARNED_C] * 14
    assert counts(InPlace("air", 5.0)) == [5.0] * 20

    laid = counts(InPlace("air", 12.0), covers=(Span(END_MS + 5 * HOUR_MS, FOR_EVER_MS, 0.2),))
    assert (laid[4], laid[5]) == (10.0 - AIR_ALLOWANCE_C, 10.0 - COVERED_ALLOWANCE_C)
    assert counts(InPlace("nobody", 12.0)) == [NOTHING_EARNED_C] * 20
    # As far below as now, also when the model is warmer; never above it.
    assert counts(InPlace("zone", 12.0)) == [9.0] * 20
