from __future__ import annotations

import html
import re
from dataclasses import replace
from typing import Any

import pytest
from pages_support import NOW, OTHER, PASSWORD, Bench, Browser, row
from store_support import BAY

from cure.dashboard.signing import item_of
from shared.errors import ActRefusedError
from shared.models.acts import Act, Sign
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK
from shared.models.decisions import Doubt, DoubtKind, GateState
from shared.models.people import Role

S = GateState
BOTH = {STRIP: S.MET, WALK: S.MET, LOAD: S.MET}


@pytest.fixture
def two(bench: Bench) -> Bench:
    """Two bays whose three requirements are met."""
    bench.board.rows = [row(BAY, BOTH), row(OTHER, BOTH)]
    return bench


def items(browser: Browser, path: str = "/sign") -> list[str]:
    return [html.unescape(i) for i in re.findall(r'name="item" value="([^"]+)"', browser.get(path).text)]


def sign(bench: Bench, browser: Browser, chosen: list[str], **changes: Any) -> tuple[int, str]:
    form = {"csrf": bench.csrf(browser), "item": chosen, "read": "yes", "nothing-else": "yes", "password": PASSWORD}
    if "code" not in changes:
        form["code"] = bench.code(30)
    answer = browser.post("/sign", {**form, **changes})
    return answer.status_code, html.unescape(answer.text)


def test_strip_and_walk_of_two_bays_are_signed_on_one_page(two: Bench) -> None:
    browser = two.signed_in(Role.SUPERINTENDENT)
    chosen = items(browser)
    assert [i.split("|")[:2] for i in chosen] == [
        ["2-b1-p1", "strip"],
        ["2-b1-p1", "walk"],
        ["2-b2-p1", "strip"],
        ["2-b2-p1", "walk"],
    ]
    code, text = sign(two, browser, chosen)
    assert code == 200
    assert "Signed: 2-b1: Strip, Walk. The crew is told." in text
    assert [(a.who, a.pour, a.operations) for a in two.acts if isinstance(a, Sign)] == [
        ("superintendent", "2-b1-p1", ("strip", "walk")),
        ("superintendent", "2-b2-p1", ("strip", "walk")),
    ]


@pytest.mark.parametrize(
    ("role", "offered"),
    [(Role.SUPERINTENDENT, {STRIP, WALK}), (Role.QC, {STRIP, WALK, LOAD}), (Role.ENGINEER, {STRIP, WALK, LOAD})],
)
def test_each_role_is_offered_what_it_signs(two: Bench, role: Role, offered: set[str]) -> None:
    assert {i.split("|")[1] for i in items(two.signed_in(role))} == offered


@pytest.mark.parametrize("role", [Role.ADMIN, Role.CREW, Role.VIEWER, Role.INSTALLER])
def test_nobody_else_signs_least_of_all_the_admin(two: Bench, role: Role) -> None:
    browser = two.signed_in(role)
    assert browser.get("/sign").status_code == 403
    gate = two.board.rows[0].gates[STRIP]
    assert sign(two, browser, [item_of(gate)])[0] == 403
    assert two.acts == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"item": []}, "Tick what you sign."),
        ({"read": ""}, "Tick both sentences."),
        ({"nothing-else": ""}, "Tick both sentences."),
        ({"password": "wrong password"}, "Password or code is not right"),
        ({"code": "000000"}, "Password or code is not right"),
        ({"code": ""}, "Password or code is not right"),
    ],
)
def test_what_is_lacking_is_said_and_nothing_is_signed(two: Bench, changes: dict[str, Any], said: str) -> None:
    browser = two.signed_in(Role.QC)
    code, text = sign(two, browser, items(browser), **changes)
    assert (code, two.acts) == (422, [])
    assert said in text


def test_a_code_signs_once(two: Bench) -> None:
    browser = two.signed_in(Role.QC)
    code = two.code()
    assert sign(two, browser, items(browser), code=code)[0] == 200
    done = list(two.acts)
    assert sign(two, browser, items(browser), code=code)[0] == 422
    assert two.acts == done


def test_whoever_guesses_at_codes_must_wait(two: Bench) -> None:
    browser = two.signed_in(Role.QC)
    chosen = items(browser)
    for _ in range(5):
        sign(two, browser, chosen, code="000000")
    assert "Too many attempts" in sign(two, browser, chosen, code=two.code())[1]
    assert two.acts == []


def test_a_signature_is_for_the_evidence_that_was_seen(two: Bench) -> None:
    browser = two.signed_in(Role.QC)
    chosen = items(browser)
    first = two.board.rows[0]
    gates = dict(first.gates) | {STRIP: replace(first.gates[STRIP], epoch=2, snapshot="another")}
    two.board.rows = [replace(first, gates=gates), two.board.rows[1]]
    code, text = sign(two, browser, chosen)
    assert (code, two.acts) == (422, [])
    assert "The evidence of 2-b1-p1 strip has moved since you saw it, and nothing was signed." in text


@pytest.mark.parametrize("state", [s for s in S if s is not S.MET])
def test_nothing_but_a_met_requirement_can_be_signed(two: Bench, state: GateState) -> None:
    browser = two.signed_in(Role.QC)
    chosen = items(browser)
    two.board.rows = [row(BAY, {STRIP: state}), row(OTHER, {STRIP: state})]
    assert [i for i in items(browser) if "|strip|" in i] == []
    assert sign(two, browser, chosen[:1])[0] == 422
    assert two.acts == []


def test_nothing_is_signed_while_forms_come_off_near_it_or_when_nobody_judges(two: Bench) -> None:
    browser = two.signed_in(Role.QC)
    late = row(OTHER, BOTH)
    late = replace(late, state=replace(late.state, next_due_ms=NOW - HOUR_MS))
    two.board.rows = [row(BAY, BOTH, stripping=(OTHER,)), late]
    assert [i.split("|")[:2] for i in items(browser)] == [["2-b1-p1", "strip"]]


def test_nothing_is_signed_while_the_service_is_in_doubt(two: Bench) -> None:
    browser = two.signed_in(Role.QC)
    chosen = items(browser)
    two.board.open_doubts = [Doubt(DoubtKind.CLOCK, NOW, "the service's clock jumped ahead by 2.0 h")]
    assert items(browser) == []
    assert sign(two, browser, chosen)[0] == 422
    assert two.acts == []


def test_who_has_signed_is_not_asked_again(two: Bench) -> None:
    two.board.rows = [row(BAY, BOTH, signers=("qc",))]
    assert items(two.signed_in(Role.QC)) == []
    assert "Nothing waits for your signature." in two.signed_in(Role.QC).get("/sign").text


def test_one_bay_is_ticked_when_its_page_led_here(two: Bench) -> None:
    text = two.signed_in(Role.QC).get("/sign?bay=2-b2").text
    ticked = re.findall(r'value="([^"|]+)\|(\w+)[^"]*" checked', text)
    assert {pour for pour, _ in ticked} == {"2-b2-p1"}


def test_a_pour_that_is_refused_does_not_hide_the_other(two: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    signed: list[Act] = []

    def apply(act: Act) -> None:
        assert isinstance(act, Sign)
        if act.pour == "2-b1-p1":
            raise ActRefusedError("strip of 2-b1-p1 is curing, there is nothing to sign")
        signed.append(act)

    monkeypatch.setattr(two, "acts", type("Picky", (), {"append": staticmethod(apply)})())
    browser = two.signed_in(Role.QC)
    _, text = sign(two, browser, items(browser))
    assert "2-b1: Strip, Walk, Load was not signed: strip of 2-b1-p1 is curing" in text
    assert "Signed: 2-b2: Strip, Walk, Load." in text
    assert len(signed) == 1


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", "If the forms come off now"), ("fr", "décoffre"), ("es", "se desencofra ahora")],
)
def test_what_the_strip_would_do_in_the_cold_stands_beside_its_signature_alone(
    two: Bench, language: str, said: str
) -> None:
    first, other = two.board.rows
    stripped = {"chance_cold": 0.34, "coldest_c": -0.6, "load_ms": NOW + 30 * HOUR_MS}
    memory = {**first.state.memory, "stripped": stripped}
    two.board.rows = [replace(first, state=replace(first.state, memory=memory)), other]
    browser = two.signed_in(Role.SUPERINTENDENT)
    browser.cookies.set("slabhour_language", language)
    text = html.unescape(browser.get("/sign").text)
    assert text.count("-0.6 °C") == 1
    assert "34 %" in text
    assert said in text
