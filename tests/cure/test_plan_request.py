"""What is asked before a pour: a number outside its limits, or one that would do nothing, is refused by its name."""

from __future__ import annotations

import math
from typing import Any

import pytest

from cure.plan_limits import RANGES, USUAL
from cure.plan_request import BESIDE, NOT_BESIDE, TOGETHER, Case, Least, Request, Sequence, Window, check, faults, read
from shared.errors import PlanError

START = "2026-12-01T08:00:00-04:00"
LATER = "2026-12-02T08:00:00-04:00"
FIRST: dict[str, Any] = {"bay": "2-b1", "start": START}
THEN = {"then": [{"bay": "2-b2", "start": LATER}]}
HEAT = {"cement": "I", "binder_kg": 360, "water_binder": 0.5}


def refused(**said: Any) -> str:
    with pytest.raises(PlanError) as error:
        check(read({**FIRST, **said}))
    return str(error.value)


@pytest.mark.parametrize("name", RANGES)
def test_each_number_is_refused_outside_its_limits_and_where_it_is_none(name: str) -> None:
    least, most = RANGES[name]
    of: dict[str, Any] = {}
    for wrong in (math.nextafter(least, -math.inf), math.nextafter(most, math.inf), math.nan):
        of = {name: wrong}
        if name == "every_h":
            of = {"window": {"until": LATER, name: wrong}}
        if name == "turnaround_h":
            of = {"sequence": {**THEN, name: wrong}}
        assert refused(**of) == f"{name}: a number from {least:g} to {most:g}"
    assert least <= USUAL.get(name, least) <= most


def test_what_is_wrong_is_told_all_at_once_as_it_is_spelt_where_it_was_asked() -> None:
    with pytest.raises(PlanError) as error:
        read({**FIRST, "pour_h": 99, "least": {"covers": [11]}, "colour": "grey"}, lambda name: f"--{name}")
    assert str(error.value) == (
        "--pour_h: a number from 0.25 to 24; --covers: a number from 0 to 10; --colour: Extra inputs are not permitted"
    )


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"cement": "I"}, "cement: binder_kg and water_binder too, or none of them"),
        ({"low_c": 2}, "low_c: high_c too, or neither"),
        ({"needs_h": 24, "needs_c": 5}, "needs_h: needs_mpa too, or neither; needs_c: needs_mpa too, or neither"),
        ({"fly_ash": 0.2}, "fly_ash: binder_kg too, or neither"),
        ({"slag": 0.2}, "slag: binder_kg too, or neither"),
        ({"wind_m_s": 4}, "wind_m_s: low_c too, or neither"),
        ({"cover_on_h": 2}, "cover_on_h: cover_r too, or neither"),
        ({"cover_r": 0, "cover_for_h": 24}, "cover_for_h: cover_r too, or neither"),
        ({"below_for_h": 24}, "below_for_h: below_c too, or neither"),
        ({"least": {}, "cover_r": 0.3}, "cover_r: beside least it would change nothing: leave one of them out"),
        ({"least": {}, "below_c": 5}, "below_c: beside least it would change nothing: leave one of them out"),
        ({"sequence": THEN, "wanted": LATER}, "wanted: beside sequence it would change nothing"),
        ({"sequence": THEN, "least": {}}, "least: beside sequence it would change nothing"),
        ({"window": {"until": LATER}, "least": {}}, "window: beside least it would change nothing"),
        ({**HEAT, "fly_ash": 0.6, "slag": 0.4}, "fly ash and slag together are at most 0.9 of the binder"),
    ],
)
def test_what_would_not_be_reckoned_with_is_refused(said: dict[str, Any], why: str) -> None:
    assert why in refused(**said)


def test_what_counts_is_taken() -> None:
    for said in (
        {},
        {**HEAT, "fly_ash": 0.2, "low_c": 2, "high_c": 8, "wind_m_s": 4},
        {"cover_r": 0.35, "cover_on_h": 3, "cover_for_h": 24, "below_c": 10, "below_for_h": 24},
        {"least": {"covers": [], "heatings": [5]}, "cover_on_h": 4, "wanted": LATER},
        {"window": {"until": LATER}, "cover_r": 0.35},
        {"sequence": THEN, "chance": 0.7, "cover_on_h": None},
    ):
        assert faults(read({**FIRST, **said})) == ()


def test_every_field_has_its_limits_and_every_rule_is_of_fields() -> None:
    fields = {*Request.model_fields}
    assert {name for group in TOGETHER for name in group} <= fields
    assert {*BESIDE, *NOT_BESIDE} | {
        o for of in (BESIDE, NOT_BESIDE) for others in of.values() for o in others
    } <= fields
    numbers = {
        name
        for model in (Case, Least, Window, Sequence)
        for name, field in model.model_fields.items()
        if field.annotation in (float, float | None)
    }
    assert numbers == RANGES.keys()
