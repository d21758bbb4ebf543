"""One answer for pages and other software: by the newest rows, and void when its own hour is past or nobody judges."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from pages_support import bench_of
from store_support import opened_book
from told_support import released_story, show

from cure.dashboard.api_reads import ListReads
from cure.dashboard.standing import Standing
from cure.dashboard.standings import standings
from shared.models.base import HOUR_MS, MINUTE_MS, THE_SITE, Ms
from shared.models.messages import MessageKind


def test_a_release_that_nobody_began_is_void_after_its_hour_for_pages_and_for_other_software(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        bench = bench_of(book)
        show(bench, released_story())
    fake = bench.board
    board: Any = fake
    (told,) = [m for m in fake.said if m.kind is MessageKind.RELEASED]
    assert told.valid_until_ms is not None
    (row,) = fake.rows

    api: Any = SimpleNamespace(parts=bench.parts(), caution="look at the board")

    def at(now_ms: Ms) -> tuple[Standing | None, bool]:
        judged = replace(row, state=replace(row.state, as_of_ms=now_ms - MINUTE_MS, next_due_ms=now_ms + HOUR_MS))
        fake.rows = [judged]
        caller: Any = SimpleNamespace(site=fake.of_site, now=now_ms)
        by_software = ListReads(api).record(caller, told.no).stands
        return standings(board, fake.rows, fake.of_site, now_ms)(told), by_software

    assert at(told.valid_until_ms - 1) == (Standing.STANDS, True)
    assert at(told.valid_until_ms) == (Standing.EXPIRED, False)
    assert standings(board, fake.rows, fake.of_site, told.at_ms)(replace(told, pour=THE_SITE)) is None
