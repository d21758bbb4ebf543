"""Attackers' texts through every door of the whole service: kept as they are or refused, and shown as text alone."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from urllib.parse import quote

import pytest
from api_support import V1, Office, office
from attacks_support import CONTROLS, PATHS, SCRIPTS, TEXTS, fields, read
from pages_support import HASHED, SECRET, Browser

from cure.dashboard import door
from cure.dashboard.rules import API_RULES, RULES
from shared.models.accounts import Account
from shared.models.people import Role

POUR = "2-b1-p1"
KNOWN = {"{bay}": "2-b1", "{logger}": "lg-01", "{mix}": "c32-f", "{no}": "1", "{pour}": POUR, "{table}": "ledger"}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("site")) as found:
        for person, role in (("engineer", None), ("qc-one", None), ("warden", Role.ADMIN)):
            people, now = found.service.book.people, found.clock.now()
            token = door.invite(people, person, role, "admin", now)
            assert door.join(people, token, Account(person, role, HASHED, SECRET, now))
        yield found


def comes(site: Office, person: str) -> tuple[Browser, str]:
    """Return a browser of a person who has signed in, and what its forms carry."""
    people, now = site.service.book.people, site.clock.now()
    browser, token = Browser(site.app), door.begin_session(people, person, now)
    browser.cookies.set("slabhour_session", token)
    session = people.session(door.digest_of(token), now)
    assert session is not None
    return browser, session.csrf


def filled(route: str, **other: str) -> str:
    for part, name in {**KNOWN, **other}.items():
        route = route.replace(part if part.startswith("{") else f"{{{part}}}", name)
    return route


def shown(site: Office) -> dict[str, str]:
    """Return every page, as engineer and as admin, by its path."""
    found = {}
    for person in ("engineer", "warden"):
        browser, _ = comes(site, person)
        for method, route in RULES:
            path = filled(route, name="page.css", token="x", digest="0" * 64)  # noqa: S106 - no token
            if method == "GET" and ".pdf" not in path and ".csv" not in path:
                found[f"{person} {path}"] = browser.get(path).text
    return found


@pytest.mark.row("M8", "M9")
def test_what_is_typed_is_kept_as_it_was_and_shown_as_text(site: Office) -> None:
    """Runs first: the tests below leave less to look at."""
    browser, csrf = comes(site, "qc-one")
    topics = {text: f"slabhour/millrace/r/{text}" for text in TEXTS}
    for text in TEXTS:
        site.service.intake.take([site.service.intake.incoming(topics[text], text.encode())])
        said = {"bay": "2-b1", "pour": POUR, "ticket": text[:40], "minutes": 1}
        assert site.do("acts/ticket", said).status_code in {200, 409, 422}
        assert site.do("acts/stop", {"pour": POUR, "why": text}).status_code == 200
        assert browser.post("/devices/add", {"csrf": csrf, "name": text[:60]}).status_code == 200
    acts = [act for act in site.service.book.board.acts() if act.kind == "stop"]
    assert [act.why for act in acts] == [*TEXTS]
    assert {d.name for d in site.service.book.people.devices()} == {text[:60] for text in TEXTS}
    assert {r.refused.payload.decode() for r in site.service.book.refused.standing(None)} == set(TEXTS)
    assert site.service.book.service.verify_log()[0] > 0
    pages = shown(site)
    read_pages = {path: read(text) for path, text in pages.items()}
    assert {path: wrong for path, (wrong, _) in read_pages.items() if wrong} == {}
    assert [path for path, text in pages.items() if any(script in text for script in SCRIPTS[:4])] == []
    every = "\n".join(text for _, text in read_pages.values())
    assert [text for text in TEXTS if text not in every] == []
    # Nothing is worked out that was only said.
    assert "1337" not in every


@pytest.mark.row("M10")
def test_no_table_begins_a_cell_as_a_formula(site: Office) -> None:
    token, cells = site.token("read"), 0
    for table in ("readings", "estimates", "decisions", "ledger"):
        answer = site.ask("GET", f"{V1}/tables/{table}.csv", token)
        assert answer.status_code == 200
        for row in csv.reader(io.StringIO(answer.text)):
            cells += len(row)
            wrong = [cell for cell in row if cell.startswith(("=", "+", "@", "\t", "\r")) or cell[:2] == "-H"]
            assert wrong == [], table
    assert cells > 100


def asked(routes: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Yield every route that takes something in its path, with each of what leads elsewhere in that place."""
    for method, route in routes:
        for path in PATHS if method == "GET" and "{" in route else ():
            yield re.sub(r"\{\w+\}", lambda _, path=path: quote(path, safe="%"), route)  # type: ignore[misc]


@pytest.mark.row("M10")
def test_no_path_and_no_number_leads_out_or_breaks_a_page(site: Office) -> None:
    browser, _ = comes(site, "engineer")
    answers = {path: browser.get(path) for path in asked(RULES)}
    plain = [route for method, route in RULES if method == "GET" and "{" not in route]
    for query in ("floor", "hours", "day"):
        some = f"{query}={quote(PATHS[1])}&{query}={quote(SCRIPTS[1])}"
        answers |= {f"{route}?{some}": browser.get(f"{route}?{some}") for route in plain}
    assert {p: a.status_code for p, a in answers.items() if a.status_code not in {200, 303, 403, 404, 410, 422}} == {}
    leaks = ("root:", "[site]", "SQLite format")
    assert [path for path, answer in answers.items() if any(leak in answer.text for leak in leaks)] == []


@pytest.mark.row("M10")
def test_no_path_and_no_number_breaks_the_interface(site: Office) -> None:
    token = site.token("read", person="engineer")
    found = {path: site.ask("GET", path, token).status_code for path in asked(API_RULES)}
    assert {path: status for path, status in found.items() if status not in {400, 401, 404, 405, 422}} == {}


@pytest.mark.row("M8", "M9")
@pytest.mark.parametrize("person", ["engineer", "warden"])
def test_no_text_in_any_field_of_any_form_breaks_the_service(site: Office, person: str) -> None:
    browser, csrf = comes(site, person)
    names = fields()
    assert len(names) > 30
    for text in (SCRIPTS[1], TEXTS[6], *CONTROLS) if person == "engineer" else CONTROLS[:1]:
        form = {**dict.fromkeys(names, text[: 60_000 // len(names)]), "csrf": csrf}
        for method, route in RULES:
            if method == "POST" and route != "/sign-out":
                answer = browser.post(filled(route, token="x"), form)  # noqa: S106 - no token
                assert answer.status_code < 500, (route, text[:40], answer.text[:2000])
                assert read(answer.text)[0] == [], route
    assert site.service.book.service.verify_log()[0] > 0
    site.service.tick()
    assert site.ask("GET", f"{V1}/board", site.token("read")).status_code == 200


def test_no_text_in_any_field_of_an_act_breaks_the_interface(site: Office) -> None:
    for (method, route), text in ((rule, text) for rule in API_RULES for text in CONTROLS):
        if method == "POST" and "/acts/" in route:
            said = {"pour": POUR, "why": text, "note": text, "bay": text, "operation": text, "method": text}
            for fewer in (said, {k: said[k] for k in ("pour", "why")}):
                answer = site.do(route.removeprefix(f"{V1}/"), fewer)
                assert answer.status_code in {200, 403, 409, 422}, (route, text[:20], answer.text)
