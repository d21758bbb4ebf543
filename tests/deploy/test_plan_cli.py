"""`slabhour plan`: asked before the pour, beside no running service."""

from __future__ import annotations

import csv
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from deploy_support import Ran, run

from alerts.transport import RecordingTransport
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.wiring import build
from shared.clock import SystemClock
from shared.models.acts import Act, act_from
from shared.models.base import HOUR_MS, Ms
from shared.models.weather import WeatherHeard, WeatherHour, WeatherIssue
from shared.sitefile import load

SITE = Path(__file__).parents[2] / "deploy" / "demo" / "site.toml"
START = "2026-12-01T08:00:00-04:00"
HEAT = ("--cement", "I", "--binder-kg", "360", "--water-binder", "0.5")
QUICK = ("--members", "20")


def plan(capsys: pytest.CaptureFixture[str], *asked: str | Path, start: str = START) -> Ran:
    return run(
        capsys,
        ["plan", "--site", SITE, "--data", "/nowhere/slabhour", "--bay", "2-b1", "--start", start, *QUICK, *asked],
    )


def require(at_ms: Ms) -> Act:
    """Return what the engineer writes for the strip of the bay: thirty counted hours."""
    rules = [{"counted_h": 30.0, "at_c": 5.0}, {"lower_bound_mpa": 3.5}]
    said = {"kind": "require", "at": datetime.fromtimestamp(at_ms / 1000, UTC), "who": "engineer"}
    second = {"second_person": "super", "why": "a trial", "bay": "2-b1"}
    return act_from({**said, **second, "requirement": {"operation": "strip", "all": rules}})


def test_one_case_is_told_with_its_chart_and_its_caution(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    chart = tmp_path / "plan.svg"
    wanted = ("--wanted", "2026-12-02T15:00:00-04:00")
    asked = ("--air=8,14", *HEAT, "--cover", "0.35", *wanted, "--out", chart)
    ran = plan(capsys, *asked)
    assert ran.code == DONE
    assert "EXPECTED, NOT RELEASED" in ran.out
    assert "spread: weather " in ran.out
    assert "strip with 80 %: " in ran.out
    assert "strip by Wed 02 Dec 15:00 UTC-0400:" in ran.out
    assert "A forecast or an estimate releases" in ran.out
    svg = chart.read_text(encoding="utf-8")
    assert svg.startswith("<svg")
    assert "<style>" in svg
    told = plan(capsys, *asked, "--json").json()
    assert told["plan"]["protection"]["cover_m2_k_per_w"] == 0.35
    assert told["plan"]["thickness_mm"] == 100.0
    assert told["weather"] == "days alike, 8 to 14 degC"
    # Twice the same: nothing of it is drawn anew.
    assert f"15:00 UTC-0400: {100 * told['plan']['chance']:.0f} %" in ran.out


def test_another_slab_mix_and_requirement_may_be_asked_of(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("--air=16,22", *HEAT, "--thickness-mm", "150", "--pour-h", "4", "--placing-c", "22", "--json")
    needs = ("--needs-h", "12", "--needs-c", "10", "--needs-mpa", "2")
    told = plan(capsys, *asked, *needs).json()["plan"]
    # Twelve counted hours after 12:00.
    assert told["expected"]["strip"]["p50"] == "2026-12-02T04:00:00+00:00"
    assert told["thickness_mm"] == 150.0


def test_the_least_protection_and_the_best_start_are_searched(capsys: pytest.CaptureFixture[str]) -> None:
    wanted = ("--wanted", "2026-12-02T15:00:00-04:00", "--json")
    least = plan(capsys, "--air=2,8", *HEAT, "--least", "--covers", "0.5", "--heatings", "20", *wanted).json()["plan"]
    assert least["best"]["meets"] is True
    assert least["tried"][0]["protection"]["cover_m2_k_per_w"] == 0.0
    assert all(not one["meets"] for one in least["tried"][:-1])
    window = ("--until", "2026-12-01T20:00:00-04:00", "--every-h", "4")
    best = plan(capsys, "--air=10,16", *HEAT, *window, "--json").json()["plan"]
    # The shift ends at 17:00.
    assert [one["start"][11:16] for one in best["tried"]] == ["12:00", "16:00", "20:00"]
    assert best["best"]["start"] in {one["start"] for one in best["tried"]}


def test_form_sets_over_a_sequence_of_bays(capsys: pytest.CaptureFixture[str]) -> None:
    then = ("--then", "2-b2@2026-12-02T08:00:00-04:00", "--then", "2-b3@2026-12-03T08:00:00-04:00")
    told = plan(capsys, "--air=12,18", *HEAT, "--set", "north", *then, "--json").json()["plan"]
    assert [p["bay"] for p in told["pours"]] == ["2-b1", "2-b2", "2-b3"]
    # Ready at 10:00, six hours to move: the set is free at 16:00.
    assert told["pours"][1]["start"] == "2026-12-02T20:00:00+00:00"
    assert told["short"] == "north"


def test_a_search_and_a_sequence_are_written_as_chart_and_as_table(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    chart, table = tmp_path / "sequence.svg", tmp_path / "sequence.csv"
    then = ("--then", "2-b2@2026-12-02T08:00:00-04:00", "--set", "A", "--set", "B@2026-12-05T08:00:00-04:00")
    ran = plan(capsys, "--air=12,18", *HEAT, *then, "--out", chart)
    assert ran.code == DONE, ran.err
    assert f"written: {chart}\nwritten: {table}\n" in ran.out
    assert "expected, not released" in chart.read_text(encoding="utf-8")
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    # B comes on Saturday: A carries both.
    assert [(row["bay"], row["form_set"]) for row in rows] == [("2-b1", "A"), ("2-b2", "A")]
    assert (rows[1]["start"], rows[1]["waits_h"], rows[1]["cold_h"]) == ("2026-12-02T20:00:00+00:00", "8.0", "0.0")
    window = ("--until", "2026-12-01T16:00:00-04:00", "--every-h", "8")
    assert plan(capsys, "--air=12,18", *HEAT, *window, "--out", chart).code == DONE
    tried = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["first_concrete"][11:16] for row in tried] == ["12:00", "20:00"]
    assert all(row["p10"] <= row["by_the_chance"] <= row["p90"] for row in tried)


def test_the_weather_may_come_from_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    now = datetime.fromtimestamp(SystemClock().now() // HOUR_MS * HOUR_MS / 1000, UTC)
    file = tmp_path / "weather.csv"
    rows = [f"{(now + timedelta(hours=h)).isoformat()},{15 + h % 2},2,70,0,50" for h in range(170)]
    head = "at,air_c,wind_m_s,humidity_percent,sun_w_m2,cloud_percent"
    file.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    start = (now + timedelta(hours=10)).isoformat()
    ran = plan(capsys, "--weather", file, *HEAT, "--json", start=start)
    assert ran.code == DONE, ran.err
    strip = datetime.fromisoformat(ran.json()["plan"]["expected"]["strip"]["p50"])
    assert strip == now + timedelta(hours=36)
    file.write_text(head + "\n", encoding="utf-8")
    ran = plan(capsys, "--weather", file, *HEAT, start=start)
    assert ran.code == REFUSED
    assert "weather.csv" in ran.err


def test_what_the_engineer_wrote_and_the_weather_held_count_where_there_is_a_book(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = SITE.read_text(encoding="utf-8").replace('data = "var"', f'data = "{tmp_path}/data"')
    site = tmp_path / "site.toml"
    site.write_text(f'{text}\n[weather]\nkind = "file"\nfile = "weather.csv"\n', encoding="utf-8")
    shutil.copytree(SITE.parent / "calibrations", tmp_path / "calibrations")
    now = SystemClock().now() // HOUR_MS * HOUR_MS
    hours = tuple(WeatherHour(now + h * HOUR_MS, 14.0 + h % 3, 2.0, 70.0, 0.0, 0.5) for h in range(-2, 170))
    with build(load(site), clock=SystemClock(), transport=RecordingTransport()) as service:
        service.apply(require(now))
        issue = WeatherIssue("weather.csv", now, now, hours)
        service.book.weather.keep(issue, WeatherHeard(issue.source, now, now))
    start = datetime.fromtimestamp(now / 1000 + 7200, UTC)
    told = run(capsys, ["plan", "--site", site, "--bay", "2-b1", "--start", start.isoformat(), *QUICK, *HEAT, "--json"])
    assert told.code == DONE, told.err
    assert datetime.fromisoformat(told.json()["plan"]["expected"]["strip"]["p50"]) == start + timedelta(hours=32)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--air=2,8",), "mix c32-f has no heat data"),
        (("--air=2,8", "--cement", "I"), "--cement: --binder-kg and --water-binder too, or none of them"),
        (("--air=2,8", *HEAT, "--needs-h", "24"), "--needs-h: --needs-c and --needs-mpa too"),
        (HEAT, "the site holds no weather that can be used; say what"),
        (("--air=2,8", "--weather", "x.csv", *HEAT), "two answers to one question"),
        (("--air=8,2", *HEAT), "a high not below it"),
        (("--air=nan,8", *HEAT), "--air: a number from -50 to 55"),
        (("--air=2,8", *HEAT, "--operation", "drill"), "no hour can be foreseen"),
        (("--air=2,8", *HEAT, "--mix", "c50"), "no mix 'c50'"),
        (("--air=2,8", *HEAT, "--cover", "-1"), "--cover: a number from 0 to 10"),
        (("--air=2,8", *HEAT, "--chance", "1.5"), "--chance: a number from 0.01 to 0.99"),
        (("--air=2,8", *HEAT, "--until", "2026-11-30T08:00:00-04:00"), "a window ends after it begins"),
        (
            ("--air=2,8", *HEAT, "--turnaround-h", "nan", "--then", f"2-b2@{START}"),
            "--turnaround-h: a number from 0 to 240",
        ),
        (("--air=2,8", *HEAT, "--then", f"9-b9@{START}"), "no bay '9-b9'"),
        (("--air=2,8", *HEAT, "--bay", "9-b9"), "no bay '9-b9'"),
        (("--weather", "/nowhere/x.csv", *HEAT), "/nowhere/x.csv"),
        (("--air=2,8", "--fly-ash", "0.2"), "--fly-ash: --binder-kg too, or neither"),
        (("--weather", "x.csv", *HEAT, "--wind-m-s", "3"), "--wind-m-s: --air too, or neither"),
        (("--air=2,8", *HEAT, "--cover-for-h", "24"), "--cover-for-h: --cover too, or neither"),
        (("--air=2,8", *HEAT, "--covers", "0.5"), "--covers: --least too, or neither"),
        (("--air=2,8", *HEAT, "--heatings", "5"), "--heatings: --least too, or neither"),
        (("--air=2,8", *HEAT, "--every-h", "2"), "--every-h: --until too, or neither"),
        (("--air=2,8", *HEAT, "--set", "A", "--turnaround-h", "4"), "--set: --then too, or neither; --turnaround-h"),
        (("--air=2,8", *HEAT, "--least", "--cover", "0.5"), "--cover: beside --least it would change nothing"),
        (("--air=2,8", *HEAT, "--then", f"2-b2@{START}", "--wanted", START), "--wanted: beside --then it would change"),
        (("--air=2,8", *HEAT, "--members", "1"), "--members: a number from 2 to 1000"),
        (("--air=2,8", *HEAT, "--out", "plan.png"), "--out: a file whose name ends with .svg"),
    ],
)
def test_what_cannot_be_answered_is_refused_in_words(
    capsys: pytest.CaptureFixture[str], asked: tuple[str, ...], said: str
) -> None:
    ran = plan(capsys, *asked)
    assert (ran.code, ran.out) == (REFUSED, "")
    assert said in ran.err


@pytest.mark.parametrize("asked", [("--air=warm",), ("--then", "2-b2"), ("--least", "--until", START)])
def test_wrong_usage_is_told(capsys: pytest.CaptureFixture[str], asked: tuple[str, ...]) -> None:
    assert plan(capsys, "--air=2,8", *asked).code == WRONG_USAGE
