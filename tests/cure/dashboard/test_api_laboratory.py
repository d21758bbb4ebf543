"""The laboratory's work and the engineer's, by other software: seen before it is signed, and signed by who is there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from api_support import V1, Office, office
from mixes_support import BREAKS

from deploy.demo.scenario import SITE_FILE

PROGRAMME = {
    "breaks": BREAKS,
    "dose_class": "none",
    "supplier": "plant",
    "laboratory": "lab",
    "made_on": "2026-10-19",
}
WISHED = {"operation": "strip", "needs": ["counted_h = 30.0, at_c = 5.0", "lower_bound_mpa = 5.0"], "bay": "2-b1"}


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("own")) as found:
        for person in ("qc-one", "engineer"):
            found.join(person)
        yield found


def do(own: Office, path: str, body: Any, person: str) -> Any:
    return own.do(path, body, token=own.token("act", "sign", person=person))


def test_a_requirement_is_signed_as_its_changes_were_seen(own: Office) -> None:
    before = {one["operation"]: one for one in own.read("requirements")["items"] if one["bay"] == "2-b1"}
    assert before["strip"]["lines"] == [
        "counted_h = 24.0, at_c = 5.0",
        "warm_h = 1.0, at_c = 5.0",
        "lower_bound_mpa = 3.5",
    ]
    seen = do(own, "requirements/preview", WISHED, "engineer").json()
    assert [(change["bay"], change["before"], change["after"]) for change in seen["changes"]] == [
        ("2-b1", "met", "curing")
    ]
    assert seen["changes"][0]["missed"][0]["met"] is False
    signed = {**WISHED, "seen": seen["seen"], "second_person": "qc-one", "why": "thin edge", **own.proof()}
    for change, status in (
        ({"needs": ["age_h = 1.0"]}, 409),
        ({"needs": ["strength = 1.0"]}, 422),
        ({"bay": "9-b9"}, 422),
        ({"signed_by": ["crew"]}, 422),
        ({"password": "guess"}, 403),
    ):
        assert do(own, "requirements", {**signed, **change}, "engineer").status_code == status, change
    assert own.read("requirements/history")["items"] == []
    done = do(own, "requirements", signed, "engineer")
    assert (done.status_code, done.json()["done"]["bay"]) == (200, "2-b1")
    assert "code" not in done.text.replace("encode", "")
    [written] = own.read("requirements/history")["items"]
    assert (written["who"], written["second_person"], written["operation"]) == ("engineer", "qc-one", "strip")
    now = {one["operation"]: one["lines"] for one in own.read("requirements")["items"] if one["bay"] == "2-b1"}
    assert now["strip"] == WISHED["needs"]
    assert own.ask("GET", f"{V1}/requirements/history?cursor=x", own.token("read")).status_code == 422


def test_a_programme_is_fitted_and_put_in_force_as_it_was_seen_by_who_proves_to_be_there(own: Office) -> None:
    fit = do(own, "mixes/c32-f/calibrate", PROGRAMME, "qc-one").json()
    assert (fit["verdict"], fit["version"]) == ("fit for release", 2)
    assert {reach["mpa"] for reach in fit["reaches"]} >= {3.5}
    assert [(pour["bay"], pour["keeps"]) for pour in fit["pours"]] == [("2-b1", 1)]
    signed = {**PROGRAMME, "digest": fit["digest"], "second_person": "engineer", "why": "new cement", **own.proof()}
    for change, status in (
        ({"digest": "0" * 64}, 409),
        ({"breaks": BREAKS.replace("4.10", "4.15")}, 409),
        ({"breaks": "nothing"}, 422),
        ({"code": "000000"}, 403),
        ({"why": ""}, 422),
    ):
        answer = do(own, "mixes/c32-f/put-in-force", {**signed, **change}, "qc-one")
        assert (answer.status_code, own.read("calibrations")["items"][0]["version"]) == (status, 1), change
    assert do(own, "mixes/none/calibrate", PROGRAMME, "qc-one").status_code == 404
    done = do(own, "mixes/c32-f/put-in-force", signed, "qc-one")
    assert (done.status_code, done.json()["done"]["calibration"]["version"]) == (200, 2)
    assert [c["version"] for c in own.read("calibrations")["items"] if c["in_force"]] == [2]


def test_cubes_thresholds_and_what_is_said_of_batches_come_into_the_fit_as_on_the_page(own: Office) -> None:
    cubes = Path(SITE_FILE).with_name("cubes.csv").read_text(encoding="utf-8")
    of_batches = {"own_cylinders": True, "narrow_to_percent": 7.5, "narrow_from": 6, "batch_sd_percent": 12}
    asked = {**PROGRAMME, "cubes": cubes, "thresholds_mpa": [3.5, 14], **of_batches}
    fit = do(own, "mixes/c32-f/calibrate", asked, "qc-one").json()
    assert {reach["mpa"] for reach in fit["reaches"]} == {3.5, 14.0}
    assert (fit["cubes"]["number"], fit["cubes"]["verdict"]) == (54, "fit for release")
    assert [rate["celsius"] for rate in fit["cubes"]["rates"]] == [8.0, 23.0, 38.0]
    made = fit["calibration"]
    assert made["activation_energy_kj_per_mol"] == pytest.approx(fit["cubes"]["energy_kj_per_mol"], abs=0.05)
    assert made["own_cylinders"] == {"narrow_to_percent": 7.5, "narrow_from": 6}
    assert made["batch_sd_percent"] == 12.0
    for wrong in ({"thresholds_mpa": [500]}, {"narrow_to_percent": 5}, {"narrow_to_percent": None}, {"cubes": "x"}):
        assert do(own, "mixes/c32-f/calibrate", {**asked, **wrong}, "qc-one").status_code == 422, wrong


def test_what_cannot_be_read_is_said_in_the_language_of_whose_software_asks(
    own: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = own.parts.parts.board.site()
    people = tuple(p.model_copy(update={"language": "fr"}) if p.id == "qc-one" else p for p in site.recipient)
    monkeypatch.setattr(own.parts.parts.board, "site", lambda: site.model_copy(update={"recipient": people}))
    asked = {**PROGRAMME, "breaks": "specimen,age_h,strength_mpa\na,12,4 MPa\n"}
    for person, told in (("qc-one", "ruptures, ligne 2 : strength_mpa"), ("engineer", "breaks:2: strength_mpa")):
        answer = do(own, "mixes/c32-f/calibrate", asked, person)
        assert (answer.status_code, told in answer.json()["detail"]) == (422, True)


def test_results_are_entered_and_read_and_make_something_of_the_calibration(own: Office) -> None:
    for mpa in (11.0, 11.4):
        result = {"pour": "2-b1-p1", "method": "cylinder", "mpa": mpa, "equivalent_age_h": 26.0}
        assert do(own, "acts/test-result", result, "qc-one").status_code == 200
    first = own.read("test-results", limit=1)
    [second] = own.read("test-results", cursor=first["next"])["items"]
    assert (first["items"][0]["mpa"], second["mpa"], second["who"]) == (11.0, 11.4, "qc-one")
    told = own.read("verification")
    assert [(mix["version"], len(mix["sets"])) for mix in told["mixes"]] == [(1, 1), (2, 0)]
    assert "not a strength of the structure" in told["caution"]
