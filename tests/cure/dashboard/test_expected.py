"""Expected hours on board and bay page: the cautious one first, soonest first, and never like a release."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from pages_support import NOW, SITE, row
from store_support import BAY

from alerts.site_words import shipped
from cure.dashboard.bay import bay_view
from cure.dashboard.board import Cell, board, seen
from cure.dashboard.expected import cautious_ms, expected_ms, soonest_ms
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, BayId, Ms
from shared.models.decisions import GateState
from shared.ports import BoardRow
from shared.shifts import day_of, hour_of

S = GateState
EVEN, CAUTIOUS = NOW + 5 * HOUR_MS, NOW + 7 * HOUR_MS


def reader(language: str = "en") -> Reader:
    return Reader(words()[language], shipped()[language], "SI", SITE.site.zone)


def foreseen(
    bay: BayId = BAY, state: GateState = S.CURING, even: Ms | None = EVEN, cautious: Ms | None = CAUTIOUS
) -> BoardRow:
    """Return a pour whose operations are all expected at the same hours."""
    pour = row(bay, dict.fromkeys((STRIP, WALK, LOAD), state))
    hours = {"expected_ms": even, "cautious_ms": cautious}
    return replace(pour, state=replace(pour.state, memory={"expected": dict.fromkeys((STRIP, WALK, LOAD), hours)}))


def strip(pour: BoardRow, now: Ms = NOW, language: str = "en") -> Cell:
    return board([pour], (), SITE, now, reader(language)).groups[0].lines[0].cells[0]


@pytest.mark.parametrize(("language", "said"), [("en", "expected"), ("fr", "attendu"), ("es", "previsto")])
def test_the_board_says_the_cautious_hour_under_the_sign_of_what_cures(language: str, said: str) -> None:
    cell = strip(foreseen(), language=language)
    assert cell.reason == f"{said} {reader(language).hour(CAUTIOUS, NOW)}"
    assert (cell.word, cell.fill) == (reader(language).worded("sign-curing", STRIP), "")


def test_an_hour_that_only_an_even_chance_has_is_not_on_the_board_but_on_the_bays_page() -> None:
    pour = foreseen(cautious=None)
    assert strip(pour).reason == ""
    answer = bay_view(SITE.bay[0], pour, SITE, NOW, reader(), doubted=False).answers[0]
    assert answer.expected == f"Expected, not released: even chance {reader().hour(EVEN, NOW)}"


def test_the_page_of_a_bay_says_both_hours_and_that_neither_is_a_release() -> None:
    answer = bay_view(SITE.bay[0], foreseen(), SITE, NOW, reader(), doubted=False).answers[0]
    cautious, even = (reader().hour(at, NOW) for at in (CAUTIOUS, EVEN))
    assert answer.expected == f"Expected, not released: 9 in 10 by {cautious}, even chance {even}"


@pytest.mark.parametrize("state", [s for s in GateState if s is not S.CURING])
def test_no_other_state_bears_an_expected_hour(state: GateState) -> None:
    assert reader().hour(CAUTIOUS, NOW) not in strip(foreseen(state=state)).reason
    answers = bay_view(SITE.bay[0], foreseen(state=state), SITE, NOW, reader(), doubted=False).answers
    assert [answer.expected for answer in answers] == [""] * 3


def test_an_hour_that_has_passed_is_expected_no_more_and_the_line_is_worded_anew() -> None:
    pour = foreseen()
    pour = replace(pour, state=replace(pour.state, next_due_ms=CAUTIOUS + HOUR_MS))
    assert strip(pour, CAUTIOUS - 1).reason.startswith("expected ")
    assert strip(pour, CAUTIOUS).reason == ""
    assert expected_ms(pour, STRIP, EVEN, stopped=False) is None
    assert seen(pour, SITE, CAUTIOUS - 1, doubted=False) != seen(pour, SITE, CAUTIOUS, doubted=False)


def test_where_nobody_judges_the_evidence_nothing_is_expected() -> None:
    assert cautious_ms(foreseen(), STRIP, NOW, stopped=True) is None
    view = bay_view(SITE.bay[0], foreseen(), SITE, NOW, reader(), doubted=True)
    assert [answer.expected for answer in view.answers] == [""] * 3


def test_what_cures_stands_by_what_comes_soonest_and_what_nobody_foresees_last() -> None:
    hours = {"2-b1": 55, "2-b2": None, "2-b3": 48}
    rows = [foreseen(BayId(b), cautious=None if h is None else NOW + h * HOUR_MS) for b, h in hours.items()]
    (group,) = board(rows, (), SITE, NOW, reader()).groups
    assert [line.bay for line in group.lines] == ["2-b3", "2-b1", "2-b2"]
    assert soonest_ms(rows[1], NOW) is None


def test_what_is_expected_before_midnight_on_site_stands_before_what_cures_longer() -> None:
    midnight = hour_of(day_of(NOW, SITE.site.zone) + timedelta(days=1), "00:00", SITE.site.zone)
    rows = [foreseen(BayId("2-b1"), cautious=midnight), foreseen(BayId("2-b2"), cautious=midnight - 1)]
    today, later = board(rows, (), SITE, NOW, reader()).groups
    assert [(g.key, g.lines[0].bay) for g in (today, later)] == [("today", "2-b2"), ("curing", "2-b1")]
    assert (today.title, today.hint) == ("Expected today", "by the forecast; not released")
