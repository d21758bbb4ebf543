from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pages_support import NOW, Bench, Browser, row
from store_support import BAY

from shared.errors import ActRefusedError
from shared.models.acts import Act, PourEnd, PourStart, TakeBack, ms
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.people import Role

# 25 November 2025, 18:00 in Halifax.
TODAY_17_30 = NOW - 30 * MINUTE_MS
YESTERDAY_18_30 = NOW - 23 * HOUR_MS - 30 * MINUTE_MS


def send(bench: Bench, browser: Browser, step: str, **form: Any) -> Any:
    return browser.post(f"/pour/{BAY}/{step}", {"csrf": bench.csrf(browser), **form})


def test_one_press_begins_a_pour_now(bench: Bench) -> None:
    bench.board.rows = ()
    crew = bench.signed_in(Role.CREW)
    assert "2-b1-251125" in crew.get(f"/pour/{BAY}").text
    assert send(bench, crew, "start", open="", name="2-b1-251125", earlier="").status_code == 303
    (act,) = bench.acts
    assert act == PourStart(at=act.at, who="crew", bay=BAY, pour="2-b1-251125")
    assert ms(act.at) == NOW


@pytest.mark.parametrize(("said", "at_ms"), [("17:30", TODAY_17_30), ("18:30", YESTERDAY_18_30)])
def test_it_was_earlier_is_the_newest_such_hour_that_has_been(bench: Bench, said: str, at_ms: int) -> None:
    super_ = bench.signed_in(Role.SUPERINTENDENT)
    send(bench, super_, "end", open="2-b1-p1", earlier=said)
    (act,) = bench.acts
    assert isinstance(act, PourEnd)
    assert act.happened is not None
    assert ms(act.happened) == at_ms


@pytest.mark.parametrize(
    "form",
    [
        {"open": "2-b1-p0", "name": "x", "earlier": ""},
        {"open": "2-b1-p1", "name": "Not a name", "earlier": ""},
        {"open": "2-b1-p1", "name": "x", "earlier": "25:00"},
        {"open": "2-b1-p1", "name": "x", "earlier": "soon"},
    ],
)
def test_what_cannot_be_is_said_and_nothing_begins(bench: Bench, form: dict[str, str]) -> None:
    answer = send(bench, bench.signed_in(Role.CREW), "start", **form)
    assert answer.status_code == 422
    assert bench.acts == []


def test_a_second_press_does_not_begin_another_pour_over_the_first(bench: Bench) -> None:
    bench.board.rows = ()
    crew = bench.signed_in(Role.CREW)
    send(bench, crew, "start", open="", name="a", earlier="")
    bench.board.rows = [row()]
    assert send(bench, crew, "start", open="", name="b", earlier="").status_code == 422
    assert len(bench.acts) == 1


def test_an_end_is_of_the_pour_that_the_page_showed(bench: Bench) -> None:
    qc = bench.signed_in(Role.QC)
    assert send(bench, qc, "end", open="2-b1-p0", earlier="").status_code == 422
    bench.board.rows = ()
    assert send(bench, qc, "end", open="2-b1-p1", earlier="").status_code == 422
    assert bench.acts == []


def test_while_a_pour_is_being_placed_only_its_end_is_offered(bench: Bench) -> None:
    found = row()
    bench.board.rows = [replace(found, pour=replace(found.pour, end_ms=None))]
    text = bench.signed_in(Role.QC).get(f"/pour/{BAY}").text
    assert "Pour end" in text
    assert f'action="/pour/{BAY}/start"' not in text


def test_what_cure_refuses_is_said_on_the_page(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Act) -> None:
        raise ActRefusedError("a pour cannot begin in the future")

    monkeypatch.setattr(bench, "acts", type("Refusing", (), {"append": staticmethod(refuse)})())
    answer = send(bench, bench.signed_in(Role.QC), "end", open="2-b1-p1", earlier="")
    assert answer.status_code == 422
    assert "a pour cannot begin in the future" in answer.text


def test_a_start_is_taken_back_with_a_reason_and_a_tick(bench: Bench) -> None:
    crew = bench.signed_in(Role.CREW)
    assert "Pour 2-b1-p1 was started by mistake" in crew.get(f"/pour/{BAY}").text
    form = {"open": "2-b1-p1", "why": "wrong bay", "sure": "yes"}
    for lacking in ({"open": "2-b1-p0"}, {"why": " "}, {"why": "x" * 151}, {"sure": ""}):
        assert send(bench, crew, "take-back", **(form | lacking)).status_code == 422
    assert bench.acts == []
    assert send(bench, crew, "take-back", **form).status_code == 303
    (act,) = bench.acts
    assert act == TakeBack(at=act.at, who="crew", pour="2-b1-p1", why="wrong bay")
