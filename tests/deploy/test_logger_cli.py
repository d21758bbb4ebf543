from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import ClassVar

import pytest
from deploy_support import run, write_site

from alerts.transport import RecordingTransport
from cure.loggers import Standing
from deploy import logger_cli
from deploy.cli_site import DONE, REFUSED, WRONG_USAGE
from deploy.wiring import Service, build
from ingest.message import Incoming
from shared.clock import SystemClock
from shared.models.base import Ms
from shared.sitefile import load

QUARTER_S = 900


@contextmanager
def serving(folder: Path) -> Iterator[Service]:
    with build(load(folder / "site.toml"), clock=SystemClock(), transport=RecordingTransport()) as service:
        yield service


def send(service: Service, logger: str, now: Ms, first_c: float = 8.0, second_c: float = 8.0) -> None:
    """Send what a logger with two channels and a battery says at an hour."""
    at_s = now / 1000
    pack = [
        {"bn": f"{logger}.", "bt": at_s, "n": "1", "u": "Cel", "v": first_c},
        {"n": "2", "u": "Cel", "v": second_c},
        {"n": "battery", "u": "%EL", "v": 87},
    ]
    payload = json.dumps(pack).encode()
    service.intake.take([Incoming(f"slabhour/{service.setup.site.site.id}/r/{logger}", payload, now)])


@pytest.fixture
def site(tmp_path: Path) -> list[str | Path]:
    """A site whose loggers lg-01 and lg-77 have spoken; nobody has placed the latter."""
    write_site(tmp_path)
    with serving(tmp_path) as service:
        now = service.clock.now()
        for quarters in (2, 1, 0):
            for logger in ("lg-01", "lg-77"):
                send(service, logger, now - quarters * QUARTER_S * 1000)
        service.intake.take([Incoming("slabhour/millrace/r/lg-01", b"{", now)])
    return ["--site", tmp_path / "site.toml"]


def test_the_list_has_placed_sensors_and_strangers_with_what_to_do(
    site: list[str | Path], capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["logger", "list", *site])
    assert (ran.code, ran.err) == (DONE, "")
    told = ran.out.splitlines()
    assert any(line.startswith("lg-01.1       ALIVE  heard ") and "8.0 degC, battery 87 %" in line for line in told)
    assert "    bay 2-b1, exposed edge, 50 mm deep, since the beginning (the site file)" in told
    assert any(line.startswith("lg-77.1       HEARD, NOT PLACED") and "8.0 degC, battery 87 %" in line for line in told)
    assert "    to do: place it, nothing of it counts: slabhour logger place lg-77.1 BAY ZONE --who YOU" in told
    assert any(line.startswith("refused in 24 h: ") and line.endswith("most often: unknown sensor") for line in told)
    assert "  lg-01: 1, most often: not JSON" in told


@pytest.mark.row("N9")
def test_the_list_as_json_and_nothing_of_a_stranger_in_the_stores(
    site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    body = run(capsys, ["logger", "list", "--json", *site]).json()
    rows = {row["sensor"]: row for row in body["sensors"]}
    assert rows["lg-01.1"]["placement"]["bay"] == "2-b1"
    assert rows["lg-01.1"]["standing"] == Standing.ALIVE
    assert (rows["lg-77.2"]["standing"], rows["lg-77.2"]["placement"]) == (Standing.NOT_PLACED, None)
    assert body["refused_24h"]["most_often"] == "unknown sensor"
    with serving(tmp_path) as service:
        assert not [p for p in service.book.board.placements() if p.sensor.startswith("lg-77")]
        assert not [a for a in service.book.board.arrivals() if a.sensor.startswith("lg-77")]


def test_a_stranger_that_is_placed_is_one_of_the_site_and_counts_from_then_on(
    site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = ["logger", "place", "lg-77.1", "2-b1", "interior", "--position", "grid C4", "--who", "qc-one", *site]
    assert run(capsys, place).code == DONE
    waiting = run(capsys, ["logger", "test", "lg-77.1", *site])
    assert waiting.code == REFUSED
    assert waiting.out.startswith("lg-77.1 NOT YET: heard before it was placed here: its next message counts")
    with serving(tmp_path) as service:
        send(service, "lg-77", service.clock.now())
    rows = run(capsys, ["logger", "list", "--json", *site]).json()["sensors"]
    placed = next(row for row in rows if row["sensor"] == "lg-77.1")
    assert (placed["standing"], placed["placement"]["position"], placed["placement"]["by"]) == (
        "alive",
        "grid C4",
        "qc-one",
    )


def test_a_sensor_that_is_as_it_should_be_ends_with_0(
    site: list[str | Path], capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, ["logger", "test", "lg-01.2", *site])
    assert ran.code == DONE
    assert ran.out.startswith("lg-01.2 OK: in bay 2-b1, interior; 8.0 degC ")
    both = run(capsys, ["logger", "test", "lg-01", "--json", *site])
    assert [json.loads(line)["sensor"] for line in both.out.splitlines()] == ["lg-01.1", "lg-01.2"]


def test_an_unknown_logger_is_one_sentence_and_1(site: list[str | Path], capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, ["logger", "test", "lg-55", *site])
    assert (ran.code, ran.out) == (REFUSED, "")
    assert "nothing is known of lg-55" in ran.err
    assert run(capsys, ["logger", "test", "lg-01", "--watch", *site]).code == REFUSED
    assert run(capsys, ["logger", "test", "lg-01.1", "--minutes", "0", *site]).code == WRONG_USAGE


class Waiting:
    """In place of an event: at the second look a hand has held a sensor."""

    folder: ClassVar[Path]
    felt_c: ClassVar[tuple[float, float]]

    def __init__(self) -> None:
        self.looks = 0

    def wait(self, timeout: float) -> None:
        assert timeout == logger_cli.LOOK_EVERY_S
        self.looks += 1
        assert self.looks < 5
        if self.looks == 2:
            with serving(self.folder) as service:
                send(service, "lg-01", service.clock.now() + 1_000, *self.felt_c)


@pytest.mark.parametrize(
    ("felt_c", "code", "last"),
    [
        ((11.0, 8.0), DONE, "lg-01.1 felt it: 8.0 to 11.0 degC"),
        ((8.0, 11.0), REFUSED, "lg-01.2 felt it, lg-01.1 did not: are they exchanged?"),
    ],
)
def test_the_check_by_hand_shows_progress_and_ends_with_0_or_1(
    felt_c: tuple[float, float],
    code: int,
    last: str,
    site: list[str | Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Waiting, "folder", tmp_path, raising=False)
    monkeypatch.setattr(Waiting, "felt_c", felt_c, raising=False)
    monkeypatch.setattr(logger_cli, "Event", Waiting)
    ran = run(capsys, ["logger", "test", "lg-01.1", "--watch", *site])
    told = ran.out.splitlines()
    assert (ran.code, told[-1]) == (code, last)
    assert told[1] == "hold it in your hand; 8.0 degC, no reading since; 20 min left"


def test_the_list_tells_numbers_that_never_came_and_a_weak_signal(
    site: list[str | Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with serving(tmp_path) as service:
        for number in (1, 5):
            said = [{"n": "lg-01.seq", "v": number}, {"n": "lg-01.signal", "u": "dBm", "v": -117}]
            service.intake.take([Incoming("slabhour/millrace/r/lg-01", json.dumps(said).encode())])
    told = run(capsys, ["logger", "list", *site]).out.splitlines()
    assert "gap in the numbers: lg-01: 3 messages never came: 2 to 4" in told
    weak = "the signal of lg-01 is weak: move the gateway nearer, or the antenna out"
    assert f"    to do: look why its messages are refused: `slabhour refused list`; {weak}" in told
    (missing,) = run(capsys, ["logger", "list", "--json", *site]).json()["missing"]
    assert (missing["logger"], missing["missing"]) == ("lg-01", [[2, 4]])
    tested = run(capsys, ["logger", "test", "lg-01.1", *site])
    assert (tested.code, "signal -117 dBm is weak: wet concrete takes more of it" in tested.out) == (REFUSED, True)
