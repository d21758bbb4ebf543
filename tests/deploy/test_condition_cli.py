from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from deploy_support import POUR, SENSORS, run, write_site

from alerts.transport import RecordingTransport
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.wiring import Service, build
from shared.clock import SimulatedClock, SystemClock
from shared.models.acts import act_from
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.readings import Reading
from shared.sitefile import load


def did(service: Service, clock: SimulatedClock, at_ms: Ms, kind: str, **fields: object) -> None:
    clock.set(at_ms)
    service.apply(act_from({"kind": kind, "at": datetime.fromtimestamp(at_ms / 1000, UTC), "who": "super", **fields}))


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Service]:
    """Lend a service that runs: a pour that ended 30 h before now, its sensors and air read from then on."""
    now = SystemClock().now()
    start = now - 31 * HOUR_MS
    clock = SimulatedClock(start)
    with build(load(write_site(tmp_path)), clock=clock, transport=RecordingTransport()) as service:
        did(service, clock, start, "pour_start", bay="2-b1", pour=POUR)
        did(service, clock, start + HOUR_MS, "pour_end", pour=POUR)
        times = range(start, now + 1, 15 * MINUTE_MS)
        temperatures = dict(zip(SENSORS, (18.0, 16.5, 6.5), strict=True))
        service.intake.take_rows(
            [Reading(SensorId(s), t, round(c * 1000), t + 1000) for t in times for s, c in temperatures.items()]
        )
        clock.set(now)
        service.rounds.run_due()
        yield service


def test_the_condition_is_read_beside_a_running_service(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["condition", tmp_path / "site.toml"])
    assert ran.code == DONE
    assert f"2-b1  floor 2  pour {POUR}" in ran.out
    assert "  kept       hottest since the first concrete: 18.0 °C (64.4 °F) (lg-01.1); at most 70.0 °C" in ran.out
    assert "not known: nobody told the humidity, nobody told the wind; at most 1.00 kg/m2 h" in ran.out
    assert "nobody told: say --humidity, --wind-m-s, --delivered-c" in ran.out
    assert "[rule: EN 13670, 8.5 (from memory)" in ran.out
    assert ran.out.rstrip().endswith(
        "the engineer of record, the contract and the local code govern. No message = no release."
    )


def test_it_writes_nothing_into_the_stores(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def whole() -> list[str]:
        found = []
        for name in ("site.db", "readings.db"):
            connection = sqlite3.connect(f"file:{tmp_path / 'var' / name}?mode=ro", uri=True)
            found += list(connection.iterdump())
            connection.close()
        return found

    before = whole()
    assert run(capsys, ["condition", POUR, "--site", tmp_path / "site.toml"]).code == DONE
    assert whole() == before


def test_other_programs_get_the_same_rows_with_log_and_caution(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["--humidity", "50", "--wind-m-s", "3", "--delivered-c", "20", "--strength-ratio", "0.4"]
    found = run(capsys, ["condition", tmp_path / "site.toml", POUR, *given, "--json"]).json()
    (pour,) = found["pours"]
    rows = {row["quantity"]: row for row in pour["rows"]}
    assert rows["as delivered"]["value"] == 20.0
    assert rows["evaporation: from a fresh surface now"]["kept"] == "kept"
    # EN 13670, table F.3 (from memory), medium at 16.5 degC: 4 d.
    assert rows["curing, EN 13670, class 3"]["value"] == pytest.approx(30.0 / 96.0, abs=0.01)
    assert rows["between sensors now"]["value"] == 1.5
    assert len(pour["log"]) in {2, 3}
    assert "No message = no release" in found["caution"]


def test_the_page_for_the_site_diary_is_written(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "diary.html"
    ran = run(capsys, ["condition", tmp_path / "site.toml", "--out", out])
    assert f"written: {out}" in ran.out
    text = out.read_text(encoding="utf-8")
    assert "<svg" in text
    assert "Cold-weather log" in text
    assert run(capsys, ["condition", tmp_path / "site.toml", "--out", tmp_path / "no" / "x.html"]).code == REFUSED


def test_a_cover_that_came_off_has_its_row(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = datetime.fromtimestamp((SystemClock().now() - HOUR_MS) / 1000, UTC)
    running.apply(act_from({"kind": "cover", "at": at, "who": "super", "pour": POUR, "on": True}))
    running.apply(act_from({"kind": "cover", "at": at, "who": "super", "pour": POUR, "on": False}))
    assert "  kept       drop in 24 h after uncovering, " in run(capsys, ["condition", tmp_path / "site.toml"]).out


def test_a_closed_pour_can_be_named_and_an_unknown_one_is_refused(
    running: Service, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = datetime.fromtimestamp(running.clock.now() / 1000, UTC)
    running.apply(act_from({"kind": "pour_start", "at": at, "who": "super", "bay": "2-b1", "pour": "2-b1-p2"}))
    site = ["--site", str(tmp_path / "site.toml")]
    opened = run(capsys, ["condition", *site, "--json"]).json()
    assert [p["pour"] for p in opened["pours"]] == ["2-b1-p2"]
    closed = run(capsys, ["condition", POUR, *site, "--json"]).json()
    assert [p["pour"] for p in closed["pours"]] == [POUR]
    assert closed["pours"][0]["at_ms"] == running.clock.now()
    unknown = run(capsys, ["condition", "no-such-pour", *site])
    assert (unknown.code, "no-such-pour" in unknown.err) == (REFUSED, True)


def test_before_the_first_start_it_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["condition", write_site(tmp_path)])
    assert (ran.code, ran.out) == (REFUSED, "")
    assert "start slabhour there first" in ran.err


@pytest.mark.parametrize(
    "wrong",
    [
        ["a.toml", "b.toml"], ["pour-1", "pour-2"], ["--humidity", "101"], ["--humidity", "nan"],
        ["--wind-m-s", "-1"], ["--wind-m-s", "calm"], ["--strength-ratio", "1.1"], ["--delivered-c", "99"],
    ],
)  # fmt: skip
def test_words_and_numbers_that_cannot_be_are_wrong_usage(
    wrong: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, ["condition", *wrong]).code == WRONG_USAGE


def test_a_site_without_a_pour_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with build(load(write_site(tmp_path)), clock=SimulatedClock(SystemClock().now()), transport=RecordingTransport()):
        ran = run(capsys, ["condition", tmp_path / "site.toml"])
        assert "no open pour" in ran.out
        assert json.loads(run(capsys, ["condition", tmp_path / "site.toml", "--json"]).out)["pours"] == []
