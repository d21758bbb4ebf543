"""Form sets on their page."""

from __future__ import annotations

from typing import Any

from pages_support import NOW, OTHER, Bench, row
from store_support import BAY

from alerts.site_words import shipped
from shared.errors import ActRefusedError
from shared.models.acts import Act, MoveSet, instant, ms
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP
from shared.models.decisions import GateState
from shared.models.people import Role


def send(bench: Bench, **form: str) -> Any:
    browser = bench.signed_in(Role.CREW)
    return browser.post("/sets", {"csrf": bench.csrf(browser), "name": "", "waits": "", "earlier": "", **form})


def moved(**fields: Any) -> MoveSet:
    return MoveSet(at=instant(NOW - HOUR_MS), who="crew", **fields)


def test_the_list_says_where_each_set_is_since_when_and_who_waits(bench: Bench) -> None:
    assert "No form set is known yet" in bench.signed_in(Role.VIEWER).get("/sets").text
    bench.board.rows = [row(BAY, {STRIP: GateState.RELEASED})]
    bench.board.done = [
        moved(form_set="set-a", bay=BAY, waits=OTHER),
        moved(form_set="set-b"),
        moved(form_set="set-c", bay=OTHER),
    ]
    text = bench.signed_in(Role.VIEWER).get("/sets").text
    a, b, c = text.split('<section class="tosign"')[1:]
    assert all(said in a for said in (f"In bay {BAY}", f"strip of {BAY}-p1 is not done", "17:00", f"Bay {OTHER}"))
    assert "Laid aside, ready" in b
    assert "strip" not in b
    assert "Released" not in a, "the page is not live"
    assert "Nothing is poured in it" in c
    assert "A set has moved" not in text
    bench.board.rows = [row(BAY, {STRIP: GateState.DONE})]
    assert f"strip of {BAY}-p1 is done" in bench.signed_in(Role.VIEWER).get("/sets").text


def test_a_move_is_the_act_of_the_command_line(bench: Bench) -> None:
    bench.board.done = [moved(form_set="set-a", bay=BAY)]
    assert send(bench, set="+", name="set-b", to=OTHER, waits=BAY, earlier="17:30").status_code == 303
    assert send(bench, set="set-a", to="").status_code == 303
    assert send(bench, set="set-a", to="-").status_code == 303
    new, aside, gone = bench.acts
    assert isinstance(new, MoveSet)
    assert new.happened is not None
    assert (new.form_set, new.bay, new.waits, ms(new.happened)) == ("set-b", OTHER, BAY, NOW - 30 * MINUTE_MS)
    assert aside == MoveSet(at=aside.at, who="crew", form_set="set-a")
    assert gone == MoveSet(at=gone.at, who="crew", form_set="set-a", gone=True)


def test_what_cannot_be_is_said_and_nothing_moves(bench: Bench, monkeypatch: Any) -> None:
    assert "name is a-z" in send(bench, set="+", name="Set A", to=BAY).text
    assert send(bench, set="+", name="a", to=BAY, earlier="soon").status_code == 422
    assert bench.acts == []

    def refuse(_: Act) -> None:
        raise ActRefusedError("strip of 2-b1-p1 is curing")

    monkeypatch.setattr(bench, "acts", type("Refusing", (), {"append": staticmethod(refuse)})())
    answer = send(bench, set="a", to=OTHER)
    assert answer.status_code == 422
    assert "strip of 2-b1-p1 is curing" in answer.text
    words = shipped()["es"].known(
        "strip of 2-b1-p1 is curing: record it as done, or the forms as found off, before set a leaves bay 2-b1"
    )
    assert words.startswith("el desencofrado de 2-b1-p1")
