"""Routes, who may ask for them, and what every answer carries."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from pages_support import Bench, Browser
from store_support import opened_book

from cure.dashboard import app
from cure.dashboard.app import pages
from cure.dashboard.door import add_device
from cure.dashboard.rendering import asset
from cure.dashboard.rules import FRAGMENTS, RULES, SHUTS, Comer, may
from shared.models.people import Role
from shared.web_headers import HEADERS

COMERS = (*(role.value for role in Role), Comer.DEVICE, Comer.NOBODY)
BY_CODE = {"/r/{no}"}
"""Answered to a stranger who has the sheet's check code; else to the signed in."""
PATHS = {"/static/{name}": asset("page.css")}


def filled(route: str) -> str:
    """Return a path of a route, with names that the bench knows."""
    for part, name in {"{token}": "x", "{bay}": "2-b1", "{logger}": "lg-01", "{mix}": "c32-f", "{no}": "1"}.items():
        route = route.replace(part, name)
    return route


@pytest.fixture(scope="module")
def browsers(tmp_path_factory: pytest.TempPathFactory) -> object:
    from pages_support import bench_of

    with opened_book(tmp_path_factory.mktemp("book")) as book:
        bench = bench_of(book)
        found: dict[str, Browser] = {role.value: bench.signed_in(role) for role in Role}
        found[Comer.NOBODY] = bench.browser()
        found[Comer.DEVICE] = bench.browser()
        found[Comer.DEVICE].cookies.set("slabhour_device", add_device(bench.people, "hut", "qc", 0))
        yield found


@pytest.mark.parametrize(("method", "route"), RULES, ids=str)
def test_a_route_answers_those_of_its_rule_and_nobody_else(
    browsers: dict[str, Browser], method: str, route: str
) -> None:
    for comer in COMERS:
        hold(browsers[comer], method, route, comer)


def hold(browser: Browser, method: str, route: str, comer: str) -> None:
    """Forms come without their secret here, so whoever may is told that the form is too old."""
    path = PATHS.get(route, filled(route))
    answer = browser.get(path) if method == "GET" else browser.post(path)
    if may(method, route, comer):
        named = comer in set(Role)
        if route in SHUTS:
            assert answer.status_code == 200, comer
            return
        wanted = {200, 204, 404, 410} if method == "GET" else {403} if named else {200, 303, 403, 410}
        if route in BY_CODE and comer == Comer.NOBODY:
            wanted = {303}
        assert answer.status_code in wanted, comer
        if method == "POST" and named:
            assert "This form is too old" in answer.text, comer
    elif comer == Comer.NOBODY:
        assert answer.status_code == 401 if route in FRAGMENTS else answer.headers["Location"].startswith("/sign-in?")
    else:
        assert answer.status_code in {303, 403}, comer
        assert "This form is too old" not in answer.text, comer


def test_every_route_of_the_router_has_a_rule_and_every_rule_a_route(bench: Bench) -> None:
    found = {(m, r.path) for r in pages(bench.parts()).routes for m in r.methods - {"HEAD"}}  # type: ignore[attr-defined]
    assert found == set(RULES)


def test_a_route_without_a_rule_stops_the_pages_from_being_made(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    handlers = app.handlers
    monkeypatch.setattr(app, "handlers", lambda parts: {**handlers(parts), ("GET", "/new"): lambda _: None})
    with pytest.raises(KeyError, match="/new"):
        pages(bench.parts())


def test_nobody_who_only_reads_is_in_a_rule_that_does_something() -> None:
    of_everybody = {"/sign-in", "/sign-out", "/settings", "/welcome/{token}", "/device/{token}", *SHUTS}
    does = {route: who for (method, route), who in RULES.items() if method == "POST" and route not in of_everybody}
    assert [route for route, who in does.items() if who & {Role.VIEWER, Comer.DEVICE, Comer.NOBODY}] == []


@pytest.mark.parametrize("path", ["/", "/board/rows", "/sign-in", "/alive", "/people", "/nowhere", asset("page.js")])
def test_every_answer_has_the_headers(bench: Bench, path: str) -> None:
    found = bench.signed_in(Role.QC).get(path).headers
    wanted = dict(HEADERS)
    if path.startswith("/static/"):
        wanted["Cache-Control"] = "public, max-age=31536000, immutable"
    assert {name: found.get(name) for name in wanted} == wanted


def test_text_is_compressed_for_whoever_takes_that(bench: Bench) -> None:
    browser = bench.signed_in(Role.QC)
    packed, plain = browser.get("/", accept_encoding="gzip"), browser.get("/", accept_encoding="identity")
    assert packed.headers["Content-Encoding"] == "gzip"
    assert int(packed.headers["Content-Length"]) < 4_000 < len(plain.content)
    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Vary"] == "Accept-Encoding, Cookie"


def test_an_address_that_leads_nowhere_is_a_page_too(bench: Bench) -> None:
    answer = bench.browser().get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page" in answer.text


def test_the_pages_load_neither_pandas_nor_scipy() -> None:
    code = "import sys, cure.dashboard.app; print([m for m in ('pandas', 'scipy') if m in sys.modules])"
    root = Path(__file__).resolve().parents[3]
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root, timeout=120
    )
    assert ran.stdout.strip() == "[]"
