"""The day's lists on a real site book: written once, whoever starts again."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from store_support import POUR, T0, make_setup, opened_book

from cure.days import Days
from cure.ledger import ledger
from shared.clock import SimulatedClock
from shared.models.base import DAY_MS, LOAD, MINUTE_MS, STRIP, THE_SITE, WALK
from shared.models.messages import MessageKind
from shared.store import open_readings


def test_two_days_of_lists_over_restarts(tmp_path: Path) -> None:
    clock = SimulatedClock(T0)
    with closing(open_readings(make_setup(), tmp_path)) as readings:
        while clock.now() < T0 + 2 * DAY_MS:
            with opened_book(tmp_path, now=clock.now()) as book:
                days = Days(make_setup().site, book.board, book.cure, book.service, readings, clock)
                for _ in range(40):
                    days.run_due()
                    clock.set(clock.now() + 15 * MINUTE_MS)
        with opened_book(tmp_path, now=clock.now()) as book:
            told = [(m.kind, m.subject) for m in book.board.messages() if m.pour == THE_SITE]
            rows = ledger(book.board)
    # The pour begins at noon of the 24th, and nobody closes it.
    assert told == [
        (MessageKind.COVER_TONIGHT, "2025-11-24"),
        (MessageKind.HANDOVER, "2025-11-24"),
        (MessageKind.MORNING_LIST, "2025-11-25"),
        (MessageKind.COVER_TONIGHT, "2025-11-25"),
        (MessageKind.HANDOVER, "2025-11-25"),
        (MessageKind.MORNING_LIST, "2025-11-26"),
    ]
    assert [(r.pour, r.operation) for r in rows] == [(POUR, op) for op in (LOAD, STRIP, WALK)]
