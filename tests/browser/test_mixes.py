"""Mixes, loggers, labels and help as people get them: on a phone, without script, and what a calibration takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_support import WIDTHS, keep_picture, tab
from mixes_support import BREAKS, mix_bench
from pages_support import NOW, Bench, served
from playwright.sync_api import Browser
from store_support import opened_book

from deploy.demo.scenario import SITE_FILE
from shared.models.acts import PlaceSensor, PutInForce, StrengthTest
from shared.models.readings import Reason, Refusal, Refused

PATHS = {
    "mixes": "/mixes",
    "mix": "/mix/c32-f",
    "calibrate": "/mix/c32-f/calibrate",
    "loggers": "/loggers",
    "logger": f"/logger/lg-01?held=lg-01.1&since={NOW - 60_000}",
    "labels": "/labels",
    "help": "/help",
}
CUBES = Path(SITE_FILE).with_name("cubes.csv").read_text(encoding="utf-8")
WIRE = Refusal(7, Refused(NOW - 60_000, "m/lg-02", b'{"t": 1, "long": "' + b"x" * 90, Reason.UNIT, "'K' is no unit"))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str]]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = mix_bench(book, demo=True)
        bench.board.standing = (WIRE,)
        with served(bench.app()) as address:
            yield bench, address


def as_person(made_page: object, address: str, person: str, language: str = "en") -> None:
    cookies = {"slabhour_acting": person, "slabhour_language": language}
    made_page.context.add_cookies(  # type: ignore[attr-defined]
        [{"name": name, "value": value, "url": address} for name, value in cookies.items()]
    )


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_the_pages_are_accessible_and_no_word_is_cut(site: tuple[Bench, str], browser: Browser, language: str) -> None:
    _, address = site
    with tab(browser, address) as made:
        as_person(made.page, address, "qc", language)
        for name, path in PATHS.items():
            made.page.goto(f"{address}{path}")
            for width in WIDTHS:
                made.page.set_viewport_size({"width": width, "height": 844})
                if language == "en":
                    keep_picture(made, f"{name}-{width}")
                    # What axe looks at is the same in every language and width; where words break is not.
                    found = {"axe": made.axe() if width == WIDTHS[0] else [], "cut": made.cut(), "small": made.small()}
                else:
                    found = {"cut": made.cut(), "small": made.small()}
                assert not any(found.values()), (name, width, found)
        assert made.wrong == []


def test_a_mix_is_calibrated_from_a_file_without_script(
    site: tuple[Bench, str], browser: Browser, tmp_path: Path
) -> None:
    bench, address = site
    file = tmp_path / "breaks.csv"
    file.write_text(BREAKS, encoding="utf-8")
    bench.acts.clear()
    with tab(browser, address, 390, java_script_enabled=False) as made:
        as_person(made.page, address, "qc")
        page = made.page
        page.goto(f"{address}/mix/c32-f")
        page.get_by_role("link", name="Calibrate").click()
        page.get_by_label("or take them from a file").first.set_input_files(file)
        page.get_by_label("Cylinders made on").fill("2026-10-19")
        for label, text in (("Laboratory", "lab"), ("Supplier", "plant"), ("Dose class", "none")):
            page.get_by_label(label, exact=label == "Laboratory").fill(text)
        page.get_by_role("button", name="Fit the curve").click()
        keep_picture(made, "fitted-390")
        assert "Fit for release" in page.inner_text("main")
        assert "keeps version 1" in page.inner_text("main")
        page.get_by_label("Second person").fill("engineer")
        page.get_by_label("Reason").fill("new cement")
        page.get_by_role("button", name="Put version 2 in force").click()
        assert "Version 2 is in force." in page.inner_text("main")
        page.get_by_role("textbox", name="Strength").fill("9.4")
        page.get_by_role("button", name="Enter this result").click()
        page.goto(f"{address}/logger/lg-03")
        page.get_by_label("Sensor, such as").first.fill("lg-03.1")
        page.get_by_role("button", name="Place it here").click()
        assert made.wrong == []
    assert [type(act) for act in bench.acts] == [PutInForce, StrengthTest, PlaceSensor]


def test_a_fitted_page_with_script_is_accessible_at_every_width(site: tuple[Bench, str], browser: Browser) -> None:
    _, address = site
    with tab(browser, address) as made:
        as_person(made.page, address, "qc")
        page = made.page
        page.goto(f"{address}/mix/c32-f/calibrate")
        page.get_by_label("Paste or type the breaks").fill(BREAKS)
        page.get_by_label("Cylinders made on").fill("2026-10-19")
        for label, text in (("Laboratory", "lab"), ("Supplier", "plant"), ("Dose class", "none")):
            page.get_by_label(label, exact=label == "Laboratory").fill(text)
        page.get_by_text("Mortar cubes: the mix's own").click()
        page.get_by_label("Paste the cubes").fill(CUBES)
        page.get_by_label("Strengths that requirements ask for").fill("3.5 7 14")
        page.get_by_role("button", name="Fit the curve").click()
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"fitted-{width}")
            found = made.faults() if width == WIDTHS[0] else {"cut": made.cut(), "small": made.small()}
            assert not any(found.values()), (width, found)


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_a_sheet_of_labels_prints_alone_on_one_sheet(
    site: tuple[Bench, str], browser: Browser, paper: str, size: tuple[int, int]
) -> None:
    _, address = site
    with tab(browser, address) as made:
        as_person(made.page, address, "qc")
        made.page.goto(f"{address}/labels?paper={paper}")
        printed = made.page.pdf(prefer_css_page_size=True)
        [box] = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
        assert (round(float(box[0])), round(float(box[1]))) == size
        made.page.emulate_media(media="print")
        assert made.page.locator("header").is_hidden()
        assert made.page.locator(".sheets svg").is_visible()
