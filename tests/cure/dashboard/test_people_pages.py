from __future__ import annotations

import html
import re

from pages_support import NOW, Bench, Browser

from shared.models.people import Role


def invite(bench: Bench, browser: Browser, person: str, role: str = "", code: str | None = None) -> str:
    given = bench.code(30) if code is None else code
    form = {"csrf": bench.csrf(browser), "person": person, "role": role, "code": given}
    return html.unescape(browser.post("/people/invite", form).text)


def test_an_admin_hands_over_a_link_that_is_shown_once(bench: Bench) -> None:
    browser = bench.signed_in(Role.ADMIN)
    text = invite(bench, browser, "qc")
    found = re.search(r"http://site\.test(/welcome/[\w-]+)", text)
    assert found
    assert found[0] not in browser.get("/people").text
    assert "Make your account" in bench.browser().get(found[1]).text
    assert bench.people.invitation("x", NOW) is None


def test_letting_somebody_in_takes_a_new_code_each_time(bench: Bench) -> None:
    browser = bench.signed_in(Role.ADMIN)
    code = bench.code()
    assert "One-time link for qc" in invite(bench, browser, "qc", code=code)
    for bad in (code, "000000", ""):
        assert "The code is not right" in invite(bench, browser, "crew", code=bad)


def test_only_viewers_and_admins_are_made_outside_the_site_file(bench: Bench) -> None:
    browser = bench.signed_in(Role.ADMIN)
    for role in ("", "engineer", "qc", "nonsense"):
        assert "Choose somebody of the site file" in invite(bench, browser, "guest", role)
    assert "One-time link for guest" in invite(bench, browser, "guest", "viewer")
    assert "Choose somebody of the site file" in invite(bench, browser, "not a name", "viewer")


def test_an_account_is_ended_but_never_one_s_own(bench: Bench) -> None:
    browser, qc = bench.signed_in(Role.ADMIN), bench.signed_in(Role.QC)

    def end(person: str) -> str:
        form = {"csrf": bench.csrf(browser), "person": person, "code": bench.code(30)}
        return browser.post("/people/end", form).text

    assert "You cannot end your own account" in end("admin")
    assert qc.get("/").status_code == 200
    end("qc")
    assert qc.get("/").status_code == 303
    assert "<b>qc</b>: account ended" in browser.get("/people").text


def test_the_page_lists_who_has_no_account_yet(bench: Bench) -> None:
    text = bench.signed_in(Role.ADMIN).get("/people").text
    assert "<b>crew</b>, crew: no account yet" in text
    assert "<b>admin</b>, admin: account since Tue 25 Nov 2025 18:00 UTC\N{MINUS SIGN}04:00, second factor" in text
