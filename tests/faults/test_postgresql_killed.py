"""A server that is killed while a book is written loses nothing that was answered, and keeps no half of anything."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from random import Random
from threading import Event, Thread
from typing import Final, Self

import pytest
from postgresql_support import NEEDS_POSTGRESQL, BooksOnServer, postgresql
from scale import SCALE
from store_support import PLACING, POUR, make_log, make_message, make_result, opened_book

from shared.errors import StoreError
from shared.store.book import SiteBook

KILLS: Final = max(2, round(2 * SCALE))
AMID: Final = (5, 30)
"""Least and most that is answered between two kills."""


class _Writer:
    """Records one thing after the other, each with a number of its own and never twice, whatever it is answered."""

    def __init__(self, book: SiteBook) -> None:
        self.answered: list[int] = []
        self.refused: list[int] = []
        self.failed: BaseException | None = None
        self._book = book
        self._ended = Event()
        self._thread = Thread(target=self._run)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()

    def _run(self) -> None:
        number = 0
        try:
            while not self._ended.is_set():
                number += 1
                try:
                    case = self._book.cure.case(POUR)
                    told = (make_message(epoch=number),)
                    if self._book.cure.record(case, make_result(case, messages=told, log=(make_log("n", n=number),))):
                        self.answered.append(number)
                except StoreError:
                    self.refused.append(number)
                    self._ended.wait(0.02)
        except BaseException as error:  # noqa: BLE001 - told by the test
            self.failed = error

    def wait_for(self, more: int) -> None:
        """Return when so many more are answered."""
        until = len(self.answered) + more
        while len(self.answered) < until and self.failed is None:
            self._ended.wait(0.01)


@pytest.mark.parametrize("seed", [pytest.param(1, marks=NEEDS_POSTGRESQL)])
@pytest.mark.row("S14", "H2")
def test_what_was_answered_as_recorded_is_there_once_whenever_the_server_is_killed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    random = Random(seed)
    with postgresql() as server:
        monkeypatch.setattr(PLACING, "on_server", BooksOnServer(server, tmp_path).settings)
        with opened_book(tmp_path) as book:
            with _Writer(book) as writer:
                for _ in range(KILLS):
                    writer.wait_for(random.randint(*AMID))
                    server.kill()
                    server.start()
                writer.wait_for(1)
            assert writer.failed is None
            assert writer.refused
            lines = Counter(entry.body["n"] for _, entry in book.board.log_after(0) if entry.what == "n")
            told = Counter(message.epoch for message in book.board.messages())
            assert set(lines.values()) == {1}
            # One whose answer was lost may be there, whole; of any other nothing is.
            assert set(writer.answered) <= set(lines) <= {*writer.answered, *writer.refused}
            assert lines == told
            assert book.service.verify_log()[0] >= len(lines)
        with opened_book(tmp_path) as again:
            assert again.cure.case(POUR).pour.id == POUR
