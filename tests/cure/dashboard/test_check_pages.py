"""The second person's check: asked of whoever may, sent as it was seen, refused in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pages_support import SITE, Bench, row
from store_support import BAY, T0

from cure.dashboard.bay import waits_for_check
from cure.entered import CHECK
from shared.models.acts import SecondCheck, ms
from shared.models.base import HOUR_MS, STRIP
from shared.models.decisions import Finding, Verdict
from shared.models.people import Role

CHECKING = SITE.model_copy(update={"plan": SITE.plan.model_copy(update={"second_check": True})})
# 24 November 2025, 13:00 in Halifax: when the last concrete of the row came.
FORM = {"mix": "C32-F", "ticket": "T-7", "end": "2025-11-24T13:00", "loggers": "yes", "plan": "yes"}


@pytest.fixture
def checking(bench: Bench) -> Bench:
    bench.board.of_site = CHECKING
    return bench


def send(bench: Bench, role: Role, **changes: str) -> Any:
    qc = bench.signed_in(role)
    form = {"csrf": bench.csrf(qc), "pour": "2-b1-p1", **FORM, **changes}
    return qc.post(f"/check/{BAY}", form)


def test_a_check_says_what_a_second_person_saw(checking: Bench) -> None:
    assert send(checking, Role.QC).headers["location"] == f"/bay/{BAY}"
    (act,) = checking.acts
    assert isinstance(act, SecondCheck)
    assert (act.who, act.pour, act.mix, act.ticket) == ("qc", "2-b1-p1", "c32-f", "T-7")
    assert act.loggers_alive
    assert act.plan_seen
    assert ms(act.end) == T0 + HOUR_MS


@pytest.mark.parametrize("changes", [{"end": "13:00"}, {"end": ""}, {"ticket": ""}, {"mix": "?"}, {"pour": "2-b1-p0"}])
def test_what_is_not_said_whole_is_refused_and_stands_in_the_form(checking: Bench, changes: dict[str, str]) -> None:
    answer = send(checking, Role.QC, **changes)
    assert answer.status_code == 422
    assert checking.acts == []
    assert 'value="C32-F"' in answer.text or changes == {"mix": "?"}


def test_a_box_that_is_not_ticked_is_sent_as_not_seen(checking: Bench) -> None:
    send(checking, Role.QC, loggers="")
    (act,) = checking.acts
    assert isinstance(act, SecondCheck)
    assert not act.loggers_alive


def test_the_bay_asks_for_it_until_it_is_done(checking: Bench) -> None:
    link = f'href="/check/{BAY}"'
    assert link in checking.signed_in(Role.QC).get(f"/bay/{BAY}").text
    assert link not in checking.signed_in(Role.CREW).get(f"/bay/{BAY}").text
    found = row()
    done = Verdict(STRIP, (), met=False, findings=(Finding(CHECK, "qc", None, "", met=True, lasting=False),))
    checking.board.rows = [replace(found, state=replace(found.state, verdicts=(done,)))]
    assert link not in checking.signed_in(Role.QC).get(f"/bay/{BAY}").text
    assert "No pour here waits" in checking.signed_in(Role.QC).get(f"/check/{BAY}").text


def test_nobody_waits_for_a_check_that_the_plan_does_not_ask_for_or_before_the_end() -> None:
    placing = replace(row(), pour=replace(row().pour, end_ms=None))
    without = SITE.model_copy(update={"plan": SITE.plan.model_copy(update={"second_check": False})})
    assert waits_for_check(CHECKING, row())
    assert not waits_for_check(CHECKING, placing)
    assert not waits_for_check(CHECKING, None)
    assert not waits_for_check(without, row())
