"""What lies in the site office: the handover sheet, hours lost, forecast scores, break orders. Read and printed."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from beside_support import SCORED
from browser_support import WIDTHS, keep_picture, tab
from ledger_support import lost_hours
from mixes_support import mix_bench
from pages_support import NOW, Bench, served
from playwright.sync_api import Browser, expect
from scores_support import scored
from store_support import opened_book

from shared.models.acts import StrengthTest, TakeOver, instant


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str]]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = mix_bench(book, demo=True)
        lost_hours(bench)
        broken = {"at": instant(NOW), "who": "qc", "pour": "2-b2-p1", "method": "cylinder", "mpa": 13.5}
        bench.board.done = [*bench.board.done, StrengthTest.model_validate(broken)]
        SCORED.extend(scored(n, 4.5 if n % 2 else 1.0, mix="c32-f" if n % 3 else "c40") for n in range(34))
        with served(bench.app()) as address:
            yield bench, address
        SCORED.clear()


@pytest.mark.parametrize("path", ["/shift", "/ledger", "/forecasts", "/breaks"])
def test_the_pages_of_the_office_are_accessible_and_print_on_one_sheet(
    site: tuple[Bench, str], browser: Browser, path: str
) -> None:
    _, address = site
    with tab(browser, address) as made:
        made.page.goto(f"{address}{path}")
        for width in WIDTHS:
            made.page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"{path.strip('/')}-{width}")
            assert made.faults() == {}, width
        assert made.bytes <= 20_000
        assert len(re.findall(rb"/Type\s*/Page\b", made.page.pdf(format="A4"))) == 1


def test_a_shift_is_taken_over_without_script(site: tuple[Bench, str], browser: Browser) -> None:
    bench, address = site
    with tab(browser, address, 390, java_script_enabled=False) as made:
        made.page.goto(address)
        made.page.get_by_role("link", name="Shift handover").click()
        made.page.get_by_label("What was said besides").fill("pump at 7")
        made.page.get_by_role("button", name="Taken over by").click()
        expect(made.page.get_by_role("heading", level=1)).to_have_text("Shift handover")
    (act,) = bench.acts
    assert isinstance(act, TakeOver)
    assert act.note == "pump at 7"
