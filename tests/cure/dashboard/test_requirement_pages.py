"""Requirements: seen by all, written by the engineer after seeing what they change."""

from __future__ import annotations

import re
from typing import Any

import pytest
from pages_support import NOW, OTHER, Bench, Browser
from store_support import BAY

from cure.requirement_preview import Previewed
from shared.models.acts import Require, instant
from shared.models.base import PourId
from shared.models.decisions import Finding, GateState, RequirementEdit
from shared.models.people import Role
from shared.models.requirement import Requirement

SHORT = Finding("lower bound of strength", 3.6, 4.0, "MPa", met=False)
WITHDRAWS = Previewed(BAY, PourId("2-b1-p1"), GateState.RELEASED, GateState.WITHDRAWN, False, (SHORT,))
STAYS = Previewed(OTHER, PourId("2-b2-p1"), GateState.CURING, GateState.CURING, False, ())
OWN = Previewed(OTHER, PourId("2-b2-p1"), None, GateState.CURING, True, ())
FORM = {
    "operation": "strip",
    "bay": "",
    "needs": "lower_bound_mpa = 4.0\ncounted_h = 30, at_c = 5",
    "why": "drawing S-12",
    "second_person": "superintendent",
}


def send(bench: Bench, browser: Browser, path: str = "/requirements/preview", **form: Any) -> Any:
    return browser.post(path, {"csrf": bench.csrf(browser), **FORM, **form})


def seen_in(text: str) -> str:
    found = re.search(r'name="seen" value="(\w+)"', text)
    assert found is not None
    return found[1]


def test_everybody_sees_what_is_in_force_and_what_was(bench: Bench) -> None:
    new = Requirement.model_validate({"operation": "strip", "all": [{"lower_bound_mpa": 4.0}]})
    bench.board.written = (RequirementEdit(3, NOW, "engineer", "qc", "rev 3", new),)
    bench.board.done = [
        Require(at=instant(NOW), who="engineer", requirement=new, second_person="qc", why=f"rev {n}") for n in (2, 3)
    ]
    text = bench.signed_in(Role.VIEWER).get("/requirements").text
    assert text.count("lower bound of strength at least 4.0 MPa (581 psi)") == 3
    assert text.index("rev 3") < text.index("rev 2")
    assert "Write a requirement" not in text
    filled = bench.signed_in(Role.ENGINEER).get("/requirements?operation=strip").text
    assert "lower_bound_mpa = 4.0</textarea>" in filled


def test_what_it_changes_is_shown_before_and_signed_with_a_code(bench: Bench) -> None:
    bench.previewed = (WITHDRAWS, STAYS, OWN)
    engineer = bench.signed_in(Role.ENGINEER)
    text = send(bench, engineer).text
    shown = text.partition("What changes")[2].partition("</ul>")[0].replace("\u00ad", "")
    assert "2-b1-p1</b>: Released → Keep forms on<br>lower bound of strength: 3.6 MPa" in shown
    assert "2-b2-p1</b>: stays: Curing" in shown
    assert "keeps the requirement of its own bay" in shown
    assert bench.acts == []
    seen = seen_in(text)
    for wrong, said in (
        ({"seen": seen, "code": "000000"}, "code"),
        ({"seen": "", "code": bench.code()}, "not what you"),
    ):
        answer = send(bench, engineer, "/requirements", **wrong)
        assert answer.status_code == 422
        assert said in answer.text
    bench.previewed = (STAYS,)
    assert send(bench, engineer, "/requirements", seen=seen, code=bench.code(30)).status_code == 422
    assert bench.acts == []
    bench.previewed = (WITHDRAWS, STAYS, OWN)
    done = send(bench, engineer, "/requirements", seen=seen, code=bench.code(30), signed_by="engineer")
    assert done.status_code == 422, "who signs is part of what was seen"
    done = send(bench, engineer, "/requirements", seen=seen, code=bench.code(30))
    assert "Strip: the new requirement is in force" in done.text
    (act,) = bench.acts
    assert isinstance(act, Require)
    assert (act.who, act.second_person, act.why, act.bay) == ("engineer", "superintendent", "drawing S-12", None)
    assert act.requirement.model_dump(mode="json", exclude_none=True)["all"] == [
        {"lower_bound_mpa": 4.0},
        {"counted_h": 30.0, "at_c": 5.0},
    ]


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"needs": "lower_bound_mpa = 0.35"}, "Line 1 is no rule"),
        ({"needs": ""}, "1 to 40 rules"),
        ({"why": ""}, "second person and a reason"),
        ({"bay": "9-z9"}, "There is no such bay"),
        ({"signed_by": ["engineer", "qc", "superintendent"], "each_signs": "yes", "operation": "X"}, "is no rule"),
    ],
)
def test_what_cannot_be_is_said(bench: Bench, form: dict[str, Any], said: str) -> None:
    answer = send(bench, bench.signed_in(Role.ENGINEER), **form)
    assert answer.status_code == 422
    assert said in answer.text
    assert "Sign this requirement" not in answer.text


def test_nobody_but_the_engineer_writes_one(bench: Bench) -> None:
    for role in set(Role) - {Role.ENGINEER}:
        browser = bench.signed_in(role)
        assert send(bench, browser).status_code == 403
        assert send(bench, browser, "/requirements").status_code == 403
    assert bench.acts == []
