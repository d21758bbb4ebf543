"""What bays lack stands on the board, those that are being made ready first, and is soon seen to be mended."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from cure_support import make_case
from pages_support import NOW, Bench, bench_of, row
from store_support import BAY, bay_dict, opened_book

from cure.dashboard.lacking import MOST
from cure.ticks import TICKS
from shared.models.acts import FileDocument, instant
from shared.models.base import MINUTE_MS, BayId
from shared.models.people import Role
from shared.models.setup import BaySettings

NAMES = [f"3-c{n}" for n in range(1, MOST + 3)]


@pytest.fixture
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        made, case = bench_of(book, row(BAY)), make_case()
        bays = [bay_dict(BAY), *(bay_dict(name, first_logger=21 + 10 * n) for n, name in enumerate(NAMES))]
        of = tuple(BaySettings.model_validate({**b, "floor": "3" if b["id"] in NAMES else "2"}) for b in bays)
        made.board.of_site = made.board.of_site.model_copy(update={"bay": of})
        # Somebody has begun to make the last one ready.
        made.board.placed = [replace(p, bay=BayId(NAMES[-1])) for p in case.placements]
        yield made


def lines(text: str) -> list[str]:
    part = text.partition("what is missing")[2].partition("</ul>")[0]
    return [line.partition("</li>")[0].strip() for line in part.split("<li>")[1:]]


def test_the_board_names_what_some_bays_lack_and_counts_the_others(bench: Bench) -> None:
    found = lines(bench.signed_in(Role.CREW).get("/").text)
    assert len(found) == MOST + 1
    assert found[0].startswith(f"<b>{NAMES[-1]}</b> silent sensors, ")
    assert found[1].startswith(f"<b>{NAMES[0]}</b> sensors, calibration of the mix, ")
    assert found[-1] == "2 bays more lack something"
    assert BAY not in " ".join(found)
    browser = bench.signed_in(Role.CREW)
    assert lines(browser.get("/board/rows?floor=2").text) == []
    for language, said in (("fr", "capteurs muets"), ("es", "sensores mudos")):
        browser.cookies.set("slabhour_language", language)
        assert said in browser.get("/board/rows").text


def test_what_is_mended_goes_within_the_minute_and_what_is_whole_is_not_named(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    assert lines(browser.get("/board/rows").text)[0].endswith("covers, ice and snow not looked for")
    bench.board.done = [
        FileDocument(at=instant(NOW), who="qc", name=name, reference="seen", bay=NAMES[-1]) for name in TICKS.values()
    ]
    bench.clock.set(NOW + MINUTE_MS)
    assert "covers" not in lines(browser.get("/board/rows").text)[0]
    bench.board.rows = [row(BAY), *(row(BayId(name)) for name in NAMES)]
    assert lines(browser.get("/board/rows").text) == []
