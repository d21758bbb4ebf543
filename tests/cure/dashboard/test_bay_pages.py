"""A bay's page, the crew's taps and STOP."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from pages_support import NOW, OTHER, SITE, Bench, Browser, row
from store_support import BAY, make_calibration, make_site, site_dict

from alerts.site_words import shipped
from cure.accumulate import COLUMNS
from cure.bound import error_budget_mpa
from cure.dashboard.bay import bay_view
from cure.dashboard.reader import Reader
from cure.dashboard.rendering import words
from shared.models.acts import Done, Stop, UnderWay
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK
from shared.models.decisions import Finding, GateState, Hold, HoldKind, Verdict
from shared.models.people import Role

S = GateState
READER = Reader(words()["en"], shipped()["en"], "SI", SITE.site.zone)


def tap(bench: Bench, browser: Browser, step: str, operation: str = STRIP, pour: str = "2-b1-p1") -> int:
    form = {"csrf": bench.csrf(browser), "pour": pour, "operation": operation}
    return browser.post(f"/bay/{BAY}/{step}", form).status_code


def test_the_page_says_what_is_not_released_and_where_nothing_holds(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get(f"/bay/{BAY}").text
    assert "Not released: Walk, Load." in text
    assert "Excluded: none." in text
    assert "the requirement is met and signed, and nothing else" in text
    assert "lower bound of strength: 3.4 MPa (493 psi), needs 3.5 MPa (508 psi) - not met" in text


def test_every_finding_is_told_as_everywhere_else() -> None:
    finding = Finding("lower bound of strength", 7.19, 7.0, "MPa", met=True)
    made = bay_view(
        SITE.bay_named(BAY),
        row(BAY, {LOAD: S.RELEASED}, verdicts=(Verdict(LOAD, (), met=True, findings=(finding,)),)),
        SITE,
        NOW,
        READER,
        doubted=False,
    )
    load = made.answers[2]
    assert load.findings == ((True, finding.explain("SI")),)
    assert load.limits == (
        "Excluded: none.",
        "At most 1.0 kPa (20 psf): slab on bare joists, spread load, no wheels, stacks or form bundles.",
    )


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_what_each_source_of_error_takes_is_said_the_largest_first(language: str) -> None:
    # The names that the bound has: one without words in a language fails.
    names = error_budget_mpa(np.full((1, COLUMNS), 30.0), make_calibration(), SITE.mix[0])
    taken = {name: 0.1 * n for n, name in enumerate(names, 1)}
    found = row(BAY)
    assert found.state.estimate is not None
    state = replace(found.state, estimate=replace(found.state.estimate, error_budget_mpa=taken))
    reader = Reader(words()[language], shipped()[language], "SI", SITE.site.zone)
    made = bay_view(SITE.bay_named(BAY), replace(found, state=state), SITE, NOW, reader, doubted=False)
    (said,) = (value for name, value in made.facts if name == reader.say("fact-budget"))
    largest = [reader.say("budget-" + name.replace(" ", "-")) for name in reversed(list(names))]
    numbers = [reader.number(mpa, "MPa") for mpa in reversed(list(taken.values()))]
    assert said.split("; ") == [f"{name} {mpa}" for name, mpa in zip(largest, numbers, strict=True)]
    assert len(set(largest)) == len(names) == 6


def test_a_release_whose_findings_have_moved_says_that_it_was_signed_on_those_of_its_hour(bench: Bench) -> None:
    cold = Finding("coldest through the last 1 h", 3.1, 5.0, "degC", met=False, lasting=False)
    signed, moved = row(BAY, {STRIP: S.RELEASED}), (Verdict(STRIP, (), met=False, findings=(cold,)),)
    viewer, said = bench.signed_in(Role.VIEWER), "Signed on the findings of its hour"
    bench.board.rows = [signed]
    assert said not in viewer.get(f"/bay/{BAY}").text
    bench.board.rows = [row(BAY, {STRIP: S.RELEASED}, verdicts=moved)]
    assert said in viewer.get(f"/bay/{BAY}").text
    bench.board.rows = [row(BAY, {}, verdicts=moved)]
    assert said not in viewer.get(f"/bay/{BAY}").text


def test_a_hold_is_told_with_its_owner_and_how_it_is_lifted(bench: Bench) -> None:
    hold = Hold(HoldKind.FREEZE_SUSPECTED, NOW - HOUR_MS, "qc", "0.4 degC at the edge", "measure the surface")
    bench.board.rows = [row(BAY, {STRIP: S.HOLD}, holds=(hold,))]
    text = bench.signed_in(Role.QC).get(f"/bay/{BAY}").text
    assert "Hold: 0.4 degC at the edge (since Tue 25 Nov 2025 17:00 UTC\N{MINUS SIGN}04:00, owner: QC)" in text
    assert "To lift it: measure the surface" in text


def test_a_bay_without_a_pour_and_a_bay_that_is_none(bench: Bench) -> None:
    bench.board.rows = ()
    browser = bench.signed_in(Role.QC)
    assert "No pour is open in this bay." in browser.get(f"/bay/{BAY}").text
    for path in ("/bay/9-z9", "/pour/9-z9", "/stop/9-z9"):
        assert browser.get(path).status_code == 404


def test_what_nobody_looks_at_any_more_is_not_offered_to_the_crew() -> None:
    found = row(BAY, {STRIP: S.RELEASED})
    stopped = replace(found, state=replace(found.state, next_due_ms=NOW - HOUR_MS))
    made = bay_view(SITE.bay_named(BAY), stopped, SITE, NOW, READER, doubted=False)
    assert made.stopped
    assert [a.next for a in made.answers] == ["", "", ""]
    assert made.not_released == "Strip, Walk, Load"


@pytest.mark.parametrize(
    ("state", "tap"), [(S.RELEASED, "under-way"), (S.UNDER_WAY, "done"), (S.MET, ""), (S.DONE, "")]
)
def test_the_tap_that_follows_is_offered(state: GateState, tap: str) -> None:
    assert (
        bay_view(SITE.bay_named(BAY), row(BAY, {STRIP: state}), SITE, NOW, READER, doubted=False).answers[0].next == tap
    )


def test_without_sign_offs_the_crew_may_begin_on_what_is_met() -> None:
    unsigned = make_site(plan={**site_dict()["plan"], "sign_offs": 0})
    made = bay_view(SITE.bay_named(BAY), row(BAY, {STRIP: S.MET}), unsigned, NOW, READER, doubted=False)
    assert made.answers[0].next == "under-way"


def test_the_crew_taps_under_way_and_done(bench: Bench) -> None:
    crew = bench.signed_in(Role.CREW)
    assert 'action="/bay/2-b1/under-way"' in crew.get(f"/bay/{BAY}").text
    assert tap(bench, crew, "under-way") == 303
    assert tap(bench, crew, "done") == 303
    assert [(type(a), a.who) for a in bench.acts] == [(UnderWay, "crew"), (Done, "crew")]


def test_a_tap_on_an_old_page_does_nothing_to_the_next_pour(bench: Bench) -> None:
    crew = bench.signed_in(Role.CREW)
    assert tap(bench, crew, "under-way", pour="2-b1-p0") == 409
    assert tap(bench, crew, "under-way", operation="dance") == 409
    assert bench.acts == []


def test_who_only_reads_is_offered_no_tap(bench: Bench) -> None:
    text = bench.signed_in(Role.VIEWER).get(f"/bay/{BAY}").text
    assert 'action="/bay/' not in text
    assert f'href="/stop/{BAY}"' in text


def test_without_signing_in_the_sign_at_the_bay_shows_stop_and_no_evidence(bench: Bench) -> None:
    text = bench.browser().get(f"/bay/{BAY}").text
    assert f'href="/stop/{BAY}"' in text
    assert "Released</b>" not in text
    assert "MPa" not in text


def press(browser: Browser, mark: str = "", why: str = "a crack") -> str:
    return browser.post(f"/stop/{BAY}", {"mark": mark, "why": why}).text


def marked(text: str) -> str:
    found = re.search(r'name="mark" value="([^"]+)"', text)
    assert found, text
    return found[1]


def test_stop_takes_two_presses_and_no_name(bench: Bench) -> None:
    stranger = bench.browser()
    assert "STOP: first press" in stranger.get(f"/stop/{BAY}").text
    first = press(stranger)
    assert "Press once more" in first
    assert bench.acts == []
    assert "STOP is pressed" in press(stranger, marked(first))
    (act,) = bench.acts
    assert isinstance(act, Stop)
    assert (act.who, act.pour, act.why) == ("at-the-bay", "2-b1-p1", "a crack")


def test_whoever_is_signed_in_presses_stop_by_name_also_from_an_old_page(bench: Bench) -> None:
    browser = bench.signed_in(Role.VIEWER)
    press(browser, marked(press(browser, why="")), why=" \n ")
    (act,) = bench.acts
    assert isinstance(act, Stop)
    assert (act.who, act.why) == ("viewer", "no reason given")


def test_a_second_press_counts_only_after_a_first_of_this_pour_not_long_ago(bench: Bench) -> None:
    stranger = bench.browser()
    mark = marked(press(stranger))
    at, _, proof = mark.partition(".")
    for bad in ("", "x", f"{at}.", f".{proof}", f"{int(at) + 1}.{proof}", f"{'9' * 40}.{proof}"):
        assert "Press once more" in press(stranger, bad)
    bench.clock.set(NOW + 11 * 60_000)
    assert "Press once more" in press(stranger, mark)
    bench.board.rows = [row(OTHER)]
    assert "No pour is open in this bay." in press(stranger, mark)
    assert bench.acts == []


@pytest.mark.parametrize(("origin", "pressed"), [("http://evil.test", False), ("", False)])
def test_a_strangers_page_presses_nothing(bench: Bench, origin: str, pressed: bool) -> None:
    answer = bench.browser().post(f"/stop/{BAY}", {"why": "x"}, origin=origin)
    assert (answer.status_code == 200) is pressed


def test_the_bay_says_keep_off_while_forms_come_off_beside_it(bench: Bench) -> None:
    bench.board.rows = [row(BAY, {WALK: S.RELEASED}, stripping=(OTHER,))]
    text = bench.signed_in(Role.CREW).get(f"/bay/{BAY}").text
    assert "stripping below or beside" in text
    assert 'value="walk"' not in text


def test_while_the_service_is_in_doubt_no_bay_is_shown_as_released_and_nothing_is_offered() -> None:
    made = bay_view(SITE.bay_named(BAY), row(BAY, {STRIP: S.RELEASED}), SITE, NOW, READER, doubted=True)
    assert made.not_released == "Strip, Walk, Load"
    assert {(a.cell.word, a.next) for a in made.answers} == {("In doubt", "")}
