from __future__ import annotations

import pytest
from pages_support import Bench, Browser

from cure.dashboard.visitors import is_here, is_ours
from shared.models.people import Role


def here(bench: Bench, host: str = "localhost:8080") -> Browser:
    return bench.browser(address="127.0.0.1", host=host)


def test_the_demo_lets_this_machine_in_without_a_password_and_says_so(bench: Bench) -> None:
    bench.demo = True
    answer = here(bench).get("/")
    assert answer.status_code == 200
    assert (
        "Demo: an invented site. Whoever is at this machine acts for superintendent without a password" in answer.text
    )


@pytest.mark.parametrize(("address", "host"), [("192.0.2.7", "localhost"), ("127.0.0.1", "evil.test")])
def test_the_demo_lets_nobody_else_in(bench: Bench, address: str, host: str) -> None:
    bench.demo = True
    answer = bench.browser(address=address, host=host).get("/")
    assert answer.status_code == 403
    assert "The demo is read at its own machine only" in answer.text


def test_outside_the_demo_this_machine_signs_in_like_any_other(bench: Bench) -> None:
    answer = here(bench).get("/")
    assert answer.status_code == 303
    assert "Demo" not in here(bench).get("/sign-in").text


def test_in_the_demo_one_chooses_whom_to_act_for(bench: Bench) -> None:
    bench.demo = True
    browser = here(bench)
    csrf = browser.get("/settings").text.split('name="csrf" value="')[1].split('"')[0]
    browser.post("/settings", {"csrf": csrf, "acting": "qc", "units": "US", "language": "fr"})
    assert "agit pour qc" in browser.get("/").text
    browser.post("/settings", {"csrf": csrf, "acting": "stranger"})
    assert "agit pour qc" in browser.get("/").text


def test_outside_the_demo_nobody_chooses_whom_to_act_for(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    browser.post("/settings", {"csrf": bench.csrf(browser), "acting": "engineer"})
    browser.cookies.set("slabhour_acting", "engineer")
    assert "Signed in: viewer, viewer" in browser.get("/").text


@pytest.mark.parametrize(
    ("address", "host", "here"),
    [
        ("127.0.0.1", "localhost:8080", True),
        ("127.0.0.1", "127.0.0.1", True),
        ("::1", "[::1]:80", True),
        ("127.0.0.1", "localhost.evil.test", False),
        ("192.0.2.7", "localhost", False),
        ("", "localhost", False),
        ("127.0.0.1", "[", False),
    ],
)
def test_here_is_this_machine_asked_by_its_own_name(address: str, host: str, here: bool) -> None:
    assert is_here(address, host) is here


@pytest.mark.parametrize(
    ("origin", "host", "ours"),
    [
        ("http://site.test", "site.test", True),
        ("https://Site.test:8443", "site.test:8443", True),
        (None, "site.test", False),
        ("null", "site.test", False),
        ("http://site.test", "", False),
        ("http://[", "site.test", False),
    ],
)
def test_a_form_is_ours_when_its_page_was(origin: str | None, host: str, ours: bool) -> None:
    assert is_ours(origin, host) is ours
