"""Lifting a hold on a page: by whoever may, bound to what was read, with a code; it releases nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from pages_support import NOW, Bench, bench_of, row
from store_support import BAY, opened_book

from cure.dashboard.rules import RULES
from cure.press import ENGINEER_LIFTS, MAY
from shared.models.acts import Lift
from shared.models.base import STRIP
from shared.models.decisions import GateState, Hold, HoldKind
from shared.models.people import Role

HOLDS = tuple(Hold(kind, NOW, "qc", f"reason of {kind.value}", f"how {kind.value}") for kind in HoldKind)
PATH = f"/holds/{BAY}"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with opened_book(tmp_path) as book:
        yield bench_of(book, row(BAY, {STRIP: GateState.HOLD}, holds=HOLDS))


def lift(
    bench: Bench, kind: HoldKind, form: dict[str, str], role: Role = Role.ENGINEER, units: str = "SI"
) -> httpx.Response:
    browser = bench.signed_in(role)
    browser.cookies.set("slabhour_units", units)
    seen = {"pour": f"{BAY}-p1", "hold": kind.value, "reason": f"reason of {kind.value}", "why": "looked at"}
    return browser.post(PATH, {"csrf": bench.csrf(browser), **seen, "code": bench.code(), **form})


def test_who_may_is_as_the_act_has_it() -> None:
    assert RULES["POST", "/holds/{bay}"] == {str(role) for role in MAY[Lift]}


def test_every_hold_stands_there_with_what_it_asks_for(bench: Bench) -> None:
    browser = bench.signed_in(Role.SUPERINTENDENT)
    assert f'href="{PATH}"' in browser.get(f"/bay/{BAY}").text
    text = browser.get(PATH).text
    for kind in HoldKind:
        assert f"reason of {kind.value}" in text
    assert text.count("Only the engineer lifts this hold.") == len(ENGINEER_LIFTS)
    # Of tickets there is a page of its own.
    assert text.count('name="why"') == len(HoldKind) - len(ENGINEER_LIFTS) - 1
    assert "releases nothing" in text
    assert f'href="{PATH}"' not in bench.signed_in(Role.CREW).get(f"/bay/{BAY}").text
    bench.board.rows = [row()]
    assert "Nothing holds this bay." in browser.get(PATH).text
    assert f'href="{PATH}"' not in browser.get(f"/bay/{BAY}").text


@pytest.mark.parametrize(
    ("kind", "form", "units", "surface_c", "document"),
    [
        (HoldKind.CONFLICT, {}, "SI", None, None),
        (HoldKind.FREEZE_SUSPECTED, {"surface": "2,5"}, "SI", 2.5, None),
        (HoldKind.FREEZE_SUSPECTED, {"surface": "36.5"}, "US", 2.5, None),
        (HoldKind.FREEZE_LOCKED, {"document": "letter 7"}, "SI", None, "letter 7"),
    ],
)
def test_a_hold_is_lifted_with_what_was_measured_or_written(
    bench: Bench, kind: HoldKind, form: dict[str, str], units: str, surface_c: float | None, document: str | None
) -> None:
    answer = lift(bench, kind, form, units=units)
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/bay/{BAY}")
    [act] = bench.acts
    assert isinstance(act, Lift)
    assert (act.pour, act.hold, act.who, act.why) == (f"{BAY}-p1", kind, "engineer", "looked at")
    assert act.document == document
    assert act.surface_c == (None if surface_c is None else pytest.approx(surface_c))


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"reason": "another"}, "another one than you read"),
        ({"pour": "2-b1-p0"}, "another one than you read"),
        ({"hold": "nothing"}, "another one than you read"),
        ({"why": ""}, "Say what was done"),
        ({"surface": "warm"}, "is no number"),
        ({"surface": "nan"}, "is no number"),
        ({"surface": "400"}, "Nothing was lifted"),
        ({"code": "000000"}, "code"),
    ],
)
def test_nothing_is_lifted_that_was_not_read_or_not_answered_for(bench: Bench, form: dict[str, str], said: str) -> None:
    answer = lift(bench, HoldKind.FREEZE_SUSPECTED, {"surface": "5", **form})
    assert (answer.status_code, bench.acts) == (422, [])
    assert said in answer.text


@pytest.mark.parametrize(("language", "said"), [("fr", "Lever"), ("es", "Levantar")])
def test_it_is_said_in_each_language(bench: Bench, language: str, said: str) -> None:
    browser = bench.signed_in(Role.ENGINEER)
    browser.cookies.set("slabhour_language", language)
    text = browser.get(PATH).text
    assert said in text
    assert "(hold-" not in text
