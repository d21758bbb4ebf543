from __future__ import annotations

import logging

import pytest

from ingest.seldom import EVERY_S, SeldomLog


@pytest.mark.row("N11")
def test_one_a_minute_is_written_and_the_others_are_counted(caplog: pytest.LogCaptureFixture) -> None:
    hours = iter([0.0, 1.0, EVERY_S - 1.0, EVERY_S, EVERY_S + 1.0, 3 * EVERY_S])
    log = SeldomLog(logging.getLogger("storm"), lambda: next(hours))
    for n in range(6):
        try:
            raise ZeroDivisionError
        except ZeroDivisionError:
            log.tell("failed at %d", n)
    said = [record.getMessage() for record in caplog.records]
    assert said == [
        "failed at 0",
        "2 more of these were not written",
        "failed at 3",
        "1 more of these were not written",
        "failed at 5",
    ]
