from __future__ import annotations

import json
from pathlib import Path

import pytest
from deploy_support import run, write_site

from alerts.transport import RecordingTransport
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.wiring import build
from ingest.message import Incoming
from shared.clock import SystemClock
from shared.models.base import HOUR_MS
from shared.sitefile import load
from shared.store import read_board, read_readings

NEW = "lg-77.1"


def _pack(sensor: str, *measured: tuple[int, float]) -> bytes:
    return json.dumps([{"n": sensor, "u": "Cel", "t": t / 1000, "v": c} for t, c in measured]).encode()


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site that refused two readings of a logger that nobody had placed, and one that lay ahead."""
    path = write_site(tmp_path)
    setup, clock = load(path), SystemClock()
    now = clock.now()
    with build(setup, clock=clock, transport=RecordingTransport()) as service:
        topic = f"slabhour/{setup.site.site.id}/r/lg-77"
        service.intake.take([Incoming(topic, _pack(NEW, (now - 900_000, 18.0), (now, 18.5)))])
        service.intake.take([Incoming(topic.replace("77", "01"), _pack("lg-01.1", (now + 8 * HOUR_MS, 18.0)))])
    return path


def place_it(site: Path) -> None:
    text = site.read_text(encoding="utf-8")
    assert "sensors = [" in text
    site.write_text(text.replace("sensors = [", f'sensors = [{{ id = "{NEW}", zone = "interior" }}, ', 1), "utf-8")


def test_what_stands_refused_is_listed_and_counted_by_sensor_and_reason(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = json.loads(run(capsys, ["refused", "list", "--site", site, "--json"]).out)
    assert said["standing"] == {"lg-01.1": {"clock in the future": 1}, NEW: {"unknown sensor": 1}}
    assert {(r["sensor"], r["can_pass"]) for r in said["refusals"]} == {(NEW, True), ("lg-01.1", False)}
    text = run(capsys, ["refused", "list", "--site", site, "--sensor", NEW]).out
    assert f"{NEW}: 1 x unknown sensor" in text
    assert "lg-01.1" not in text


def test_a_dry_run_shows_what_would_be_stored_and_stores_nothing(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place_it(site)
    said = json.loads(run(capsys, ["refused", "again", "--site", site, "--dry-run", "--json"]).out)
    assert [[row["celsius"] for row in one["would_store"]] for one in said["answered"]] == [[18.0, 18.5]]
    text = run(capsys, ["refused", "again", "--site", site, "--dry-run"]).out
    assert "would be: stored: 2 readings" in text
    assert "2 readings pass now; 1 refusals are answered, 0 stand" in text
    with read_board(None, site.parent / "var") as book:
        assert [r.decided_ms for r in book.refusals()] == [None, None]


def test_again_stores_what_passes_says_so_and_does_nothing_the_second_time(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place_it(site)
    command: list[str | Path] = ["refused", "again", "--site", site, "--who", "qc-one", "--why", "placed it"]
    ran = run(capsys, command)
    assert (ran.code, ran.err) == (DONE, "")
    assert "stored: 2 readings" in ran.out
    assert "1 refusals are answered, 1 stand" in ran.out
    setup = load(site)
    store = read_readings(setup, site.parent / "var")
    keys = {(s.sensor_id, 0) for bay in setup.site.bay for s in bay.sensors}
    assert keys
    rows = [r.milli_c for r in store.rows(next(s for s, _ in keys if s == NEW), 0, 2**60)]
    store.close()
    assert rows == [18_000, 18_500]
    assert json.loads(run(capsys, [*command, "--json"]).out) == {"answered": [], "standing": 1}
    listed = run(capsys, ["refused", "list", "--all", "--site", site]).out
    assert "stored: 2 readings" in listed
    with read_board(None, site.parent / "var") as book:
        assert [a.kind for a in book.acts()] == ["screen_again", "screen_again"]


def test_it_takes_a_person_of_the_desk_or_the_installer_and_a_reason(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, ["refused", "again", "--site", site]).code == WRONG_USAGE
    ran = run(capsys, ["refused", "again", "--site", site, "--who", "nobody", "--why", "x"])
    assert ran.code == REFUSED
    assert "nobody" in ran.err


def test_before_the_first_start_nothing_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_site(tmp_path)
    ran = run(capsys, ["refused", "again", "--dry-run", "--site", path])
    assert (ran.code, ran.out.strip()) == (DONE, "nothing stands refused")
