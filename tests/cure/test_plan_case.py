"""A pour as a person asks of it, made from the site file; what is not known is refused in words."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from planner_support import MONDAY_MS, weather

from cure.forecast import Point
from cure.plan_case import Heat, Needs, Told, judged_by, rule_of, work_of
from cure.planner import start_of
from cure.requirements import sentence
from shared.errors import PlanError
from shared.models.base import FULL_LOAD, HOUR_MS, STRIP, UNCOVER, BayId, Operation, SensorId
from shared.models.heat import HeatSettings
from shared.models.setup import Setup, Zone
from shared.sitefile import load

SETUP = load(Path(__file__).parents[2] / "deploy" / "demo" / "site.toml")
MILD = weather(5.0, 12.0)
HEAT = Heat("I", 360.0, 0.5)
TOLD = Told(BayId("2-b1"), MONDAY_MS, heat=HEAT)


def changed(setup: Setup, **fields: Any) -> Setup:
    """Return the site with fields of its first bay changed."""
    first = setup.site.bay[0].model_copy(update=fields)
    return replace(setup, site=setup.site.model_copy(update={"bay": (first, *setup.site.bay[1:])}))


def test_a_pour_is_the_bays_and_what_is_told_comes_in_its_place() -> None:
    work = work_of(SETUP, TOLD, MILD)
    assert (work.thickness_mm, start_of(work), work.end_ms) == (100.0, MONDAY_MS, MONDAY_MS + 2 * HOUR_MS)
    # The required ones of concrete; where it lies as a share of the bay's own thickness.
    assert work.points == (
        Point(SensorId("lg-01.1"), 0.5, edge=True),
        Point(SensorId("lg-02.1"), 0.5),
        Point(SensorId("lg-02.2"), 0.2),
        Point(SensorId("lg-03.1"), 0.5),
    )
    other = work_of(SETUP, replace(TOLD, pour_h=4.0, placing_c=12.0, thickness_mm=150.0), MILD)
    assert (other.thickness_mm, other.placing_c, other.placed_ms) == (150.0, 12.0, MONDAY_MS + 2 * HOUR_MS)
    assert other.points == work.points


def test_it_is_judged_by_the_plan_of_the_site_or_by_what_is_asked_in_its_place() -> None:
    judged = judged_by(SETUP, TOLD)
    assert "24 counted hours" in sentence(rule_of(judged, STRIP))
    assert judged.lowered_c == 0.0
    needs = Needs(STRIP, 12.0, 10.0, 5.0)
    rule = rule_of(judged_by(SETUP, replace(TOLD, needs=needs)), STRIP)
    assert sentence(rule).startswith("12 counted hours at or above 10.0 °C")
    inside = changed(SETUP, sensors=tuple(s for s in SETUP.site.bay[0].sensors if s.zone is not Zone.EXPOSED_EDGE))
    assert judged_by(inside, TOLD).lowered_c == 1.5


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (replace(TOLD, bay=BayId("9-b9")), "no bay '9-b9' is on the site file; it has 2-b1"),
        (replace(TOLD, mix="c50"), "no mix 'c50' is on the site file"),
        (replace(TOLD, heat=None), "mix c32-f has no heat data"),
        (replace(TOLD, heat=Heat("IV", 360.0, 0.5)), "no cement 'IV' is known: one of I, II, III, V"),
        (replace(TOLD, heat=Heat("I", math.nan, 0.5)), "100 to 800 kg/m3"),
        (replace(TOLD, heat=Heat("I", 360.0, 0.5, fly_ash=0.6, slag=0.5)), "the binder: fractions lie"),
    ],
)
def test_what_is_not_known_is_refused_and_how_to_mend_it_said(told: Told, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        work_of(SETUP, told, MILD)


def test_the_heat_of_the_mix_by_the_site_file_is_taken_where_none_is_told() -> None:
    settings = HeatSettings(cement="III", binder_kg_m3=400.0, water_binder=0.45)
    mix = SETUP.site.mix[0].model_copy(update={"heat": settings, "retarded": True})
    site = replace(SETUP, site=SETUP.site.model_copy(update={"mix": (mix,)}))
    work = work_of(site, replace(TOLD, heat=None), MILD)
    assert work.hydration == Heat("III", 400.0, 0.45).hydration()
    assert work_of(site, TOLD, MILD).hydration == HEAT.hydration()
    # A retarded mix is known less well.
    assert work.spread.ln_tau > work_of(SETUP, TOLD, MILD).spread.ln_tau


def test_a_mix_without_a_calibration_and_a_bay_without_a_sensor_are_refused() -> None:
    with pytest.raises(PlanError, match="mix c32-f has no calibration"):
        judged_by(replace(SETUP, calibrations={}), TOLD)
    air = changed(SETUP, sensors=tuple(s for s in SETUP.site.bay[0].sensors if s.zone is Zone.AIR))
    with pytest.raises(PlanError, match="no required sensor in its concrete"):
        work_of(air, TOLD, MILD)


@pytest.mark.parametrize("wrong", [{"pour_h": math.nan}, {"placing_c": 60.0}, {"thickness_mm": 5.0}])
def test_a_pour_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(PlanError, match=r"a pour takes|a slab is"):
        replace(TOLD, **wrong)  # type: ignore[arg-type]


def test_an_operation_of_which_no_hour_can_be_foreseen_is_refused() -> None:
    plan = SETUP.site.plan.model_copy(update={"also": (FULL_LOAD, UNCOVER)})
    judged = judged_by(replace(SETUP, site=SETUP.site.model_copy(update={"plan": plan})), TOLD)
    for operation in (FULL_LOAD, UNCOVER, Operation("drill")):
        with pytest.raises(PlanError, match="no hour can be foreseen; of strip, walk, load it can"):
            rule_of(judged, operation)
