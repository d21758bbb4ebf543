"""Tickets of a pour: read, entered, with a picture that is kept only with its act."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from cure_support import make_case
from pages_support import NOW, Bench, bench_of, row
from store_support import BAY, T0, opened_book

from cure.dashboard.photos import MOST_BYTES
from shared.errors import ActRefusedError
from shared.models.acts import Act, Lift, Ticket, ms
from shared.models.base import HOUR_MS, MINUTE_MS, PourId
from shared.models.decisions import Hold, HoldKind
from shared.models.people import Role

POUR = f"{BAY}-p1"
PICTURE = b"\xff\xd8\xff\xc0\x00\x0b\x08\x01\x00\x02\x00\x01" + bytes(range(256)) * 8 + b"\r\n\n\r--x\xff\xd9"
PATH = f"/tickets/{BAY}"
ODD = "ticket 7: 4.0 l (1.0 gal) of water added, 0.0 l (0.0 gal) held back at the plant"


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        yield bench_of(book)


@pytest.fixture
def bench(shared_bench: Bench) -> Bench:
    ticket = {"number": "7", "mix": "c32-f", "who": "crew", "water_l": 4.0, "photo": "ab" * 32}
    hours = {"at_ms": NOW - HOUR_MS, "batched_ms": T0, "placed_ms": T0 + HOUR_MS // 2}
    case = make_case()
    state = replace(case.state, memory={"tickets": [{**ticket, **hours}], "tickets_settled": []})
    found = row()
    shared_bench.board.rows = [replace(found, state=replace(found.state, memory=state.memory))]
    shared_bench.board.cases = {PourId(POUR): replace(case, state=state)}
    shared_bench.acts.clear()
    shared_bench.photos.kept.clear()
    return shared_bench


def send(bench: Bench, **form: Any) -> Any:
    browser = bench.signed_in(Role.CREW)
    said = {"csrf": bench.csrf(browser), "pour": POUR, "number": "8", "mix": "c32-f", "batched": "17:10"}
    return browser.post(PATH, said | form)


def test_a_ticket_says_what_was_entered_and_what_is_odd_on_it(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get(PATH).text
    assert all(said in text for said in ("Ticket 7", "Entered by crew, 17:00", ODD, f'src="/photo/{"ab" * 32}"'))
    assert f"{ODD}, answered for" not in text
    assert "A truck has come" not in text
    assert "A truck has come" in bench.signed_in(Role.CREW).get(PATH).text
    case = bench.board.cases[PourId(POUR)]
    memory = {**case.state.memory, "tickets_settled": [ODD]}
    bench.board.cases = {case.pour.id: replace(case, state=replace(case.state, memory=memory))}
    assert f"{ODD}, answered for" in bench.signed_in(Role.QC).get(PATH).text
    bench.board.rows = ()
    assert "No pour is open" in bench.signed_in(Role.CREW).get(PATH).text
    assert bench.signed_in(Role.CREW).get("/tickets/9-z9").status_code == 404


def test_a_truck_is_entered_in_either_system_with_a_picture(bench: Bench) -> None:
    fields = {"place": "grid C4", "dose_class": "none", "air": "6,2", "air_wanted": "6", "earlier": "17:40"}
    us = {"water": "10", "litres_or": "gal", "temperature": "59", "degrees": "degF"}
    assert send(bench, photo=PICTURE, **fields, **us).status_code == 303
    (act,) = bench.acts
    assert isinstance(act, Ticket)
    assert act.placed is not None
    assert (ms(act.batched), ms(act.placed)) == (NOW - 50 * MINUTE_MS, NOW - 20 * MINUTE_MS)
    assert act.water_l == pytest.approx(37.854, abs=1e-3)
    assert (act.temperature_c, act.air_percent, act.place) == (15.0, 6.2, "grid C4")
    assert act.photo is not None
    assert bench.photos.kept == {act.photo: PICTURE}
    answer = bench.signed_in(Role.VIEWER).get(f"/photo/{act.photo}")
    assert answer.content == PICTURE
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["Content-Disposition"].startswith("attachment;")
    assert "sandbox" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"photo": b"<svg onload=alert(1)>"}, "no JPEG, PNG or WebP"),
        ({"photo": PICTURE + bytes(MOST_BYTES)}, "no JPEG, PNG or WebP"),
        ({"batched": ""}, "hour of batching is needed"),
        ({"batched": "soon"}, "no time of day"),
        ({"air": "much"}, "no number"),
        ({"air": "31"}, "Air, measured: at most 30.0 %"),
        ({"number": ""}, "Number of the ticket: this is needed"),
        ({"pour": "2-b1-p0"}, "not open"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(bench: Bench, form: dict[str, Any], said: str) -> None:
    answer = send(bench, photo=form.pop("photo", PICTURE), place="grid C4", **form)
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="grid C4"' in answer.text
    assert (bench.acts, bench.photos.kept) == ([], {})


def test_a_longer_form_than_any_is_turned_away(bench: Bench) -> None:
    assert send(bench, photo=PICTURE + bytes(MOST_BYTES + 100_000)).status_code == 413


def test_the_picture_of_an_act_that_is_refused_is_not_kept(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Act) -> None:
        raise ActRefusedError("nothing of this pour was placed before its start: correct the hour, or the start")

    monkeypatch.setattr(bench, "acts", type("Refusing", (), {"append": staticmethod(refuse)})())
    answer = send(bench, photo=PICTURE)
    assert (answer.status_code, bench.photos.kept) == (422, {})
    assert "correct the hour" in answer.text


def test_a_picture_that_is_not_there_or_none_is_not_handed_out(bench: Bench) -> None:
    digest, _ = bench.photos.keep(b"<html>")
    viewer = bench.signed_in(Role.VIEWER)
    assert [viewer.get(f"/photo/{name}").status_code for name in (digest, "0" * 64)] == [404, 404]


def test_whoever_may_answers_for_what_they_have_read_and_says_why(bench: Bench) -> None:
    (found,) = bench.board.rows
    held = replace(found, holds=(Hold(HoldKind.TICKET, NOW, "qc", ODD, "find out what was delivered and test it"),))
    bench.board.rows = [held]
    assert "I answer for this concrete" not in bench.signed_in(Role.CREW).get(PATH).text
    qc = bench.signed_in(Role.QC)
    assert "The pour is held:" in qc.get(PATH).text
    form = {"csrf": bench.csrf(qc), "pour": POUR, "reason": ODD, "why": "three cylinders at 105 %"}
    for wrong in ({"why": ""}, {"reason": "ticket 6"}, {"pour": "2-b1-p0"}):
        assert qc.post(f"{PATH}/answer", {**form, **wrong}).status_code == 422
    assert bench.acts == []
    assert qc.post(f"{PATH}/answer", form).status_code == 303
    (act,) = bench.acts
    assert act == Lift(at=act.at, who="qc", pour=POUR, hold=HoldKind.TICKET, why="three cylinders at 105 %")
    crew = bench.signed_in(Role.CREW)
    assert crew.post(f"{PATH}/answer", {**form, "csrf": bench.csrf(crew)}).status_code == 403
