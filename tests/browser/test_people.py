"""From the link in the terminal to a signed-in person, as a stranger would go."""

from __future__ import annotations

from collections.abc import Iterator

import pyotp
import pytest
from browser_support import WIDTHS, keep_picture, tab
from pages_support import NOW, PASSWORD, Bench, bench_of, row, served
from playwright.sync_api import Browser, Page
from store_support import opened_book

from cure.dashboard import door
from shared.models.people import Role


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, str]]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book, row())
        with served(bench.app()) as address:
            yield bench, address


def fill_account(page: Page, person: str | None = None) -> str:
    """Fill the form of a one-time link; return the secret of the second factor."""
    secret = page.locator("code").inner_text()
    if person is not None:
        page.get_by_label("Name").fill(person)
    page.get_by_label("Password, at least").fill(PASSWORD)
    page.get_by_label("Password again").fill(PASSWORD)
    page.get_by_label("Code").fill(pyotp.TOTP(secret).at(NOW // 1000))
    return secret


def test_from_the_terminal_s_link_to_a_second_person_and_a_screen(site: tuple[Bench, str], browser: Browser) -> None:
    bench, address = site
    link = door.first_link(bench.people, bench.board.of_site, NOW)
    with tab(browser, address) as boss, tab(browser, address, 390) as qc, tab(browser, address, 390) as hut:
        boss.page.goto(f"{address}{link}")
        secret = fill_account(boss.page, "boss")
        boss.page.get_by_role("button", name="Make account").click()
        assert "Signed in: boss, admin" in boss.page.inner_text("footer")
        boss.page.goto(f"{address}/people")
        boss.page.get_by_label("Name").first.fill("qc")
        boss.page.get_by_label("Code").first.fill(pyotp.TOTP(secret).at(NOW // 1000 + 30))
        boss.page.get_by_role("button", name="Make a one-time link").click()
        handed = boss.page.locator(".once code").inner_text()

        qc.page.goto(handed)
        fill_account(qc.page)
        qc.page.get_by_role("button", name="Make account").click()
        assert "Signed in: qc, QC" in qc.page.inner_text("footer")
        qc.page.get_by_role("button", name="Sign out").click()
        qc.page.get_by_label("Name").fill("qc")
        qc.page.get_by_label("Password").fill(PASSWORD)
        qc.page.get_by_role("button", name="Sign in").click()
        assert "Where each bay stands" in qc.page.inner_text("main")
        qc.page.goto(f"{address}/devices")
        qc.page.get_by_label("Name").fill("hut")
        qc.page.get_by_role("button", name="Add a screen").click()
        hut.page.goto(qc.page.locator(".once code").inner_text())
        hut.page.get_by_role("button", name="Read here").click()
        assert 'Screen "hut", reads only' in hut.page.inner_text("footer")
        assert boss.wrong + qc.wrong + hut.wrong == []


@pytest.mark.parametrize("path", ["/sign-in", "/settings", "/people", "/devices", "/nowhere", "/welcome"])
def test_the_pages_at_the_door_are_accessible(site: tuple[Bench, str], browser: Browser, path: str) -> None:
    bench, address = site
    with tab(browser, address) as made:
        if path == "/welcome":
            path = f"/welcome/{door.invite(bench.people, 'engineer', None, 'boss', NOW)}"
        elif path != "/sign-in":
            role = Role.ADMIN if path == "/people" else Role.QC
            if bench.people.account(role.value) is None:
                bench.account(role)
            token = door.begin_session(bench.people, role.value, NOW)
            cookie = {"name": "slabhour_session", "value": token, "url": address}
            made.page.context.add_cookies([cookie])  # type: ignore[list-item]
        made.page.goto(f"{address}{path}")
        for width in WIDTHS:
            made.page.set_viewport_size({"width": width, "height": 844})
            keep_picture(made, f"{path.split('/')[1]}-{width}")
            faults = made.faults()
            if path == "/nowhere":
                assert "404" in str(faults.pop("said"))
            assert faults == {}, width


def test_a_wrong_password_is_said_at_the_top_of_the_form(site: tuple[Bench, str], browser: Browser) -> None:
    _, address = site
    with tab(browser, address, 390) as made:
        made.page.goto(f"{address}/sign-in")
        made.page.get_by_label("Name").fill("nobody-here")
        made.page.get_by_label("Password").fill("not the password")
        made.page.get_by_role("button", name="Sign in").click()
        assert "do not go together" in made.page.get_by_role("alert").last.inner_text()
        assert made.page.get_by_label("Name").input_value() == "nobody-here"
        assert made.axe() == []
