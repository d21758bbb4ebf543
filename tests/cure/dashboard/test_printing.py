"""The printer over real stores: the sheet that a page hands out is the command's, byte by byte."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest
from deploy_support import POUR, START_MS, act, history, little_service, poured, run
from record_support import asked, needs_tools, text_of

from cure.dashboard.handover import SAID
from cure.dashboard.printing import Printer
from cure.dashboard.standing import Standing
from deploy.cli_site import DONE
from deploy.status import CAUTION_LINE
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.models.acts import instant
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.messages import Message, MessageKind


@needs_tools
def test_a_page_hands_out_the_record_that_the_command_writes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(START_MS + HOUR_MS)
            service.apply(done)
        truck: dict[str, Any] = {
            "number": "48113",
            "mix": "c32-f",
            "water_l": 10.0,
            "withheld_l": 15.0,
            "photo": "ab" * 32,
            "batched": instant(START_MS - 10 * MINUTE_MS),
            "placed": instant(START_MS + 30 * MINUTE_MS),
        }
        service.apply(act("ticket", START_MS + HOUR_MS, pour=POUR, **truck))
        service.intake.take_rows(history(28))
        for minutes in (0, 31):
            clock.set(START_MS + 28 * HOUR_MS + minutes * MINUTE_MS)
            service.rounds.run_due()
        service.apply(act("sign", clock.now() + MINUTE_MS, pour=POUR, operations=["strip"]))
        book = service.book.board
        message = next(m for m in book.messages() if m.kind is MessageKind.RELEASED)
        printer = Printer(book, service.readings, clock, service.words, CAUTION_LINE)
        address, out = "http://site.example:8080", tmp_path / "out.pdf"
        ran = run(capsys, ["record", POUR, "strip", out, "--address", address, "--site", tmp_path / "site.toml"])
        assert ran.code == DONE, ran.err
        assert printer.record(message, address) == out.read_bytes()
        whole = printer.pour(message.pour)
        assert whole == printer.pour(message.pour)
        released, withdrawn = (message, Standing.FALLEN), (message_after_stop(service, clock), Standing.SHUT)
        together = printer.handover("floor 2", [released, withdrawn], address)
        assert together == printer.handover("floor 2", [released, withdrawn], address)
        look_at_pour(whole, tmp_path)
        look_at_set(together, tmp_path, message)


def message_after_stop(service: Service, clock: SimulatedClock) -> Message:
    service.apply(act("stop", clock.now(), who="qc", pour=POUR, why="crack"))
    return [m for m in service.book.board.messages() if m.kind is MessageKind.WITHDRAWAL and m.subject == "strip"][-1]


def look_at_pour(pdf: bytes, folder: Path) -> None:
    said = text_of(pdf, folder)
    assert "No syntax or stream encoding errors found" in asked("qpdf", "--check", folder / "record.pdf")
    assert f"Record of pour {POUR}" in said
    assert "strip released; walk met; load curing" in said
    for title in ("What was decided", "What people did", "Cold-weather log, twice a day", "Notes"):
        assert title in said
    # Two days of it: 8:00 and 16:00 on the first, 8:00 on the second.
    assert said.count("12.0 °C (53.6 °F)") >= 3
    assert "pour start" in said
    assert all(words in said for words in ("Trucks", "48113", "l held back: 15.0", "abababababab"))
    assert "This record releases nothing" in said
    asked("pdfdetach", "-saveall", "-o", folder, folder / "record.pdf")
    digest = hashlib.sha256((folder / "pour.json").read_bytes()).hexdigest()
    assert f"sha256 of pour.json {digest}" in said
    readings = hashlib.sha256((folder / "readings.csv").read_bytes()).hexdigest()
    assert f"sha256 {readings}" in said


def look_at_set(pdf: bytes, folder: Path, message: Message) -> None:
    said = text_of(pdf, folder)
    assert "No syntax or stream encoding errors found" in asked("qpdf", "--check", folder / "record.pdf")
    meta = asked("pdfinfo", "-meta", folder / "record.pdf")
    assert "<pdfaid:part>3</pdfaid:part>" in meta
    assert "<pdfuaid:part>1</pdfuaid:part>" in meta
    # In a narrow column, so that the tool sets other columns between its lines.
    assert "DOES NOT" in said
    assert "shut still" in said
    assert "page 3 of 3" in said
    inside = asked("pdfdetach", "-list", folder / "record.pdf")
    assert inside.count("decision.json") == inside.count("readings.csv") == 2
    assert f"record-{message.no}-decision.json" in inside


def test_every_standing_has_words_on_the_sheet_of_a_set() -> None:
    assert set(SAID) == set(Standing)
