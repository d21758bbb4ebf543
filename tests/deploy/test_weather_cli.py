from __future__ import annotations

from pathlib import Path

import pytest
from deploy_support import run, write_site
from weather_support import payload

from alerts.transport import RecordingTransport
from deploy import weather_cli
from deploy.cli_site import DONE, REFUSED
from deploy.weather_cli import NOT_A_RELEASE
from deploy.wiring import build
from ingest.weather_intake import WeatherIntake
from shared.clock import SimulatedClock, SystemClock
from shared.models.base import HOUR_MS, MINUTE_MS, SensorId
from shared.models.readings import Reading
from shared.sitefile import load

WEB = "[web]\nport = 0\n"
NOW = SystemClock().now() // HOUR_MS * HOUR_MS


@pytest.fixture(autouse=True)
def at_now(monkeypatch: pytest.MonkeyPatch) -> None:
    # However long the other tests have taken: an hour may have turned meanwhile.
    monkeypatch.setattr(weather_cli, "SystemClock", lambda: SimulatedClock(NOW + 20 * MINUTE_MS))


def site(folder: Path, table: str = 'kind = "put"\ntoken_file = "t"\n') -> Path:
    (folder / "t").write_text("a-token-of-the-weather", encoding="ascii")
    (folder / "t").chmod(0o600)
    return write_site(folder, **{WEB: f"{WEB}[weather]\n{table}"})


def test_what_is_held_is_shown_with_its_age_its_doubts_and_the_hours_to_come(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = site(tmp_path)
    with build(load(path), clock=SimulatedClock(NOW), transport=RecordingTransport()) as service:
        intake = WeatherIntake("PUT /weather", None, service.book.weather, service.clock)
        intake.take(payload(NOW, 60, mean_c=-4.0))
        intake.take(b"[]")
        ran = run(capsys, ["weather", "--site", path])
        assert ran.code == DONE
        lines = ran.out.splitlines()
        assert lines[0].startswith("weather: PUT /weather, made ")
        assert "weather: the last 1 from PUT /weather could not be used: records: a list, found None" in lines
        assert "a forecast gets: PUT /weather" in lines
        assert any("-5." in line and "(80 %)" in line for line in lines)
        assert lines[-1] == NOT_A_RELEASE
        said = run(capsys, ["weather", "--site", path, "--json"]).json()
        assert (said["source"], said["issued_ms"], said["failures"]) == ("PUT /weather", NOW, 1)
        assert said["used"]["hours"][0]["at_ms"] == NOW
        assert said["used"]["hours"][20]["air_sd_c"] > said["used"]["hours"][1]["air_sd_c"]
        status = run(capsys, ["status", "--site", path])
        assert lines[0] in status.out.splitlines()
        assert run(capsys, ["status", "--site", path, "--json"]).json()["weather"] == lines[:2]
        checked = run(capsys, ["check", "--site", path])
        assert checked.code == REFUSED
        assert "WRONG weather: the last 1 from PUT /weather could not be used" in checked.out
        assert "ok    weather: PUT /weather: 60 hours" in checked.out
        assert "ok    secret: t is private" in checked.out


def test_a_site_without_a_source_goes_by_its_own_air_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = site(tmp_path, 'kind = "none"\n')
    before = run(capsys, ["weather", "--site", path])
    assert before.code == DONE
    assert "nothing can be foreseen: neither a weather forecast nor an air sensor" in before.out
    with build(load(path), clock=SimulatedClock(NOW), transport=RecordingTransport()) as service:
        times = range(NOW - 30 * HOUR_MS, NOW + 1, 15 * MINUTE_MS)
        service.intake.take_rows([Reading(SensorId("lg-09.1"), t, 2500, t) for t in times])
        said = run(capsys, ["weather", "--site", path, "--json"]).json()
        assert said["source"] is None
        assert said["used"]["source"] == "air logger lg-09.1"
        assert {hour["air_c"] for hour in said["used"]["hours"]} == {2.5}
        assert any("goes on as the last day" in doubt for doubt in said["used"]["doubts"])
        ran = run(capsys, ["weather", "--site", path])
        assert ran.out.startswith("weather: the site's own air sensors; no source is set\n")
