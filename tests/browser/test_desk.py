"""Messages, records and what lies on a desk, as people get them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser_support import WIDTHS, keep_picture, tab
from pages_support import Bench, bench_of, served
from playwright.sync_api import Browser, expect
from store_support import opened_book
from told_support import D, deliver, number_of, show, stopped_story

from shared.models.acts import Confirm
from shared.models.messages import MessageKind


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str]]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book, demo=True)
        show(bench, stopped_story())
        # Every state of a delivery stands somewhere on the list.
        for message, state in zip([*bench.board.said] * 9, D, strict=False):
            deliver(bench, message.no, state, attempt=2, outcome="gateway refused: 503")
        with served(bench.app()) as address:
            yield bench, address


PATHS = (
    "/messages",
    "/message/{withdrawal}",
    "/message/{released}",
    "/records",
    "/r/{released}",
    "/diary",
    "/ready",
    "/days",
)


@pytest.mark.parametrize("path", PATHS)
def test_the_pages_of_a_desk_are_accessible(site: tuple[Bench, str], browser: Browser, path: str) -> None:
    bench, address = site
    of = {"withdrawal": MessageKind.WITHDRAWAL, "released": MessageKind.RELEASED}
    asked = path.format(**{name: number_of(bench, kind) for name, kind in of.items()})
    with tab(browser, address) as made:
        made.page.goto(f"{address}{asked}")
        for width in WIDTHS:
            made.page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"{path.strip('/').replace('/', '-').replace('{', '').replace('}', '')}-{width}")
            assert made.faults() == {}, width


def test_a_withdrawal_is_found_and_confirmed_without_script(site: tuple[Bench, str], browser: Browser) -> None:
    bench, address = site
    no = number_of(bench, MessageKind.WITHDRAWAL)
    deliver(bench, no, D.ACCEPTED, "superintendent")
    with tab(browser, address, 390, java_script_enabled=False) as made:
        made.page.goto(address)
        made.page.get_by_role("link", name="Messages").click()
        made.page.locator(f'a[href="/message/{no}"]').first.click()
        made.page.get_by_label("Nobody is on or under").check()
        made.page.get_by_role("button", name="Confirm").click()
        expect(made.page.get_by_role("heading", level=1)).to_contain_text(f"Message no. {no}")
    (act,) = bench.acts
    assert isinstance(act, Confirm)
    assert act.message == no
