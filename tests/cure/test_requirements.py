from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from cure.requirements import PLANS, All, Condition, allowed_load_kpa, clock_rule, strength_rule
from shared import units
from shared.models.base import LOAD, STRIP, WALK, Operation


@dataclass
class Found:
    """Evidence as a test wants it."""

    counted: float = 100.0
    coldest: float = 20.0
    bound: float = 20.0
    stripped: bool = True
    load: float | None = 2.0
    written: str | None = "consent.pdf"
    near: tuple[str, ...] = ()

    def counted_h(self, at_c: float) -> float:
        return self.counted if at_c in {5.0, 10.0} else math.nan

    def coldest_through_c(self, hours: float) -> float:
        return self.coldest if hours == 1.0 else math.nan

    def lower_bound_mpa(self) -> float:
        return self.bound

    def done(self, operation: Operation) -> bool:
        return operation == STRIP and self.stripped

    def construction_load_kpa(self) -> float | None:
        return self.load

    def consent(self) -> str | None:
        return self.written

    def stripping_near(self) -> tuple[str, ...]:
        return self.near


def met(condition: Condition, **found: object) -> bool:
    return all(f.met for f in condition.findings(Found(**found)))  # type: ignore[arg-type] # fields of Found


COMMON = PLANS["common-practice"]
CLOCK = PLANS["clock-or-strength"]
STRICT = PLANS["strict"]
JUST = 1e-9

# Common practice, no source: 24 h, 5 degC (40 degF), 3.5 MPa (500 psi), 48 h, 7 MPa (1000 psi).
LIMITS = [
    ("24 h", COMMON[STRIP], "counted", 24.0),
    ("24 h, walk", COMMON[WALK], "counted", 24.0),
    ("5 degC / 40 degF", COMMON[STRIP], "coldest", 5.0),
    ("3.5 MPa / 500 psi", COMMON[STRIP], "bound", 3.5),
    ("7 MPa / 1000 psi", COMMON[LOAD], "bound", 7.0),
    ("10 degC, strict", STRICT[STRIP], "coldest", 10.0),
]


@pytest.mark.parametrize(("name", "condition", "field", "limit"), LIMITS, ids=[x[0] for x in LIMITS])
def test_a_common_practice_limit_is_met_at_and_over_it_and_not_just_under(
    name: str, condition: Condition, field: str, limit: float
) -> None:
    assert met(condition, **{field: limit}), name
    assert met(condition, **{field: limit * (1 + JUST)}), name
    assert not met(condition, **{field: limit * (1 - JUST)}), name


@pytest.mark.parametrize(("counted", "wanted"), [(48.0, True), (48.0 + JUST, True), (48.0 - 1e-6, False)])
def test_forty_eight_counted_hours_allow_a_light_load_below_seven_mpa(counted: float, wanted: bool) -> None:
    # Common practice, no source: 48 h.
    assert met(CLOCK[LOAD], counted=counted, bound=5.0) is wanted
    assert not met(COMMON[LOAD], counted=counted, bound=5.0)


def test_the_light_load_needs_five_mpa_and_the_written_consent() -> None:
    assert not met(CLOCK[LOAD], counted=48.0, bound=5.0 - 1e-9)
    assert not met(CLOCK[LOAD], counted=48.0, bound=5.0, written=None)
    assert met(CLOCK[LOAD], counted=0.0, bound=7.0, written=None)


def test_until_seven_mpa_the_load_is_light() -> None:
    assert allowed_load_kpa(Found(bound=6.9, load=2.4)) == 1.0
    assert allowed_load_kpa(Found(bound=7.0, load=2.4)) == 2.4
    assert allowed_load_kpa(Found(bound=math.nan, load=2.4)) == 1.0
    assert allowed_load_kpa(Found(load=None)) is None


def test_the_stricter_of_each_pair_is_stored() -> None:
    # Common practice, no source: 500 psi and 3.5 MPa, 1000 psi and 7 MPa, 40 degF and 5 degC are not the same.
    assert units.psi_to_mpa(500.0) < 3.5
    assert units.psi_to_mpa(1000.0) < 7.0
    assert units.f_to_c(40.0) < 5.0


@pytest.mark.row("E3")
@pytest.mark.parametrize("plan", PLANS)
@pytest.mark.parametrize("field", ["counted", "coldest", "bound"])
def test_what_is_no_number_is_never_met(plan: str, field: str) -> None:
    assert not met(PLANS[plan][STRIP], **{field: math.nan})
    findings = PLANS[plan][STRIP].findings(Found(**{field: math.nan}))  # type: ignore[arg-type] # fields of Found
    assert "not known" in " ".join(f.explain() for f in findings)


@pytest.mark.parametrize("plan", PLANS)
def test_load_needs_the_strip_done_the_load_on_file_and_nobody_stripping(plan: str) -> None:
    load = PLANS[plan][LOAD]
    assert met(load)
    assert not met(load, stripped=False)
    assert not met(load, load=None)
    assert not met(load, near=("2-b2",))


@pytest.mark.parametrize("plan", PLANS)
def test_nobody_walks_where_a_strip_is_under_way(plan: str) -> None:
    assert met(PLANS[plan][WALK])
    assert not met(PLANS[plan][WALK], near=("2-b2",))
    assert met(PLANS[plan][STRIP], near=("2-b2",))


def test_a_requirement_prints_itself_as_one_sentence() -> None:
    assert str(COMMON[STRIP]) == (
        "24 counted hours at or above 5.0 °C (41.0 °F); at or above 5.0 °C (41.0 °F) through the last 1 h; "
        "lower bound of strength 3.5 MPa (508 psi)"
    )
    for plan in PLANS.values():
        assert all("\n" not in str(condition) and str(condition) for condition in plan.values())


def test_temperature_of_the_last_hour_is_momentary_and_hours_and_strength_last() -> None:
    lasting = [f.lasting for f in COMMON[STRIP].findings(Found())]
    assert lasting == [True, False, True]


def test_the_clock_and_strength_rules_are_found_only_where_they_always_hold() -> None:
    hours, strength = clock_rule(COMMON[WALK]), strength_rule(COMMON[WALK])
    assert hours is not None
    assert strength is not None
    assert (hours.hours, strength.mpa) == (24.0, 3.5)
    assert clock_rule(CLOCK[LOAD]) is None
    assert strength_rule(All(())) is None
