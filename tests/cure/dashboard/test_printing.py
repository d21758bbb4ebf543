"""The printer over real stores: the sheet that a page hands out is the command's, byte by byte."""

from __future__ import annotations

from pathlib import Path

import pytest
from deploy_support import POUR, START_MS, act, history, little_service, poured, run

from cure.dashboard.printing import Printer
from deploy.cli_site import DONE
from deploy.page_parts import CAUTION_LINE
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.messages import MessageKind


def test_a_page_hands_out_the_record_that_the_command_writes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(START_MS + HOUR_MS)
            service.apply(done)
        service.intake.take_rows(history(28))
        for minutes in (0, 31):
            clock.set(START_MS + 28 * HOUR_MS + minutes * MINUTE_MS)
            service.rounds.run_due()
        service.apply(act("sign", clock.now() + MINUTE_MS, pour=POUR, operations=["strip"]))
        book = service.book.board
        message = next(m for m in book.messages() if m.kind is MessageKind.RELEASED)
        printer = Printer(book, service.readings, service.words, CAUTION_LINE)
        address, out = "http://site.example:8080", tmp_path / "out.pdf"
        ran = run(capsys, ["record", POUR, "strip", out, "--address", address, "--site", tmp_path / "site.toml"])
        assert ran.code == DONE, ran.err
        assert printer.record(message, address) == out.read_bytes()
