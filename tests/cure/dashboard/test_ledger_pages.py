"""The page of lost hours says what the ledger of the command says, and gives it out as a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

import pytest
from ledger_support import lost_hours
from pages_support import Bench, bench_of
from store_support import opened_book

from cure.dashboard.downloads import KINDS, NO_FILES, TableFiles
from cure.ledger import bay_totals, ledger, totals
from shared.models.base import HOUR_MS
from shared.models.people import Role
from shared.ports import BoardBook


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        made = bench_of(book)
        lost_hours(made)
        yield made


def cells(text: str) -> list[str]:
    return [part.partition("</td>")[0].rpartition(">")[2] for part in text.split("<td ")[1:]]


def test_sums_and_operations_are_those_of_the_ledger(bench: Bench) -> None:
    rows = ledger(cast("BoardBook", bench.board))
    floors, bays = totals(rows), bay_totals(rows)
    assert [(t.floor, t.lost.cold_ms) for t in floors] == [("2", 6 * HOUR_MS), ("3", 3 * HOUR_MS)]
    text = bench.signed_in(Role.QC).get("/ledger").text
    found = cells(text)
    # Each floor, then its bays: operations, five parts, met to done.
    sums = [found[n : n + 7] for n in range(0, 7 * (len(floors) + len(bays)), 7)]
    wanted = [t for floor in floors for t in (floor, *(b for b in bays if b.floor == floor.floor))]
    for shown, total in zip(sums, wanted, strict=True):
        parts = [*total.lost.parts, total.waited_ms]
        unknown = f", not known in full: {total.unknown}" if total.unknown else ""
        assert shown[0] == f"{total.operations}{unknown}"
        assert shown[1:] == ["not known" if p is None else f"{p / HOUR_MS:.1f} h" for p in parts]
    # Due, met, signed, begun, done, met to done, lost to what; the newest pour first.
    third = found[7 * len(wanted) :][:7]
    assert third[2:] == ["-", "-", "-", "not known", "cold 3.0 h; strength 0.5 h; the rest is not known, or not yet"]
    assert "cold 6.0 h; strength 1.0 h; nobody signed 1.0 h; crew 1.0 h" in text
    assert "CSV" in text


def test_one_floor_is_shown_alone_and_its_table_has_its_bays(bench: Bench) -> None:
    viewer = bench.signed_in(Role.VIEWER)
    text = viewer.get("/ledger?floor=3").text
    assert "3-b1-p1" in text
    assert "2-b1-p1" not in text
    assert 'href="/ledger.csv?floor=3"' in text
    assert "2-b1-p1" in viewer.get("/ledger?floor=9").text
    table = viewer.get("/ledger.csv?floor=2")
    assert table.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="ledger.csv"' in table.headers["Content-Disposition"]
    assert table.text.splitlines() == ["ledger", *(b.id for b in bench.board.of_site.bay if b.floor == "2")]
    assert viewer.get("/ledger.csv").text == "ledger"


def test_the_table_comes_as_a_file_too_where_its_extra_is_installed(bench: Bench) -> None:
    assert "/ledger.xlsx" not in bench.signed_in(Role.VIEWER).get("/ledger").text
    missing = bench.signed_in(Role.VIEWER).get("/ledger.parquet")
    assert (missing.status_code, "it needs the extra parquet" in missing.text) == (404, True)
    bench.files = TableFiles(("xlsx",), lambda name, bays: iter([name.encode(), b"|", ",".join(bays).encode()]))
    viewer = bench.signed_in(Role.VIEWER)
    text = viewer.get("/ledger?floor=3").text
    assert ('href="/ledger.xlsx?floor=3"' in text, "/ledger.parquet" in text) == (True, False)
    table = viewer.get("/ledger.xlsx?floor=3")
    assert table.content == b"ledger.xlsx|" + ",".join(b.id for b in bench.board.of_site.bay if b.floor == "3").encode()
    assert table.headers["Content-Type"] == KINDS["xlsx"]
    assert viewer.get("/ledger.parquet").status_code == 404
    bench.files = NO_FILES


def test_the_page_is_in_the_reader_s_language_and_empty_before_the_first_pour(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    for language, said in (("fr", "froid 6.0 h"), ("es", "frío 6.0 h")):
        browser.cookies.set("slabhour_language", language)
        text = browser.get("/ledger").text
        assert said in text
        assert "cold " not in text
    kept, bench.board.done = bench.board.done, ()
    assert "<table" not in browser.get("/ledger").text
    bench.board.done = kept
