from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pyarrow.parquet as pq
import pytest
from deploy_support import END_MS, POUR, START, START_MS, history, little_service, poured, run

from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.exporting import DECISIONS, FIRST_MS, LAST_MS, Wanted, _decision, _spans
from deploy.replay import read_readings
from shared.models.acts import instant
from shared.models.base import HOUR_MS, BayId, SensorId
from shared.models.decisions import LogEntry, Placement
from shared.models.readings import Reading
from shared.models.setup import Zone

HOURS = 26.0


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with a pour, whose strip is met."""
    folder = tmp_path_factory.mktemp("exported")
    readings = history(HOURS)
    with little_service(folder) as (service, clock):
        for one in poured():
            clock.set(one.at_ms)
            service.apply(one)
        clock.set(readings[-1].received_ms)
        service.intake.take_rows(readings)
        service.tick()
        clock.set(clock.now() + 61_000)
        service.tick()
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def export(capsys: pytest.CaptureFixture[str], site: Path, what: str, out: Path, *more: str) -> list[dict[str, str]]:
    ran = run(capsys, ["export", site / "site.toml", what, "--out", out, *more, "--json"])
    assert ran.code == DONE, ran.err
    found = rows(out)
    assert ran.json() == {"file": str(out), "rows": len(found)}
    return found


def test_readings_have_degrees_and_the_thousandths_that_are_stored(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = export(capsys, site, "readings", tmp_path / "r.csv")
    assert len(found) == len(history(HOURS))
    assert found[0] == {
        "sensor": "lg-01.1",
        "taken_at": "2026-11-23T08:00:00.000-04:00",
        "temperature_c": "18.0",
        "received_at": "2026-11-23T08:00:01.000-04:00",
        "temperature_milli_c": "18000",
        "bay": "2-b1",
        "zone": "exposed edge",
    }


def test_readings_that_are_exported_can_be_replayed(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    export(capsys, site, "readings", tmp_path / "r.csv")
    assert sorted(read_readings(tmp_path / "r.csv")) == sorted(history(HOURS))


def test_the_same_readings_come_out_in_every_kind_of_file(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = export(capsys, site, "readings", tmp_path / "r.csv")
    for name in ("r.parquet", "r.xlsx"):
        assert run(capsys, ["export", site / "site.toml", "readings", "--out", tmp_path / name]).code == DONE
    sheet = openpyxl.load_workbook(tmp_path / "r.xlsx").active
    assert [row[1] for row in sheet.iter_rows(min_row=2, values_only=True)] == [row["taken_at"] for row in found]
    table = pq.read_table(tmp_path / "r.parquet").to_pylist()
    assert [row["temperature_milli_c"] for row in table] == [int(row["temperature_milli_c"]) for row in found]
    read_back: list[Reading] = read_readings(tmp_path / "r.parquet")
    assert sorted(read_back) == sorted(history(HOURS))


def test_from_and_to_are_both_included_and_sensor_and_bay_choose(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = instant(START_MS + HOUR_MS).isoformat()
    out = tmp_path / "r.csv"
    some = export(
        capsys, site, "readings", out, "--from", START, "--to", to, "--sensor", "lg-01.1", "--sensor", "lg-09.1"
    )
    assert [row["sensor"] for row in some] == ["lg-01.1"] * 5 + ["lg-09.1"] * 5
    assert export(capsys, site, "readings", out, "--bay", "2-b2") == []
    assert len(export(capsys, site, "readings", out, "--bay", "2-b1")) == len(history(HOURS))


def test_the_newest_estimate_of_each_open_pour_comes_with_its_units(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = export(capsys, site, "estimates", tmp_path / "e.csv")
    assert (row["pour"], row["bay"], row["floor"], row["mix"]) == (POUR, "2-b1", "2", "c32-f")
    assert float(row["age_h"]) == pytest.approx(25.0, abs=0.1)
    assert float(row["coldest_c"]) == 18.0
    assert float(row["lower_bound_mpa"]) > 3.5
    assert float(row["counted_h_from_5_c"]) == pytest.approx(25.0, abs=0.3)
    assert export(capsys, site, "estimates", tmp_path / "e.csv", "--bay", "2-b2") == []
    assert export(capsys, site, "estimates", tmp_path / "e.csv", "--to", START) == []


def test_every_step_of_a_gate_comes_with_its_findings(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = export(capsys, site, "decisions", tmp_path / "d.csv")
    strip = [row for row in found if row["operation"] == "strip"]
    assert [(row["what"], row["from"], row["to"]) for row in strip] == [
        ("gate", "not set up", "curing"),
        ("gate", "curing", "met"),
    ]
    assert (strip[-1]["bay"], strip[-1]["pour"]) == ("2-b1", POUR)
    assert "needs 24.0 h - met" in strip[-1]["findings"]
    assert strip[-1]["evidence_to"].startswith("2026-11-24T10:")
    late = export(capsys, site, "decisions", tmp_path / "d.csv", "--from", instant(END_MS + HOUR_MS).isoformat())
    assert [row["to"] for row in late if row["operation"] == "strip"] == ["met"]
    assert export(capsys, site, "decisions", tmp_path / "d.csv", "--bay", "2-b2") == []


def test_it_reads_beside_a_running_service(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with little_service(tmp_path, START_MS + HOUR_MS) as (service, _):
        service.intake.take_rows(history(1))
        assert len(export(capsys, tmp_path, "readings", tmp_path / "r.csv")) == len(history(1))


def test_what_cannot_be_exported_is_a_sentence(site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    base: list[str | Path] = ["export", site / "site.toml"]
    wrong = run(capsys, [*base, "decisions", "--out", tmp_path / "d.csv", "--sensor", "lg-01.1"])
    assert (wrong.code, "--sensor is for readings" in wrong.err) == (WRONG_USAGE, True)
    assert run(capsys, [*base, "everything", "--out", tmp_path / "d.csv"]).code == WRONG_USAGE
    kind = run(capsys, [*base, "decisions", "--out", tmp_path / "d.ods"])
    assert (kind.code, "must end in one of" in kind.err) == (REFUSED, True)
    fresh = run(capsys, [*base, "readings", "--out", tmp_path / "r.csv", "--data", tmp_path / "none"])
    assert (fresh.code, "start slabhour there first" in fresh.err) == (REFUSED, True)


def test_a_hold_is_a_decision_without_an_operation() -> None:
    body = {"pour": POUR, "hold": "conflicting readings", "event": "opened", "reason": "two values"}
    row = _decision(7, LogEntry(START_MS, "slabhour", "hold", body), {POUR: "2-b1"})
    assert dict(zip([column.name for column in DECISIONS], row, strict=True)) == {
        "log_line": 7,
        "at": START_MS,
        "what": "hold",
        "bay": "2-b1",
        "pour": POUR,
        "operation": "",
        "from": "",
        "to": "conflicting readings opened",
        "epoch": None,
        "who": "slabhour",
        "reason": "two values",
        "evidence_to": None,
        "findings": "",
    }


def test_a_reading_goes_with_the_placement_of_its_hour_and_none_is_left_out() -> None:
    def placed(bay: str, from_ms: int, to_ms: int | None) -> Placement:
        return Placement(SensorId("lg-01.1"), BayId(bay), Zone.TOP, 50, 900, True, from_ms, to_ms)

    both = [placed("b", 500, None), placed("a", 100, 400)]
    whole = Wanted(FIRST_MS, LAST_MS, (), ())
    assert [(p.bay, begin, end) for p, begin, end in _spans(both, whole)] == [("a", 0, 499), ("b", 500, LAST_MS)]
    some = Wanted(450, 600, (), ("b",))
    assert [(p.bay, begin, end) for p, begin, end in _spans(both, some)] == [("b", 500, 600)]
