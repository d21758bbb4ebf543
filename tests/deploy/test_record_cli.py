"""`slabhour record` beside a running service: releases, withdrawals, earlier ones, and what has none."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from deploy_support import POUR, START_MS, act, history, little_service, poured, run
from record_support import needs_tools, text_of

from deploy.cli_site import DONE, REFUSED
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, MINUTE_MS


@pytest.fixture
def running(tmp_path: Path) -> Iterator[tuple[Service, SimulatedClock]]:
    """Lend a service with a pour whose strip is released; its load is curing."""
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(START_MS + HOUR_MS)
            service.apply(done)
        service.intake.take_rows(history(28))
        for minutes in (0, 31):
            clock.set(START_MS + 28 * HOUR_MS + minutes * MINUTE_MS)
            service.rounds.run_due()
        service.apply(act("sign", clock.now() + MINUTE_MS, pour=POUR, operations=["strip"]))
        clock.set(clock.now() + 2 * MINUTE_MS)
        yield service, clock


def written(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> tuple[bytes, dict[str, object]]:
    out = folder / f"{'-'.join(words).strip('-')}.pdf"
    of, operation, *options = words
    ran = run(capsys, ["record", of, operation, out, *options, "--json", "--site", folder / "site.toml"])
    assert ran.code == DONE, ran.err
    pdf, told = out.read_bytes(), ran.json()
    assert told["sha256"] == hashlib.sha256(pdf).hexdigest()
    return pdf, told


def test_a_release_is_recorded_by_its_bay_or_its_pour_with_the_same_bytes(
    running: tuple[Service, SimulatedClock], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    by_bay, told = written(capsys, tmp_path, "2-b1", "strip")
    by_pour, _ = written(capsys, tmp_path, POUR, "strip")
    assert by_bay == by_pour
    assert (told["kind"], told["pour"]) == ("released", POUR)


@needs_tools
def test_a_withdrawal_is_recorded_and_the_release_before_it_by_its_number(
    running: tuple[Service, SimulatedClock], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    service, clock = running
    before, released = written(capsys, tmp_path, "2-b1", "strip")
    service.apply(act("stop", clock.now(), who="qc", pour=POUR, why="crack"))
    pdf, told = written(capsys, tmp_path, POUR, "strip")
    assert told["kind"] == "withdrawal"
    said = text_of(pdf, tmp_path)
    assert "WITHDRAWN" in said
    assert "forms stay on and nothing is loaded" in said
    again, _ = written(capsys, tmp_path, "2-b1", "strip", "--number", str(released["record"]))
    assert again == before


@needs_tools
def test_the_sheet_has_the_findings_and_the_cautions_of_what_is_shut(
    running: tuple[Service, SimulatedClock], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = text_of(written(capsys, tmp_path, "2-b1", "strip")[0], tmp_path)
    assert "counted hours at or above 5.0 °C (41.0 °F)" in said
    assert "nothing is loaded until a message of its own says otherwise" in said
    assert "nobody walks on it until a message of its own says otherwise" in said
    assert "once stripped the slab carries itself on bare joists" in said
    assert "readings attached those that the decision rested on" in said.casefold()


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("2-b1", "load"), "load of 2-b1-p1 is curing: a record is of a release, a hold or a withdrawal"),
        (("2-b1", "dance"), "dance is not an operation of 2-b1-p1; it has: "),
        (("nowhere", "strip"), "no pour"),
        (("2-b1", "strip", "--number", "999"), "there is no record 999"),
        (("2-b1", "strip", "--number", "1"), "it has no record"),
    ],
)
def test_what_has_no_record_says_why_and_writes_nothing(
    running: tuple[Service, SimulatedClock],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    complaint: str,
) -> None:
    of, operation, *options = words
    out = tmp_path / "out.pdf"
    ran = run(capsys, ["record", of, operation, out, *options, "--site", tmp_path / "site.toml"])
    assert ran.code == REFUSED
    assert complaint in ran.err
    assert not out.exists()


def test_nothing_is_written_over(
    running: tuple[Service, SimulatedClock], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out.pdf"
    out.write_bytes(b"filed")
    ran = run(capsys, ["record", "2-b1", "strip", out, "--site", tmp_path / "site.toml"])
    assert ran.code == REFUSED
    assert "File exists" in ran.err
    assert out.read_bytes() == b"filed"
