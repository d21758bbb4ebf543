"""What a record prints and carries, before it is set."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from cure_support import site_of_all
from record_support import held, released, withdrawn

from cure.dashboard.record_facts import RECORDED, Source, decision_json, printed, readings_csv, sheet
from shared.models.messages import PERMITS, MessageKind


def rows(source: Source) -> dict[str, str]:
    return dict(printed(source, "00")["rows"])


def test_a_release_says_who_signed_what_is_not_allowed_and_what_it_rests_on() -> None:
    source = released()
    found, told = printed(source, "00"), rows(source)
    assert found["verdict"] == "Bay 2-b1, strip: requirement met, released"
    assert told["Signed by"] == "qc"
    assert told["Not allowed by this record"] == "walk, load"
    assert told["Exclusions"] == "none"
    assert told["Readings attached"] == "those that the decision rested on"
    assert str(source.message.facts["snapshot"]) in told["Snapshot"]
    assert not found["shut"]
    assert {met for _, _, met in found["findings"]} == {"met"}


def test_a_withdrawal_says_why_and_nothing_of_permission() -> None:
    found, told = printed(withdrawn(), "00"), rows(withdrawn())
    assert found["verdict"] == "Bay 2-b1, strip: WITHDRAWN"
    assert found["shut"]
    assert "crack at grid 7" in told["Cause"]
    assert "Not allowed by this record" not in told


def test_a_hold_says_what_is_doubted_whose_it_is_and_how_it_is_lifted() -> None:
    found, told = printed(held(), "00"), rows(held())
    assert found["verdict"] == "Bay 2-b1, whole pour: ON HOLD"
    assert {"Reason", "To be lifted by", "How"} <= set(told)


def test_readings_that_changed_since_are_named() -> None:
    source = released()
    sensor = source.view.evidence.sensors[0]
    colder = replace(sensor.raw, milli_c=sensor.raw.milli_c - 1)
    others = (replace(sensor, raw=colder), *source.view.evidence.sensors[1:])
    view = replace(source.view, evidence=replace(source.view.evidence, sensors=others))
    told = rows(replace(source, view=view))
    assert told["Readings attached"] == f"CHANGED since the decision: {sensor.placement.sensor}"


def test_every_reading_is_there_to_the_thousandth_as_it_was_read() -> None:
    source = released()
    text = readings_csv(source.view).decode()
    found = list(csv.DictReader(io.StringIO(text)))
    for placement, read in source.view.placed():
        own = [row["temperature_c"] for row in found if row["sensor"] == placement.sensor]
        assert [round(float(c) * 1000) for c in own] == read.milli_c.tolist()
    assert found[0]["taken_at"].endswith("+00:00")


@pytest.mark.parametrize("milli_c", [-1, -999, -12_345, 0, 5, 70_001])
def test_a_reading_below_zero_keeps_its_sign(milli_c: int) -> None:
    source = released()
    (sensor, read), *_ = ((p.sensor, s) for p, s in source.view.placed())
    series = {**source.view.series, sensor: replace(read, milli_c=read.milli_c * 0 + milli_c)}
    text = readings_csv(replace(source.view, series=series)).decode()
    row = next(r for r in csv.DictReader(io.StringIO(text)) if r["sensor"] == sensor)
    assert round(float(row["temperature_c"]) * 1000) == milli_c


def test_the_decision_carries_its_facts_and_no_drawing() -> None:
    source = released()
    body = json.loads(decision_json(source, "ab"))
    assert body["facts"]["findings"] == source.message.facts["findings"]
    assert "chart" not in body["facts"]
    assert (body["record"], body["check_code"], body["readings_sha256"]) == (42, source.message.code, "ab")


def test_nothing_of_it_depends_on_when_it_is_made() -> None:
    source = released()
    assert sheet(source) == sheet(source)
    assert sheet(source).at.timestamp() * 1000 == source.message.at_ms


def test_a_site_in_us_units_gets_its_paper_and_its_units_first() -> None:
    site = site_of_all()
    us = site.model_copy(update={"site": site.site.model_copy(update={"units": "US"})})
    found = printed(released(us), "00")
    assert found["paper"] == "us-letter"
    assert "psi" in found["pictures"][0]["svg"]
    assert "(100 mm)" in found["about"]


def test_whatever_permits_or_shuts_a_gate_has_a_record_but_a_request_has_none() -> None:
    assert PERMITS - set(RECORDED) == {MessageKind.SIGN_OFF_WANTED}
