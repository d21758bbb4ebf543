"""Operations of a site's own, end to end; what a decision rests on; a gate that does not flap."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from functools import cache

import pytest
from cure_support import CONCRETE, END_MS, Story, make_case
from gates_support import CRANE, edit, finding_of, ran, requirement, site_with, told_of, verdict_of
from requirements_support import broken
from store_support import AIR, EDGE

from cure import work
from shared.errors import ActRefusedError
from shared.models.base import LOAD, STRIP, UNCOVER, WALK
from shared.models.decisions import Document, GateState
from shared.models.messages import MessageKind
from shared.models.setup import SiteFile

S = GateState
PLAIN = site_with()
ON_IT = requirement(
    CRANE,
    {"done": "strip"},
    {"document": "crane mat plan"},
    {"any": [{"lower_bound_mpa": 60}, {"tested_mpa": 20}]},
    {"no_strip_near": True},
    signed_by=["engineer"],
)


def with_crane() -> SiteFile:
    return site_with(requirement=[ON_IT])


def test_an_operation_of_the_sites_own_goes_from_its_requirement_to_done() -> None:
    story = ran(with_crane(), 26)
    assert story.state(CRANE) is S.CURING
    assert [f.rule for f in verdict_of(story, CRANE).failed()] == [
        "strip",
        "crane mat plan",
        "lower bound of strength",
        "tests that count",
        "lowest of the tests",
    ]
    story.press("sign", operations=["strip"])
    for kind in ("under_way", "done"):
        story.press(kind, "crew", operation="strip")
    plan = Document("crane mat plan", "M-7", "engineer", story.now_ms)
    tests = tuple(broken(mpa, equivalent_age_h=20.0, tested_ms=story.now_ms) for mpa in (21.0, 22.0))
    story.case = replace(story.case, documents=(plan,), tests=tests)
    assert story.run(27).state(CRANE) is S.MET
    (wanted,) = [m for m in told_of(story, MessageKind.SIGN_OFF_WANTED) if m.subject == CRANE]
    assert wanted.facts["roles"] == ["engineer"]
    assert wanted.facts["sign_command"] == "slabhour sign --who YOU 2-b1-p1 crane pad"
    with pytest.raises(ActRefusedError, match="this takes one of: engineer"):
        story.press("sign", operations=[CRANE])
    story.press("sign", "engineer", operations=[CRANE])
    (told,) = [m for m in told_of(story, MessageKind.RELEASED) if m.subject == CRANE]
    assert (told.facts["requirement_version"], told.facts["signers"]) == ("site file", ["engineer"])
    assert "crane mat plan on file" in told.facts["requirement"]
    assert "crane mat plan: M-7 - met" in told.facts["findings"]
    assert CRANE not in told.facts["not_released"]
    for kind, state in (("under_way", S.UNDER_WAY), ("done", S.DONE)):
        story.press(kind, "crew", operation=CRANE)
        assert story.state(CRANE) is state


def test_a_strip_beside_keeps_an_operation_of_the_sites_own_shut() -> None:
    story = ran(site_with(requirement=[requirement(CRANE, {"age_h": 1}, {"no_strip_near": True})]), 4)
    assert story.state(CRANE) is S.MET
    story.case = replace(story.case, stripping=(story.case.site.bay[1].bay_id,))
    story.round()
    assert story.state(CRANE) is S.CURING


def test_stop_and_a_doubt_shut_an_operation_of_the_sites_own_too() -> None:
    site = site_with(requirement=[requirement(CRANE, {"age_h": 1})])
    story = ran(site, 4)
    story.press("sign", "engineer", operations=[CRANE])
    story.clock_ok = False
    story.round()
    assert story.state(CRANE) is S.SUSPENDED
    story.press("stop", "passer-by", why="crack")
    assert story.state(CRANE) is S.WITHDRAWN
    assert CRANE in [m.subject for m in told_of(story, MessageKind.WITHDRAWAL)]


def test_an_operation_that_the_engineer_adds_on_the_site_book_is_a_gate_from_then_on() -> None:
    story = ran(PLAIN, 4)
    assert CRANE not in story.case.gates
    story.case = replace(story.case, edits=(edit(3, requirement(CRANE, {"age_h": 4})),))
    story.round()
    assert story.state(CRANE) is S.CURING
    assert story.run(5).state(CRANE) is S.MET


def test_a_load_without_the_load_on_file_is_not_set_up_whatever_its_requirement_says() -> None:
    site = site_with(requirement=[requirement(LOAD, {"age_h": 1})])
    bay = site.bay[0].model_copy(update={"construction_load_kpa": None})
    story = Story(make_case(site, bay=bay)).run(4)
    assert story.state(LOAD) is S.NOT_SET_UP


def test_uncover_waits_for_the_protection_time_and_a_surface_near_the_air() -> None:
    site = site_with({"also": ["uncover"]})
    story = Story(make_case(site))
    story.profile = {
        **dict.fromkeys(CONCRETE, lambda h: 20.0 - h / 50),
        AIR: lambda h: 4.0 if h < 73.5 else 15.0 + h / 99,
    }
    assert story.run(73).state(UNCOVER) is S.CURING
    story.run(78)
    found = finding_of(story, UNCOVER, "surface apart from the air")
    assert found is not None
    assert (found.met, found.lasting) == (True, False)
    assert story.state(UNCOVER) is S.MET


@pytest.mark.row("E6", "E9")
def test_a_decision_keeps_what_it_rests_on_with_code_units_requirement_and_calibration() -> None:
    story = ran(PLAIN, 26)
    result = story.press("sign", operations=["strip"])
    kept = story.case.gates[STRIP].snapshot
    assert kept is not None
    body = result.snapshots[kept]
    assert body["code"] == work.CODE_VERSION == story.case.state.code
    assert body["requirement_version"] == "plan common-practice"
    assert body["calibration"]["version"] == 1
    assert body["mix"]["id"] == "c32-f"
    assert "lower bound of strength" in body["requirement"]
    assert any("MPa" in words and "psi" in words for words in body["findings"])
    assert any("°C" in words and "°F" in words for words in body["findings"])
    assert json.loads(json.dumps(body, allow_nan=False)) == body


@pytest.mark.row("E6")
def test_what_other_code_released_is_judged_anew_by_this_and_withdrawn_when_this_finds_less() -> None:
    story = ran(PLAIN, 10)
    gates = {op: replace(story.case.gates[op], state=S.RELEASED, epoch=1) for op in (STRIP, WALK)}
    state = replace(story.case.state, code="0.0.9")
    story.case = replace(story.case, gates={**story.case.gates, **gates}, state=state)
    assert story.round().state.code == work.CODE_VERSION
    assert (story.state(STRIP), story.state(WALK)) == (S.WITHDRAWN, S.WITHDRAWN)
    assert [m.subject for m in told_of(story, MessageKind.WITHDRAWAL)] == [STRIP, WALK]


@pytest.mark.row("E6")
def test_what_other_code_found_met_is_signed_only_on_what_this_finds() -> None:
    story = ran(PLAIN, 10)
    gates = {STRIP: replace(story.case.gates[STRIP], state=S.MET, epoch=1)}
    story.case = replace(story.case, gates={**story.case.gates, **gates})
    with pytest.raises(ActRefusedError, match="there is nothing to sign"):
        story.press("sign", operations=["strip"])


@cache
def before_the_noise(sign_offs: int) -> Story:
    story = Story(make_case(site_with({"sign_offs": sign_offs})))
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: 18.0), AIR: lambda _: 2.0}
    return story.run(22.75)


@pytest.mark.row("A14")
@pytest.mark.parametrize("sign_offs", [0, 1])
@pytest.mark.parametrize("seed", range(3))
def test_noise_about_a_limit_writes_at_most_one_permit_and_one_withdrawal_an_epoch(sign_offs: int, seed: int) -> None:
    rng = random.Random(seed)
    story = before_the_noise(sign_offs).copy()
    story.profile = {**story.profile, EDGE: lambda _: 5.0 + rng.choice((-0.3, 0.3))}
    for hour in range(24, 40):
        story.run(hour)
        if story.state(STRIP) is S.MET and sign_offs:
            story.press("sign", operations=["strip"])
    told = [(m.kind, m.subject, m.epoch) for m in story.messages]
    assert len(told) == len(set(told))
    withdrawn = [m for m in told_of(story, MessageKind.WITHDRAWAL) if m.subject == STRIP]
    assert withdrawn == [], "what is momentary takes nothing back"
    if sign_offs:
        assert len([m for m in told_of(story, MessageKind.RELEASED) if m.subject == STRIP]) <= 1


@pytest.mark.row("A14")
def test_after_a_withdrawal_nothing_opens_by_itself() -> None:
    story = ran(PLAIN, 26)
    story.press("sign", operations=["strip"])
    story.add(EDGE, END_MS + 7_200_000, 0.2)
    story.round()
    assert story.state() is S.WITHDRAWN
    story.press("lift", "engineer", hold="freeze locked", document="D-1", why="cores")
    assert story.run(60).state() is S.WITHDRAWN
    assert len([m for m in told_of(story, MessageKind.RELEASED) if m.subject == STRIP]) == 1
