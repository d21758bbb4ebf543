"""A stranger's path: the pages alone, by the names that people read, from the link in the terminal to a confirmed STOP.

Over the real service in simulated time: stores, intake, rounds, acts, messages, records. Nothing waits for a clock.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pytest
from browser_support import CHROMIUM, Tab, chromium, tab
from pages_support import PASSWORD
from playwright.sync_api import Browser, Page, expect
from yard_support import Yard, go, look, opened_yard, press

from cure.dashboard.door import first_link
from deploy.demo.scenario import SITE_FILE
from shared.models.acts import instant
from shared.models.base import MINUTE_MS

BREAKS: Final = Path(SITE_FILE).with_name("breaks.csv")
BAYS: Final = ("1-b1", "1-b2")
HALIFAX: Final = ZoneInfo("America/Halifax")


@pytest.fixture
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("Debian's chromium is not installed: apt-get install chromium")
    # A busy machine takes its time; nothing here is about how much.
    expect.set_options(timeout=60_000)
    with chromium() as opened:
        yield opened


def people_come(yard: Yard, boss: Page, others: dict[str, Page]) -> None:
    link = first_link(yard.service.book.people, yard.service.setup.site, yard.clock.now())
    yard.joins(boss, f"{yard.address}{link}", "boss", "boss")
    for person, page in others.items():
        go(boss, "People")
        boss.get_by_label("Name").first.fill(person)
        boss.get_by_label("Code").first.fill(yard.code("boss"))
        press(boss, "Make a one-time link")
        yard.joins(page, boss.get_by_role("status").locator("code").inner_text(), person)
        press(page, "Sign out")
        yard.signs_in(page, person)


def calibrates(yard: Yard, page: Page) -> None:
    go(page, "Mixes", "c32-f")
    expect(page.get_by_role("main")).to_contain_text("Not calibrated")
    go(page, "Calibrate")
    page.get_by_label("or take them from a file").first.set_input_files(BREAKS)
    page.get_by_label("Cylinders made on").fill("2026-10-19")
    page.get_by_label("Laboratory", exact=True).fill("site laboratory")
    page.get_by_label("Supplier").fill("plant 2")
    page.get_by_label("Dose class").fill("none")
    press(page, "Fit the curve")
    expect(page.get_by_role("status")).to_contain_text("Fit for release")
    page.get_by_label("Second person").fill("engineer")
    page.get_by_label("Reason").fill("first calibration of this mix")
    page.get_by_label("Code").fill(yard.code("qc"))
    press(page, "Put version 1 in force")
    expect(page.get_by_role("status")).to_contain_text("Version 1 is in force.")


def places_a_logger(yard: Yard, page: Page) -> None:
    now = yard.clock.now()
    yard.heard("lg-03", {"1": 11.75}, now, now)
    go(page, "Loggers")
    expect(page.get_by_role("listitem").filter(has_text="lg-03").first).to_contain_text("heard, not placed")
    go(page, "lg-03.1")
    page.get_by_label("Bay", exact=True).select_option("1-b2")
    page.get_by_label("Where in the bay").select_option(label="last-placed end")
    page.get_by_label("Depth below the top").fill("50")
    page.get_by_label("Place in words").fill("grid C4, 100 mm in")
    press(page, "Place it here")
    now += 15 * MINUTE_MS
    yard.clock.set(now)
    yard.heard("lg-03", {"1": 11.75}, now, now)
    go(page, "I hold lg-03.1 now")
    yard.clock.set(now + 5 * MINUTE_MS)
    yard.heard("lg-03", {"1": 19.5}, yard.clock.now(), yard.clock.now())
    go(page, "Look again")
    expect(page.get_by_role("status")).to_contain_text("lg-03.1 felt it")
    expect(page.get_by_role("main")).to_contain_text("in bay 1-b2, last-placed end, 50 mm deep, grid C4, 100 mm in")


def pours(yard: Yard, page: Page) -> None:
    for bay in BAYS:
        go(page, "Before the pour")
        page.get_by_role("region", name=f"Bay {bay}").get_by_role("link", name="Pour start or end").click()
        press(page, "Pour start")
        expect(page.get_by_role("heading", level=1)).to_have_text(f"Bay {bay}")
    yard.cures(1.0)
    for bay in BAYS:
        go(page, "Board", bay, "Pour start or end")
        press(page, "Pour end")
    yard.turn()


def checks(yard: Yard, made: Tab) -> None:
    page = made.page
    for bay in BAYS:
        go(page, "Board", bay, "Second check")
        page.get_by_label("Mix, as printed on the ticket").fill("c32-f")
        page.get_by_label("Number of the ticket").fill(f"T-{bay}")
        page.get_by_label("Hour of the last concrete").fill(
            f"{instant(yard.clock.now()).astimezone(HALIFAX):%Y-%m-%dT%H:%M}"
        )
        page.get_by_label("I have seen that the loggers").check()
        page.get_by_label("I have seen the plan").check()
        if bay == BAYS[0]:
            look(made, "check")
        press(page, "I have checked it")
        expect(page.get_by_role("heading", level=1)).to_have_text(f"Bay {bay}")
    yard.turn()


def signs(yard: Yard, made: Tab) -> None:
    page = made.page
    go(page, "Sign")
    waiting = page.get_by_role("checkbox", checked=True)
    expect(waiting).to_have_count(4)
    look(made, "sign")
    page.get_by_label("I have read the findings").check()
    page.get_by_label("What is ticked goes ahead").check()
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Code").fill(yard.code("qc"))
    press(page, "Sign what is ticked")
    for bay in BAYS:
        expect(page.get_by_role("status").filter(has_text=f"Signed: {bay}: Strip, Walk.")).to_be_visible()
    yard.tells()


def crew_acts(yard: Yard, page: Page) -> None:
    go(page, "Board", "1-b1")
    press(page, "Under way: Strip")
    expect(page.get_by_role("region", name="Walk")).to_contain_text("Keep off")
    press(page, "Done: Strip")
    expect(page.get_by_role("region", name="Strip")).to_contain_text("Done")
    yard.tells()


def printed(address: str, page: Page, link: re.Pattern[str] | str) -> bytes:
    """Return the file that a link of the list of records leads to."""
    go(page, "Records")
    path = page.get_by_role("link", name=link).first.get_attribute("href")
    answer = page.request.get(f"{address}{path}")
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    return answer.body()


def words_of(pdf: bytes) -> str:
    """Return the words of a PDF, as Debian's poppler reads them."""
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("Debian's poppler-utils is not installed: apt-get install poppler-utils")
    return subprocess.run([reader, "-", "-"], input=pdf, capture_output=True, check=True).stdout.decode()


def prints(address: str, page: Page) -> None:
    sheet = words_of(printed(address, page, re.compile(r"^Record \d+: Bay 1-b1, Strip: released$")))
    assert "1-b1" in sheet
    assert "signed" in sheet.lower()
    whole = words_of(printed(address, page, "Handover set of floor 1 (PDF)"))
    assert all(bay in whole for bay in BAYS)


def finds_the_message(page: Page) -> None:
    go(page, "Messages")
    page.get_by_role("link", name=re.compile(r"^RELEASED, no added load: walk bay 1-b1")).click()
    expect(page.get_by_role("main")).to_contain_text("accepted by the channel")
    expect(page.get_by_role("region", name="English")).to_contain_text("lower bound of strength")


def presses_stop(yard: Yard, made: Tab) -> None:
    """As whoever stands there, from the code on the bay's label, without an account."""
    page = made.page
    page.goto(f"{yard.address}/bay/1-b2")
    go(page, "STOP")
    page.get_by_label("What have you seen?").fill("a crack at the stair")
    press(page, "STOP: first press")
    press(page, "STOP bay 1-b2")
    expect(page.get_by_role("status")).to_contain_text("Every gate of bay 1-b2 is shut")
    look(made, "stopped")
    yard.tells()


def confirms(yard: Yard, page: Page) -> None:
    go(page, "Messages")
    page.get_by_role("link", name=re.compile(r"^KEEP FORMS ON, do not strip bay 1-b2")).first.click()
    expect(page.get_by_role("main")).to_contain_text("a crack at the stair")
    page.get_by_label("Nobody is on or under").check()
    press(page, "Confirm")
    yard.tells()
    page.reload()
    expect(page.get_by_role("main")).to_contain_text("confirmed by a person")


def test_a_stranger_finds_the_whole_way_by_the_names_on_the_pages(browser: Browser, tmp_path: Path) -> None:
    with opened_yard(tmp_path) as yard, ExitStack() as stack:
        boss, desk, phone, passer_by = (
            stack.enter_context(tab(browser, yard.address, width)) for width in (1000, 1000, 390, 390)
        )
        for window in (boss, desk, phone, passer_by):
            window.page.set_default_timeout(60_000)
        people_come(yard, boss.page, {"qc": desk.page, "super": phone.page})
        calibrates(yard, desk.page)
        places_a_logger(yard, phone.page)
        pours(yard, phone.page)
        checks(yard, desk)
        yard.cures(3.0)
        # Nobody has used the pages for three hours: everybody comes in anew.
        yard.signs_in(desk.page, "qc")
        yard.signs_in(phone.page, "super")
        go(phone.page, "Board", "1-b2")
        expect(phone.page.get_by_role("img", name=re.compile("^Strength"))).to_be_visible()
        look(phone, "bay")
        for person in (desk, phone):
            press(person.page, "Sign out")
        yard.cures(23.0)
        yard.signs_in(desk.page, "qc")
        yard.signs_in(phone.page, "super")
        signs(yard, desk)
        crew_acts(yard, phone.page)
        prints(yard.address, desk.page)
        finds_the_message(phone.page)
        presses_stop(yard, passer_by)
        confirms(yard, phone.page)
        assert boss.wrong + desk.wrong + phone.wrong + passer_by.wrong == []
