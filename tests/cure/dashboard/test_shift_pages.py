"""The handover sheet: what stands and waits, never more than the board says; taking over binds what was read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from pages_support import NOW, OTHER, Bench, bench_of, row
from store_support import BAY, opened_book
from told_support import show, stopped_story

from cure.dashboard.shift import GROUPS
from shared.models.acts import MoveSet, TakeOver, instant
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK
from shared.models.decisions import Doubt, DoubtKind, GateState, Hold, HoldKind
from shared.models.people import Role

S = GateState


@pytest.fixture(scope="module")
def shared_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with opened_book(tmp_path_factory.mktemp("book")) as book:
        yield bench_of(book)


@pytest.fixture
def bench(shared_bench: Bench) -> Bench:
    hold = Hold(HoldKind.MIX, NOW - HOUR_MS, "engineer", "a crack at grid 7", "look at it")
    first = row(BAY, {STRIP: S.RELEASED, WALK: S.MET}, holds=(hold,))
    memory = {
        "covered": True,
        "covers": [[NOW - 5 * HOUR_MS, None]],
        "heated": [[NOW - 4 * HOUR_MS, None, 10.0]],
        "expected": {LOAD: {"expected_ms": NOW + 3 * HOUR_MS, "plan_ms": None, "cause": ""}},
    }
    first = replace(first, state=replace(first.state, memory=memory))
    board = shared_bench.board
    board.rows, board.open_doubts, board.said, board.sent = (first, row(OTHER, floor="3")), (), (), ()
    board.done = [
        MoveSet(at=instant(NOW - 9 * HOUR_MS), who="crew", form_set="a", bay=BAY, waits=OTHER),
        MoveSet(at=instant(NOW - 8 * HOUR_MS), who="crew", form_set="b"),
    ]
    shared_bench.acts.clear()
    return shared_bench


def groups(text: str) -> dict[str, list[str]]:
    found = {}
    for part in text.partition("<main")[2].partition("<form")[0].split("<h2>")[1:]:
        lines = re.findall(r"<span>(.*?)</span>", part)
        found[part.partition("</h2>")[0]] = lines
    return found


def test_everything_that_the_next_shift_must_know_is_on_the_sheet(bench: Bench) -> None:
    text = bench.signed_in(Role.SUPERINTENDENT).get("/shift").text
    found = groups(text)
    assert found["Holds"] == [
        "Hold: a crack at grid 7 (since Tue 25 Nov 2025 17:00 UTC\u221204:00, owner: engineer). To lift it: look at it"
    ]
    [released] = found["Released and not done"]
    assert released.startswith("Strip: Released; 17:00; Excluded: none; No added load")
    assert found["Sign-off wanted"] == ["Walk: Sign-off wanted"]
    assert found["EXPECTED, NOT RELEASED: in the next 24 h"] == ["Load: 21:00"]
    assert found["Covers and heat on"] == ["Covered since 13:00", "Heated below since 14:00, to 10.0 °C (50.0 °F)"]
    assert found["Forms"] == [
        "Forms on since Mon 12:00; set a; bay 2-b2 waits for it",
        "Forms on since Mon 12:00",
        "lies aside, ready since 10:00",
    ]
    assert [line.partition(",")[0] for line in found["Sensors to look at"]] == ["silent", "heard"]
    assert "Nothing of: Look at first; Messages that wait for a person." in text
    assert "Nobody has taken this shift over yet." in text


def test_nothing_is_called_released_that_nobody_judges_or_that_is_kept_off(bench: Bench) -> None:
    browser, rows = bench.signed_in(Role.QC), bench.board.rows
    bench.board.open_doubts = [Doubt(DoubtKind.CLOCK, NOW, "it jumped")]
    found = groups(browser.get("/shift").text)
    assert "Released and not done" not in found
    assert "EXPECTED, NOT RELEASED: in the next 24 h" not in found
    assert len(found["Look at first"]) == 1 + 2 * 3
    assert "it jumped" in found["Look at first"][0]
    bench.board.open_doubts = ()
    kept_off = row(BAY, {STRIP: S.DONE, WALK: S.RELEASED, LOAD: S.RELEASED}, stripping=(OTHER,))
    bench.board.rows = [kept_off, row(OTHER, {STRIP: S.WITHDRAWN}, reason="late readings")]
    found = groups(browser.get("/shift").text)
    assert "Released and not done" not in found
    assert found["Look at first"][:2] == [f"{op}: Keep off; stripping below or beside" for op in ("Walk", "Load")]
    assert found["Look at first"][2] == "Strip: Keep forms on; late readings; 17:00"
    assert len(found["Forms"]) == 3
    bench.board.rows = rows


def test_a_withdrawal_that_nobody_confirmed_waits(bench: Bench) -> None:
    # Of a bench of its own: its hours are those of a story.
    kept = replace(bench.board)
    show(bench, stopped_story())
    found = groups(bench.signed_in(Role.CREW).get("/shift").text)
    assert any("nobody has confirmed it" in line for line in found["Messages that wait for a person"])
    for name in ("of_site", "rows", "cases", "said", "sent"):
        setattr(bench.board, name, getattr(kept, name))


def test_who_takes_over_binds_the_sheet_that_was_read(bench: Bench) -> None:
    crew = bench.signed_in(Role.CREW)
    [code] = re.findall(r'name="seen" value="([0-9a-f]{12})"', crew.get("/shift").text)
    form = {"csrf": bench.csrf(crew), "seen": code, "note": "pump comes at 7"}
    assert crew.post("/shift/take-over", form).status_code == 303
    [act] = bench.acts
    assert act == TakeOver(at=instant(NOW), who="crew", seen=code, note="pump comes at 7")
    bench.board.done = [*bench.board.done, act]
    text = crew.get("/shift").text
    assert "<b>Taken over by crew, 18:00.</b> pump comes at 7" in text
    # Something is met, and nothing but the hour: the one is another sheet, the other is not.
    first, other = bench.board.rows
    bench.clock.set(NOW + 60_000)
    assert f'value="{code}"' in crew.get("/shift").text
    bench.board.rows = [first, row(OTHER, {STRIP: S.MET}, floor="3")]
    answer = crew.post("/shift/take-over", form)
    assert (answer.status_code, len(bench.acts)) == (409, 1)
    assert "What stands has changed since you read it" in answer.text
    bench.board.rows = [first, other]
    assert crew.post("/shift/take-over", {**form, "note": "x" * 500}).status_code == 422
    bench.clock.set(NOW)
    assert "<form" not in bench.signed_in(Role.VIEWER).get("/shift").text.partition("<footer")[0]


@pytest.mark.parametrize(("language", "said"), [("fr", "Repris par superintendent"), ("es", "Recibido por superint")])
def test_the_sheet_is_in_the_reader_s_language_with_the_same_code(bench: Bench, language: str, said: str) -> None:
    browser = bench.signed_in(Role.SUPERINTENDENT)
    english = re.findall(r'name="seen" value="([0-9a-f]{12})"', browser.get("/shift").text)
    browser.cookies.set("slabhour_language", language)
    text = browser.get("/shift").text
    assert said in text
    assert re.findall(r'name="seen" value="([0-9a-f]{12})"', text) == english
    assert "Released" not in text.partition("<main")[2].partition("<footer")[0]
    assert set(GROUPS) >= {"look-first", "holds", "released", "sign-off", "expected", "messages", "sensors", "forms"}
