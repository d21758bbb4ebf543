"""The page of the days ahead."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pages_support import NOW, bench_of, row
from store_support import BAY, opened_book

from shared.models.base import HOUR_MS, STRIP
from shared.models.people import Role


def test_it_says_what_is_expected_that_it_is_no_release_and_leads_to_the_bay(tmp_path: Path) -> None:
    with opened_book(tmp_path) as book:
        bench = bench_of(book)
        one = row()
        memory = {"expected": {STRIP: {"expected_ms": NOW + 2 * HOUR_MS}}}
        bench.board.rows = [replace(one, state=replace(one.state, memory=memory))]
        text = bench.signed_in(Role.VIEWER).get("/days").text
        assert "EXPECTED, NOT RELEASED" in text
        assert f'<b>20:00</b> Strip <a class="inline" href="/bay/{BAY}">' in text
        assert text.index("No hour is expected yet") > text.index("20:00")
        bench.board.rows = []
        assert "Nothing waits for an hour." in bench.signed_in(Role.VIEWER).get("/days").text
