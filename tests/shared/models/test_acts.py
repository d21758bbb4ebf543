from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from store_support import make_calibration

from shared.models.acts import Act, Lift, PourEnd, Sign, act_from, act_to, ms
from shared.models.decisions import HoldKind

AT = "2026-11-24T08:40:00-04:00"
ACTS: list[dict[str, Any]] = [
    {"kind": "pour_start", "bay": "2-b1", "pour": "2-b1-p1", "happened": "2026-11-24T07:55:00-04:00"},
    {"kind": "pour_end", "pour": "2-b1-p1", "second_person": "qc-one", "why": "written down wrongly"},
    {"kind": "sign", "pour": "2-b1-p1", "operations": ["strip", "walk"]},
    {"kind": "under_way", "pour": "2-b1-p1", "operation": "strip"},
    {"kind": "done", "pour": "2-b1-p1", "operation": "strip"},
    {"kind": "stop", "pour": "2-b1-p1", "why": "crack at grid 7"},
    {"kind": "forms_off", "pour": "2-b1-p1"},
    {"kind": "lift", "pour": "2-b1-p1", "hold": "freeze suspected", "surface_c": 4.5, "why": "measured"},
    {"kind": "reopen", "pour": "2-b1-p1", "operation": "strip", "cause": "sensor mistaken"},
    {"kind": "confirm", "message": 12},
    {
        "kind": "second_check",
        "pour": "2-b1-p1",
        "mix": "c32-f",
        "ticket": "48113",
        "end": "2026-11-24T08:30:00-04:00",
        "loggers_alive": True,
        "plan_seen": False,
    },
    {"kind": "mix", "pour": "2-b1-p1", "mix": "c25", "second_person": "qc-one", "why": "ticket 48113"},
    {"kind": "test_result", "pour": "2-b1-p1", "method": "cylinder", "mpa": 4.5, "equivalent_age_h": 30.5},
    {"kind": "want", "pour": "2-b1-p1", "operation": "strip", "wanted": "2026-11-25T06:30:00-04:00"},
    {"kind": "cover", "pour": "2-b1-p1", "on": True, "happened": "2026-11-24T07:55:00-04:00"},
    {"kind": "heat", "pour": "2-b1-p1", "on": True, "below_c": 10.0},
    {
        "kind": "ticket",
        "pour": "2-b1-p1",
        "number": "48113",
        "mix": "c32-f",
        "batched": "2026-11-24T07:40:00-04:00",
        "place": "grid C4",
        "dose_class": "1 % accelerator",
        "water_l": 20.0,
        "withheld_l": 30.0,
        "air_percent": 6.2,
        "temperature_c": 14.5,
        "photo": "0" * 64,
    },
    {"kind": "form_set", "form_set": "set-a", "bay": "2-b1", "waits": "2-b2"},
    {"kind": "document", "name": "engineer's consent", "reference": "letter 12, revision 2", "bay": "2-b1"},
    {
        "kind": "require",
        "requirement": {
            "operation": "strip",
            "all": [{"any": [{"lower_bound_mpa": 4.0}, {"all": [{"tested_mpa": 5.0}, {"age_h": 36.0}]}]}],
            "signed_by": ["engineer"],
        },
        "second_person": "qc-one",
        "why": "long span at grid 7",
    },
    {
        "kind": "place_sensor",
        "sensor": "lg-07.1",
        "bay": "2-b1",
        "zone": "exposed edge",
        "position": "grid C4, 100 mm from the edge",
        "depth_mm": 50,
        "happened": "2026-11-24T07:10:00-04:00",
        "second_person": "qc-one",
    },
    {"kind": "remove_sensor", "sensor": "lg-07.1", "second_person": "qc-one", "why": "cable cut"},
    {
        "kind": "calibration",
        "calibration": make_calibration(version=2).model_dump(mode="json"),
        "second_person": "qc-one",
        "why": "new cement",
    },
    {"kind": "screen_again", "sensor": "lg-01.1", "why": "its placement was entered"},
    {
        "kind": "hand_reading",
        "pour": "2-b1-p1",
        "temperature_c": 7.5,
        "position": "grid C4, under the blanket",
        "zone": "exposed edge",
        "under_insulation": True,
    },
    {"kind": "resume", "doubt": "clock", "why": "set by hand"},
    {"kind": "silence", "until": "2026-11-24T16:00:00-04:00", "why": "crane inspection"},
    {"kind": "resend", "message": 12, "recipient": "super"},
    {"kind": "test_channels", "recipient": "super"},
    {"kind": "make_token", "name": "hut screen", "person": "super", "scopes": ["read"], "digest": "0" * 64},
    {"kind": "end_token", "token": 3},
    {"kind": "take_over", "seen": "0123456789ab", "note": "covers are short"},
    {"kind": "take_back", "pour": "2-b1-p1", "why": "wrong bay"},
]


def whole(act: dict[str, Any]) -> dict[str, Any]:
    return {"at": AT, "who": "super", **act}


def test_there_is_an_example_of_every_kind_of_act() -> None:
    kinds = {act.model_fields["kind"].default for act in get_args(Act)}
    assert kinds == {act["kind"] for act in ACTS}


@pytest.mark.parametrize("written", ACTS, ids=lambda act: str(act["kind"]))
def test_an_act_written_out_reads_back_the_same(written: dict[str, Any]) -> None:
    act = act_from(whole(written))
    assert act_from(json.loads(json.dumps(act_to(act)))) == act
    assert act.kind == written["kind"]
    assert act.at_ms == 1_795_524_000_000


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValidationError, match="kind"):
        act_from(whole({"kind": "release", "pour": "2-b1-p1"}))
    with pytest.raises(ValidationError, match="kind"):
        act_from(whole({"pour": "2-b1-p1"}))


@pytest.mark.row("C4")
@pytest.mark.parametrize("field", ["at", "happened"])
def test_an_hour_without_a_zone_is_refused(field: str) -> None:
    with pytest.raises(ValidationError, match="timezone"):
        act_from(whole({"kind": "pour_end", "pour": "2-b1-p1"}) | {field: "2026-11-24T08:40:00"})


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "sign", "pour": "2-b1-p1", "operations": []},
        {"kind": "stop", "pour": "2-b1-p1", "why": ""},
        {"kind": "stop", "pour": "2-b1-p1", "why": "two\nlines"},
        {"kind": "stop", "pour": "../2", "why": "x"},
        {"kind": "forms_off", "pour": "2-b1-p1", "released": True},
        {"kind": "lift", "pour": "2-b1-p1", "hold": "boredom", "why": "x"},
        {"kind": "lift", "pour": "2-b1-p1", "hold": "freeze locked", "surface_c": "nan", "why": "x"},
        {"kind": "confirm", "message": 0},
        {"kind": "confirm", "message": 1, "told": ""},
        {"kind": "second_check", "pour": "p1", "mix": "c32-f", "ticket": "1", "end": AT, "loggers_alive": True},
        {"kind": "mix", "pour": "p1", "mix": "c25", "why": "one person alone"},
        {"kind": "test_result", "pour": "p1", "method": "hammer", "mpa": 4.5},
        {"kind": "test_result", "pour": "p1", "method": "cylinder", "mpa": "inf"},
        {"kind": "document", "name": "", "reference": "letter 12"},
        {"kind": "require", "requirement": {"operation": "strip", "all": []}, "second_person": "qc", "why": "x"},
        {
            "kind": "require",
            "requirement": {"operation": "strip", "all": [{"lower_bound_mpa": 0.35}]},
            "second_person": "qc",
            "why": "a slip of the hand",
        },
        {"kind": "require", "requirement": {"operation": "strip", "all": [{"age_h": 24}]}, "why": "one person alone"},
        {"kind": "place_sensor", "sensor": "lg-07", "bay": "2-b1", "zone": "top"},
        {"kind": "place_sensor", "sensor": "lg-07.1", "bay": "2-b1", "zone": "somewhere"},
        {"kind": "place_sensor", "sensor": "lg-07.1", "bay": "2-b1", "zone": "top", "depth_mm": -1},
        {"kind": "remove_sensor", "sensor": "lg-07.1"},
        {"kind": "hand_reading", "pour": "p1", "temperature_c": "nan", "position": "C4"},
        {"kind": "hand_reading", "pour": "p1", "temperature_c": 61, "position": "C4"},
        {"kind": "hand_reading", "pour": "p1", "temperature_c": 7.5},
        {"kind": "resume", "doubt": "weather", "why": "x"},
        {"kind": "silence", "why": "for ever"},
        {"kind": "resend", "message": 0},
    ],
)
def test_what_an_act_cannot_hold_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        act_from(whole(wrong))


def test_the_same_instant_in_two_zones_is_the_same_millisecond() -> None:
    utc = datetime(2026, 11, 24, 12, 40, tzinfo=UTC)
    assert ms(utc) == ms(utc.astimezone(timezone(timedelta(hours=-4)))) == 1_795_524_000_000


@given(st.datetimes(datetime(2020, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001 - bounds are naive
def test_an_hour_is_kept_to_the_millisecond(at: datetime) -> None:
    act = PourEnd(at=at, who="super", pour="p1")
    back = act_from(act_to(act))
    assert back == act
    assert abs(back.at_ms - at.timestamp() * 1000.0) <= 0.5


def test_acts_cannot_be_changed_afterwards() -> None:
    act = Sign(at=datetime(2026, 11, 24, tzinfo=UTC), who="super", pour="p1", operations=("strip",))
    with pytest.raises(ValidationError, match="frozen"):
        act.who = "someone"  # type: ignore[misc]  # the very thing that must fail
    lift = act_from(whole(ACTS[7]))
    assert isinstance(lift, Lift)
    assert lift.hold is HoldKind.FREEZE_SUSPECTED
