"""Messages as people read and answer them: the exact words, what became of each, and who may answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from html import unescape

import pytest
from pages_support import Bench, Browser, bench_of
from store_support import opened_book
from told_support import D, deliver, number_of, show, stopped_story

from alerts.wording import words
from cure.dashboard.message_pages import AT_ONCE
from cure.dashboard.rendering import words as page_words
from cure.dashboard.signs import SHAPES
from cure.dashboard.told import SHAPES_OF
from shared.catalogue import LANGUAGES
from shared.models.acts import Confirm
from shared.models.messages import DeliveryState, MessageKind
from shared.models.people import Role


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        yield bench_of(book)


@pytest.fixture
def bench(shared_bench: Bench) -> Bench:
    show(shared_bench, stopped_story())
    shared_bench.acts.clear()
    return shared_bench


def confirm(bench: Bench, browser: Browser, no: int, **form: str) -> tuple[int, str]:
    answer = browser.post(f"/message/{no}/confirm", {"csrf": bench.csrf(browser), **form})
    return answer.status_code, answer.text


@pytest.mark.parametrize("state", DeliveryState)
def test_every_state_of_a_delivery_has_a_shape_and_words(bench: Bench, state: DeliveryState) -> None:
    assert SHAPES_OF[state] in SHAPES
    assert SHAPES_OF[state] not in {"square", "arrow"}
    assert all(page_words()[language].has(f"delivery-{state}") for language in LANGUAGES)
    no = number_of(bench, MessageKind.WITHDRAWAL)
    deliver(bench, no, state, attempt=3, outcome="gateway refused: 503")
    text = bench.signed_in(Role.VIEWER).get(f"/message/{no}").text
    assert page_words()["en"].say(f"delivery-{state}") in text
    assert "3 attempts" in text
    assert "gateway refused: 503" in text


def test_the_page_has_the_exact_words_in_the_languages_of_those_who_get_them(bench: Bench) -> None:
    site = bench.board.of_site
    people = [r.model_copy(update={"language": "es"}) if r.id == "qc" else r for r in site.recipient]
    bench.board.of_site = site.model_copy(update={"recipient": tuple(people)})
    message = bench.board.said[number_of(bench, MessageKind.RELEASED) - 1]
    text = unescape(bench.signed_in(Role.SUPERINTENDENT).get(f"/message/{message.no}").text)
    for language in ("en", "es"):
        wanted = words(message, repeat=False, language=language)
        for said in (wanted.subject, wanted.short, *wanted.body.splitlines()):
            assert said in text
    assert "THIS DOES NOT STAND ANY MORE" in text
    assert f"check code {message.code}" in text


def test_the_list_has_first_what_waits_for_a_person(bench: Bench) -> None:
    browser, no = bench.signed_in(Role.SUPERINTENDENT), number_of(bench, MessageKind.WITHDRAWAL)
    text = browser.get("/messages").text
    waiting, _, rest = text.partition("All, newest first")
    assert f'href="/message/{no}"' in waiting
    assert all(f'href="/message/{m.no}"' in rest for m in bench.board.said)
    deliver(bench, no, D.CONFIRMED)
    assert f'href="/message/{no}"' not in browser.get("/messages").text.partition("All, newest first")[0]
    assert "THIS DOES NOT STAND ANY MORE" in rest
    bench.board.sent = []
    assert f'href="/message/{no}"' in browser.get("/messages").text.partition("All, newest first")[0]
    assert "No message yet" in browser.get("/messages?bay=9-z9").text


def test_older_messages_are_a_page_further(bench: Bench) -> None:
    first = bench.board.said[0]
    bench.board.said = [replace(first, no=n) for n in range(1, AT_ONCE + 8)]
    browser = bench.signed_in(Role.QC)
    assert "before=8" in browser.get("/messages").text
    text = browser.get("/messages?before=8").text
    assert 'href="/message/7"' in text
    assert 'href="/message/8"' not in text


def test_whoever_got_a_withdrawal_answers_it_once_it_is_ticked(bench: Bench) -> None:
    qc, no = bench.signed_in(Role.QC), number_of(bench, MessageKind.WITHDRAWAL)
    assert "Nobody is on or under" in qc.get(f"/message/{no}").text
    status, text = confirm(bench, qc, no, how="self")
    assert (status, bench.acts) == (422, [])
    assert "Tick the sentence first" in text
    assert confirm(bench, qc, no, how="self", clear="1")[0] == 303
    (act,) = bench.acts
    assert act == Confirm(at=act.at, who="qc", message=no)


def test_whoever_did_not_get_it_or_has_answered_does_not(bench: Bench) -> None:
    no = number_of(bench, MessageKind.WITHDRAWAL)
    crew, qc = bench.signed_in(Role.CREW), bench.signed_in(Role.QC)
    assert "Nobody is on or under" not in crew.get(f"/message/{no}").text
    status, text = confirm(bench, crew, no, how="self", clear="1")
    assert status == 422
    assert "did not reach you" in text
    for state in (D.QUEUED, D.CONFIRMED, D.REFUSED, D.SUPERSEDED):
        deliver(bench, no, state)
        assert confirm(bench, qc, no, how="self", clear="1")[0] == 422
    deliver(bench, no, D.WAITING, was_accepted=True)
    assert confirm(bench, qc, no, how="self", clear="1")[0] == 303
    assert confirm(bench, qc, number_of(bench, MessageKind.RELEASED), how="self", clear="1")[0] == 422


def test_the_engineer_alone_says_that_people_were_told_by_phone(bench: Bench) -> None:
    no = number_of(bench, MessageKind.WITHDRAWAL)
    engineer, qc = bench.signed_in(Role.ENGINEER), bench.signed_in(Role.QC)
    for browser, told in ((qc, "all, by me"), (engineer, ""), (engineer, "x" * 201)):
        assert confirm(bench, browser, no, how="phone", told=told)[0] == 422
    assert bench.acts == []
    assert confirm(bench, engineer, no, how="phone", told="foreman, by me, 10:20")[0] == 303
    (act,) = bench.acts
    assert isinstance(act, Confirm)
    assert act.told == "foreman, by me, 10:20"


def test_a_message_that_is_not_there_is_said_so(bench: Bench) -> None:
    qc = bench.signed_in(Role.QC)
    for no in ("0", "9999", "x", "²"):
        assert qc.get(f"/message/{no}").status_code == 404
        assert confirm(bench, qc, 9999, how="self", clear="1")[0] == 404
