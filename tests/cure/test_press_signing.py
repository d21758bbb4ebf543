"""Who signs what, and how many: as shipped, as a requirement writes it, and where the plan wants nobody."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import Story
from gates_support import CRANE, edit, ran, requirement, site_with, told_of
from requirements_support import broken

from shared.errors import ActRefusedError
from shared.models.base import FULL_LOAD, LOAD, STRIP, Operation
from shared.models.decisions import GateState
from shared.models.messages import MessageKind
from shared.models.setup import SiteFile

S = GateState


def strip_signed(plan: dict[str, Any] | None = None, **signed: Any) -> Story:
    """Return a warm pour whose strip asks for little, but for these signatures."""
    rule = requirement("strip", {"counted_h": 20, "at_c": 5}, **signed)
    return ran(site_with(plan, requirement=[rule]), 25)


def signs(story: Story, who: str, operation: str = "strip") -> GateState:
    story.press("sign", who, operations=[operation])
    return story.state(Operation(operation))


@pytest.mark.row("O8")
def test_where_each_role_signs_it_takes_one_person_of_each() -> None:
    story = strip_signed(signed_by=["engineer", "qc"], each_signs=True)
    (wanted,) = [m for m in told_of(story, MessageKind.SIGN_OFF_WANTED) if m.subject == STRIP]
    assert (wanted.facts["sign_offs"], wanted.facts["roles"]) == (2, ["engineer", "qc"])
    assert signs(story, "qc") is S.MET
    for again, why in (("qc", "signed strip already; a second person"), ("qc-two", "the other roles must sign too")):
        with pytest.raises(ActRefusedError, match=why):
            signs(story, again)
    with pytest.raises(ActRefusedError, match="this takes one of: engineer, qc"):
        signs(story, "superintendent")
    assert told_of(story, MessageKind.RELEASED) == []
    assert signs(story, "engineer") is S.RELEASED
    assert told_of(story, MessageKind.RELEASED)[0].facts["signers"] == ["qc", "engineer"]


@pytest.mark.row("O8")
def test_two_sign_offs_of_one_role_are_two_people_and_each_role_may_be_one_of_them() -> None:
    story = strip_signed({"sign_offs": 2}, signed_by=["qc"], each_signs=True)
    assert signs(story, "qc") is S.MET
    with pytest.raises(ActRefusedError, match="a second person must sign"):
        signs(story, "qc")
    assert signs(story, "qc-two") is S.RELEASED


@pytest.mark.row("O8")
def test_a_place_is_kept_for_each_role_that_has_not_signed() -> None:
    story = strip_signed({"sign_offs": 2}, signed_by=["qc", "engineer"], each_signs=True)
    assert signs(story, "qc") is S.MET
    with pytest.raises(ActRefusedError, match="the other roles must sign too"):
        signs(story, "qc-two")
    assert signs(story, "engineer") is S.RELEASED


@pytest.mark.parametrize("who", ["superintendent", "qc", "crew", "viewer", "installer", "admin"])
def test_who_a_requirement_names_signs_and_nobody_else(who: str) -> None:
    story = strip_signed(signed_by=["engineer"])
    with pytest.raises(ActRefusedError, match="this takes one of: engineer"):
        signs(story, who)
    assert signs(story, "engineer") is S.RELEASED


def test_a_named_signature_is_wanted_although_the_plan_wants_none() -> None:
    story = strip_signed({"sign_offs": 0}, signed_by=["engineer"])
    assert MessageKind.SIGN_OFF_WANTED in story.told()
    assert STRIP not in [m.subject for m in told_of(story, MessageKind.MET_NOT_SIGNED)]
    with pytest.raises(ActRefusedError, match="cannot be begun"):
        story.press("under_way", "crew", operation="strip")
    assert signs(story, "engineer") is S.RELEASED


def test_the_engineers_edit_names_who_signs_from_then_on() -> None:
    story = ran(site_with(), 25)
    rule = requirement("strip", {"counted_h": 20, "at_c": 5}, signed_by=["engineer"])
    story.case = replace(story.case, edits=(edit(1, rule),))
    with pytest.raises(ActRefusedError, match="this takes one of: engineer"):
        signs(story, "qc")


def loaded(site: SiteFile) -> Story:
    """Return a pour whose load is done and whose cylinders are strong enough for the full load."""
    story = ran(site, 30)
    for operation in ("strip", "load"):
        if site.plan.sign_offs:
            story.press("sign", "engineer", operations=[operation])
        for kind in ("under_way", "done"):
            story.press(kind, "crew", operation=operation)
        story.run(31 if operation == "strip" else 32)
    tests = tuple(broken(mpa, equivalent_age_h=20.0, tested_ms=story.now_ms) for mpa in (24.0, 30.0))
    story.case = replace(story.case, tests=tests)
    return story.run(33)


@pytest.mark.parametrize("sign_offs", [0, 1])
def test_a_full_load_is_signed_by_the_engineer_and_never_goes_unsigned(sign_offs: int) -> None:
    story = loaded(site_with({"also": ["full load"], "sign_offs": sign_offs}))
    assert (story.state(LOAD), story.state(FULL_LOAD)) == (S.DONE, S.MET)
    assert FULL_LOAD not in [m.subject for m in told_of(story, MessageKind.MET_NOT_SIGNED)]
    with pytest.raises(ActRefusedError, match="cannot be begun"):
        story.press("under_way", "crew", operation="full load")
    for who in ("superintendent", "qc", "crew"):
        with pytest.raises(ActRefusedError, match="this takes one of: engineer"):
            signs(story, who, "full load")
    assert signs(story, "engineer", "full load") is S.RELEASED


def test_what_nobody_names_is_signed_as_load_is() -> None:
    site = site_with(requirement=[requirement(CRANE, {"counted_h": 20, "at_c": 5})])
    story = ran(site, 25)
    with pytest.raises(ActRefusedError, match="this takes one of: qc, engineer"):
        signs(story, "superintendent", CRANE)
    assert signs(story, "qc", CRANE) is S.RELEASED


@pytest.mark.row("O9")
def test_what_is_not_asked_for_any_more_is_neither_signed_nor_begun_unsigned() -> None:
    site = site_with({"sign_offs": 0}, requirement=[requirement(CRANE, {"counted_h": 20, "at_c": 5})])
    story = ran(site, 25)
    assert story.state(CRANE) is S.MET
    story.case = replace(story.case, site=site_with({"sign_offs": 0}))
    story.round()
    for kind in ("sign", "under_way"):
        fields: dict[str, Any] = {"operations": [CRANE]} if kind == "sign" else {"operation": CRANE}
        with pytest.raises(ActRefusedError):
            story.press(kind, "qc", **fields)
