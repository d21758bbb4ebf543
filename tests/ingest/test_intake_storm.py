"""A storm of messages that must be refused: every one is written down, and the log stays readable."""

from __future__ import annotations

import logging

import pytest
from ingest_support import EDGE, NOW, Bench, pack, warm

COUNT = 2_000


@pytest.mark.row("N11")
def test_every_refusal_is_counted_and_none_of_them_is_a_line_of_the_log(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench()
    caplog.set_level(logging.INFO)
    for n in range(0, COUNT, 200):
        bench.take(*(b'[{"broken":%d' % k for k in range(n, n + 200)))
        bench.take(*(pack(warm(95.0, NOW - k * 1000)) for k in range(n, n + 200)))
    bench.take(pack(warm(20.0)))
    assert len(bench.book.refused()) == 2 * COUNT
    assert list(bench.readings.stored) == [(EDGE, NOW)]
    assert len(caplog.records) <= 1


@pytest.mark.row("N11")
def test_a_decoder_that_fails_at_every_message_does_not_fill_the_disk(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("ingest.payloads.senml.resolved", fails)
    bench = Bench()
    for n in range(0, COUNT, 200):
        bench.take(*(b"[%d]" % k for k in range(n, n + 200)))
    assert len(bench.book.refused()) == COUNT
    assert len(caplog.records) <= 2
