from __future__ import annotations

import pytest
from pages_support import NOW, PASSWORD, Bench, Browser

from cure.dashboard import door
from cure.dashboard.attempts import TRIES, WINDOW_MS
from shared.models.people import Role


def sign_in(browser: Browser, person: str = "qc", password: str = PASSWORD, onward: str = "/") -> tuple[int, str]:
    answer = browser.post("/sign-in", {"person": person, "password": password, "next": onward})
    return answer.status_code, answer.headers.get("Location", "")


def test_name_and_password_open_a_session_that_no_script_reads(bench: Bench) -> None:
    bench.account(Role.QC)
    browser = bench.browser()
    answer = browser.post("/sign-in", {"person": " QC ", "password": PASSWORD, "next": "/?floor=2"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/?floor=2")
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Secure" not in cookie
    assert "Signed in: qc, QC" in browser.get("/").text


@pytest.mark.parametrize(
    "onward",
    ["//evil.test", "http://evil.test", "/\\evil.test", "", "/\r\nSet-Cookie: x=y", "/\u65e5", "/\t/evil.test"],
)
def test_after_signing_in_one_goes_to_a_page_of_ours_only(bench: Bench, onward: str) -> None:
    bench.account(Role.QC)
    assert sign_in(bench.browser(), onward=onward) == (303, "/")


def test_a_wrong_password_and_an_unknown_name_are_told_apart_by_nothing(bench: Bench) -> None:
    bench.account(Role.QC)
    texts = {
        bench.browser().post("/sign-in", {"person": who, "password": "wrong"}).text.replace(who, "")
        for who in ("qc", "nobody-x")
    }
    assert len(texts) == 1
    assert "This name and password do not go together." in texts.pop()


def test_after_some_failures_not_even_the_right_password_is_tried(bench: Bench) -> None:
    bench.account(Role.QC)
    browser = bench.browser()
    assert {sign_in(browser, password="wrong")[0] for _ in range(TRIES)} == {403}  # noqa: S106 - not one
    assert sign_in(browser)[0] == 429
    bench.clock.set(NOW + WINDOW_MS)
    assert sign_in(browser)[0] == 303


def test_a_person_who_left_the_site_file_cannot_sign_in(bench: Bench) -> None:
    bench.account(Role.QC)
    left = [r for r in bench.board.of_site.recipient if r.id != "qc"]
    bench.board.of_site = bench.board.of_site.model_copy(update={"recipient": tuple(left)})
    assert sign_in(bench.browser())[0] == 403


def test_signing_in_begins_another_session_in_place_of_what_the_browser_brought(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    before = browser.cookies["slabhour_session"]
    form = {"person": "qc", "password": PASSWORD, "csrf": bench.csrf(browser)}
    answer = browser.post("/sign-in", form)
    token = answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0]
    found = [bench.people.session(door.digest_of(one), NOW) is None for one in (before, token)]
    assert (answer.status_code, found) == (303, [True, False])


def test_signing_out_ends_the_session(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    token = browser.cookies["slabhour_session"]
    assert browser.post("/sign-out", {"csrf": bench.csrf(browser)}).status_code == 303
    browser.cookies.set("slabhour_session", token)
    assert browser.get("/").status_code == 303


def test_an_unencrypted_connection_says_so_before_a_password_is_typed(bench: Bench) -> None:
    said = "This connection is not encrypted"
    assert said in bench.browser().get("/sign-in").text
    assert said not in bench.browser(address="127.0.0.1", host="localhost").get("/sign-in").text


def test_language_and_units_are_chosen_for_a_browser(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    browser.post("/settings", {"csrf": bench.csrf(browser), "language": "es", "units": "US"})
    text = browser.get("/").text
    assert '<html lang="es"' in text
    assert "493 psi (3.4 MPa), exige 508 psi (3.5 MPa)" in text


def test_without_a_choice_the_browser_s_language_is_taken_and_the_person_s_before_it(bench: Bench) -> None:
    assert '<html lang="fr"' in bench.browser().get("/sign-in", accept_language="de, fr-CA;q=0.9, en").text
    assert '<html lang="en"' in bench.browser().get("/sign-in", accept_language="de").text
    assert '<html lang="en"' in bench.signed_in(Role.QC).get("/", accept_language="fr").text
