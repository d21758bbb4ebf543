"""Records as people find them: the list, the sheet, and the page that a sheet's code leads to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from fastapi import FastAPI
from pages_support import Bench, Browser, bench_of
from starlette.responses import PlainTextResponse
from store_support import opened_book
from told_support import number_of, released_story, show, stopped_story

from cure.dashboard import record_pages
from cure.dashboard.app import pages
from cure.dashboard.printing import Printer
from cure.dashboard.record_facts import RECORDED
from cure.dashboard.rendering import words
from cure.dashboard.standing import Standing
from shared.catalogue import LANGUAGES
from shared.models.messages import Message, MessageKind
from shared.models.people import Role


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        yield bench_of(book)


@pytest.fixture
def bench(shared_bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    def printed(_: Printer, message: Message, address: str) -> bytes:
        return f"%PDF of {message.no} at {address}".encode()

    def together(_: Printer, of: str, records: list[tuple[Message, Standing]], address: str) -> bytes:
        return f"%PDF {of}: {[(m.no, s.value) for m, s in records]} at {address}".encode()

    monkeypatch.setattr(Printer, "record", printed)
    monkeypatch.setattr(Printer, "handover", together)
    monkeypatch.setattr(Printer, "pour", lambda _, pour: f"%PDF {pour}".encode())
    show(shared_bench, stopped_story())
    return shared_bench


def test_the_list_has_each_record_with_what_became_of_it(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get("/records").text
    wanted = [m.no for m in reversed(bench.board.said) if m.kind in RECORDED]
    assert list(map(int, re.findall(r'href="/record/(\d+)\.pdf"', text))) == wanted
    assert "THIS DOES NOT STAND ANY MORE" in text
    assert "what it shut is shut" in text


def test_a_sheet_is_sent_as_it_is_printed_with_a_code_for_the_address_that_was_asked(bench: Bench) -> None:
    no, viewer = number_of(bench, MessageKind.RELEASED), bench.signed_in(Role.VIEWER)
    answer = viewer.get(f"/record/{no}.pdf")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == f'inline; filename="record-{no}.pdf"'
    assert answer.content == f"%PDF of {no} at http://site.test".encode()
    unrecorded = number_of(bench, MessageKind.SIGN_OFF_WANTED)
    for path in (f"/record/{unrecorded}.pdf", "/record/9999.pdf", "/r/9999", f"/r/{unrecorded}"):
        assert viewer.get(path).status_code == 404, path


def test_a_floor_s_set_has_every_record_of_it_with_what_became_of_each(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    viewer = bench.signed_in(Role.VIEWER)
    text = viewer.get("/records").text
    assert 'href="/records/set.pdf?floor=2"' in text
    assert 'href="/records/pour/2-b1-p1.pdf"' in text
    standings = [(m.no, "fallen" if m.kind is MessageKind.RELEASED else "shut") for m in bench.board.said]
    wanted = [(no, of) for no, of in standings if bench.board.said[no - 1].kind in RECORDED]
    assert viewer.get("/records/set.pdf?floor=2").text == f"%PDF floor 2: {wanted} at http://site.test"
    assert viewer.get("/records/set.pdf?bay=2-b1").text == f"%PDF bay 2-b1: {wanted} at http://site.test"
    assert viewer.get("/records/pour/2-b1-p1.pdf").text == "%PDF 2-b1-p1"
    for path in ("set.pdf", "set.pdf?floor=9", "set.pdf?bay=x", "pour/9-z9.pdf"):
        assert viewer.get(f"/records/{path}").status_code == 404, path
    monkeypatch.setattr(record_pages, "MOST", 2)
    assert "Too many records" in viewer.get("/records/set.pdf?floor=2").text


def test_whoever_holds_the_sheet_learns_without_an_account_whether_it_stands(bench: Bench) -> None:
    show(bench, released_story())
    no, stranger = number_of(bench, MessageKind.RELEASED), bench.browser()
    message = bench.board.said[no - 1]
    path = f"/r/{no}?code={message.code}"
    said = stranger.get(path).text
    assert "This stands as of this page" in said
    assert "Sign in for the evidence" in said
    assert ".pdf" not in said
    assert all(finding not in said for finding in message.facts["findings"])
    show(bench, stopped_story())
    said = stranger.get(path).text
    assert "THIS DOES NOT STAND ANY MORE" in said
    assert f'href="/stop/{message.facts["bay"]}"' in said


@pytest.mark.parametrize("code", ["", "?code=", "?code=XXXX", "?code=%C3%A9"])
def test_without_the_sheet_s_code_a_stranger_learns_nothing(bench: Bench, code: str) -> None:
    for no in (number_of(bench, MessageKind.RELEASED), 9999):
        answer = bench.browser().get(f"/r/{no}{code}")
        assert answer.status_code == 303
        assert answer.headers["Location"].startswith(f"/sign-in?next={quote(f'/r/{no}', safe='/')}")


def test_every_kind_of_record_and_every_standing_has_words(bench: Bench) -> None:
    keys = [f"record-{kind.replace(' ', '-').replace(',', '')}" for kind in RECORDED]
    keys += [f"standing-{standing}" for standing in Standing]
    assert [k for k in keys for language in LANGUAGES if not words()[language].has(k)] == []


def test_a_logger_s_readings_pass_by_the_page_of_the_same_path(bench: Bench) -> None:
    app = FastAPI()
    app.include_router(pages(bench.parts()))

    async def taken(_: object) -> PlainTextResponse:
        return PlainTextResponse("taken")

    app.router.add_route("/r/{logger}", taken, ["POST"])
    assert Browser(app).post("/r/lg-01").text == "taken"
