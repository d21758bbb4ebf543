"""Every state of a bay's page, and what is there when nothing is or nothing can be read: accessible, no word cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from browser_support import WIDTHS, Tab, keep_picture, tab
from pages_support import NOW, SITE, Bench, bench_of, row, served
from playwright.sync_api import Browser, expect
from store_support import BAY, opened_book

from cure.dashboard.signs import SIGNS
from shared.models.base import LOAD, STRIP, WALK
from shared.models.decisions import Doubt, DoubtKind, GateState

STATES = tuple(GateState)
BY_THREE = tuple(STATES[n : n + 3] for n in range(0, len(STATES), 3))
EMPTY = {"board": "/", "bay": f"/bay/{BAY}", "pour": f"/pour/{BAY}", "sign": "/sign", "days": "/days", "plan": "/plan"}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str]]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book, demo=True)
        plan = SITE.plan.model_copy(update={"second_check": True})
        bench.board.of_site = SITE.model_copy(update={"plan": plan})
        with served(bench.app()) as address:
            yield bench, address


def looked_at(made: Tab, name: str) -> None:
    """Look at a page at every width; what axe looks at is the same at each, where words break is not."""
    assert made.axe() == []
    for width in WIDTHS:
        made.page.set_viewport_size({"width": width, "height": 844})
        keep_picture(made, f"{name}-{width}")
        assert (made.cut(), made.small()) == ([], []), width


@pytest.mark.parametrize("states", BY_THREE, ids=", ".join)
def test_every_state_of_a_gate_stands_on_the_bay_s_page(
    site: tuple[Bench, str], browser: Browser, states: tuple[GateState, ...]
) -> None:
    bench, address = site
    bench.board.rows = [row(BAY, dict(zip((STRIP, WALK, LOAD), states, strict=False)))]
    with tab(browser, address) as made:
        made.page.goto(f"{address}/bay/{BAY}")
        for name, state in zip(("Strip", "Walk", "Load"), states, strict=False):
            shown = made.page.get_by_role("region", name=name).get_attribute("class")
            assert shown == SIGNS[state].fill, state
        looked_at(made, f"state-{states[0].replace(' ', '-')}")
        assert made.wrong == []


def test_where_nothing_is_yet_the_pages_say_so(site: tuple[Bench, str], browser: Browser) -> None:
    bench, address = site
    bench.board.rows = []
    with tab(browser, address) as made:
        for name, path in EMPTY.items():
            made.page.goto(f"{address}{path}")
            looked_at(made, f"empty-{name}")
        assert made.wrong == []


def test_a_pour_that_waits_for_its_check_and_whoever_comes_without_a_name(
    site: tuple[Bench, str], browser: Browser
) -> None:
    bench, address = site
    bench.board.rows = [row()]
    with tab(browser, address) as made:
        made.page.goto(f"{address}/check/{BAY}")
        looked_at(made, "check")
    with served(replace(bench, demo=False).app()) as strange, tab(browser, strange) as made:
        made.page.goto(f"{strange}/bay/{BAY}")
        expect(made.page.get_by_role("link", name="STOP")).to_be_visible()
        looked_at(made, "bay-stranger")


def test_a_service_in_doubt_and_a_store_that_cannot_be_read_are_no_empty_board(
    site: tuple[Bench, str], browser: Browser
) -> None:
    bench, address = site
    bench.board.rows = [row(BAY, {STRIP: GateState.RELEASED})]
    with tab(browser, address) as made:
        bench.board.open_doubts = [Doubt(DoubtKind.LOG, NOW, "line 7 is not as it was written")]
        made.page.goto(f"{address}/bay/{BAY}")
        looked_at(made, "doubt")
        assert made.page.get_by_role("region", name="Strip").get_attribute("class") == "hold"
        bench.board.open_doubts, bench.board.down = (), True
        try:
            made.page.goto(address)
            expect(made.page.get_by_role("main")).to_contain_text("disk I/O error")
            looked_at(made, "store-down")
        finally:
            bench.board.down = False
