from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from deploy_support import END_MS, POUR, START_MS, history, poured, run, write_site
from weather_support import payload

from alerts.transport import RecordingTransport
from cure.forecast_lines import CAUTION
from deploy.cli_site import DONE, REFUSED
from deploy.wiring import build, site_skies
from ingest.weather_intake import WeatherIntake
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, MINUTE_MS, PourId
from shared.sitefile import load

WEB = "[web]\nport = 0\n"
HOURS = 31
"""So long the little pour needs for its strip at most."""
TICKS = [END_MS + h * HOUR_MS for h in (10, 18, 29)]


def test_forecasts_of_a_pour_are_kept_scored_when_it_comes_and_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_site(tmp_path, **{WEB: f'{WEB}[weather]\nkind = "put"\ntoken_file = "t"\n'})
    clock = SimulatedClock(START_MS)
    setup = load(path)
    with build(setup, clock=clock, transport=RecordingTransport(), skies=site_skies(setup)) as service:
        empty = run(capsys, ["forecast", "list", "--site", path])
        assert (empty.code, empty.out) == (DONE, f"nothing is foreseen\n{CAUTION}\n")
        assert "no forecast is scored yet" in run(capsys, ["forecast", "score", "--site", path]).out
        WeatherIntake("PUT /weather", None, service.book.weather, clock).take(payload(START_MS, 200, mean_c=12.0))
        service.apply(poured()[0])
        readings = history(HOURS)
        for at_ms in range(START_MS, START_MS + HOURS * HOUR_MS, HOUR_MS):
            clock.set(at_ms + 2 * MINUTE_MS)
            if at_ms == END_MS:
                service.apply(poured()[1])
            service.intake.take_rows([r for r in readings if at_ms - HOUR_MS < r.taken_ms <= at_ms])
            service.rounds.run_due()
            # Not each hour, as a service does: they take a second or two.
            if at_ms in TICKS:
                service.tick()
            if at_ms == TICKS[0]:
                foreseen = run(capsys, ["forecast", "list", "--site", path, "--json"]).json()
                (strip,) = [f for f in foreseen["forecasts"] if f["operation"] == "strip"]
                assert strip["low_ms"] <= strip["middle_ms"] <= strip["high_ms"]
                assert strip["middle_ms"] > at_ms
                # The round after the forecast keeps what is told beside its hours.
                service.rounds.run(PourId(POUR))
                foreseen = run(capsys, ["forecast", "list", "--site", path, "--json"]).json()
                (strip,) = [f for f in foreseen["forecasts"] if f["operation"] == "strip"]
                assert sum(strip["waits_for"].values()) == pytest.approx(1.0, abs=0.01)
                assert set(strip["spread"]) == {"weather", "heat model", "mix"}
                assert any("no heat data" in note for note in foreseen["pours"][POUR]["notes"])
                said = run(capsys, ["forecast", "list", "--site", path]).out
                assert f"{POUR} strip: expected " in said
                assert "  waits last for " in said
                assert f"{POUR}: mix c32-f has no heat data" in said
                assert CAUTION in said
        waiting = {operation for _, operation, _ in service.book.forecasts.waiting()}
        assert "strip" not in waiting
        report = run(capsys, ["forecast", "score", "--site", path, "--json"]).json()
        (strip_line,) = [line for line in report["lines"] if line["operation"] == "strip"]
        # What was made before it came; both are one case.
        assert strip_line["forecasts"] == 2
        assert (strip_line["cases"], strip_line["mix"]) == (1, "c32-f")
        assert abs(strip_line["bias_h"]) < 6.0
        assert report["last_pours"]["widened"] == 1.0
        plot = tmp_path / "scores.svg"
        told = run(capsys, ["forecast", "score", "--site", path, "--out", plot])
        assert told.code == DONE
        assert "mix c32-f, strip" in told.out
        assert CAUTION in told.out
        assert ET.fromstring(plot.read_text(encoding="utf-8")).tag.endswith("svg")  # noqa: S314  our own
        again = run(capsys, ["forecast", "score", "--site", path, "--out", plot])
        assert again.code == REFUSED
