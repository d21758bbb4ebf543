"""No act of anybody stands for evidence: whatever is pressed on a young pour, nothing of it is released."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import Any, Final, get_args

import pytest
from cure_support import END_MS, Story
from gates_support import OTHER_MIX, ran, site_with
from hypothesis import example, given, settings
from hypothesis import strategies as st

from cure.gate import held
from shared.errors import ActRefusedError
from shared.models.acts import PourAct, PourStart, instant
from shared.models.base import HOUR_MS, STRIP, WALK
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import PERMITS, MessageKind
from shared.models.people import Role

S = GateState
YOUNG_H: Final = 10.0
"""Every plan wants 24 counted hours."""
SECOND: Final = {"second_person": "superintendent", "why": "asked for"}
ACTS: Final[list[tuple[str, dict[str, Any]]]] = [
    ("pour_end", {"happened": instant(END_MS - HOUR_MS // 2), **SECOND}),
    ("take_back", {"why": "wrong bay"}),
    ("sign", {"operations": ["strip"]}),
    ("sign", {"operations": ["strip", "walk", "load"]}),
    ("under_way", {"operation": "strip"}),
    ("done", {"operation": "strip"}),
    ("stop", {"why": "crack"}),
    ("hand_reading", {"temperature_c": 18.0, "position": "grid C4", "zone": "interior", "under_insulation": True}),
    ("forms_off", {}),
    *(("lift", {"hold": h, "surface_c": 20.0, "document": "letter 7", "why": "mine"}) for h in HoldKind),
    ("reopen", {"operation": "strip", "cause": "found"}),
    (
        "second_check",
        {"mix": "c32-f", "ticket": "7", "end": instant(END_MS), "loggers_alive": True, "plan_seen": True},
    ),
    ("mix", {"mix": OTHER_MIX, **SECOND}),
    ("test_result", {"method": "cylinder", "mpa": 90.0, "equivalent_age_h": 1.0, "last_third": True}),
    ("test_result", {"method": "pullout", "mpa": 90.0, "last_third": True, "position": "grid 7"}),
    ("want", {"operation": "strip", "wanted": instant(END_MS + 11 * HOUR_MS)}),
    ("cover", {"on": True}),
    ("cover", {"on": True, "happened": instant(END_MS)}),
    ("heat", {"on": True, "below_c": 30.0}),
    ("ticket", {"number": "7", "mix": "c32-f", "batched": instant(END_MS - HOUR_MS), "temperature_c": 30.0}),
]
ACTED_ON: Final = {S.RELEASED, S.UNDER_WAY, S.DONE}


def pressed(story: Story, kind: str, fields: dict[str, Any], who: str = "engineer") -> None:
    story.case = replace(story.case, withdrawal_confirmed={STRIP: True, WALK: True})
    with suppress(ActRefusedError):
        story.press(kind, who, **fields)


def test_every_act_on_a_pour_is_pressed() -> None:
    kinds = {act.model_fields["kind"].default for act in get_args(PourAct) if act is not PourStart}
    assert {kind for kind, _ in ACTS} == kinds


@pytest.mark.row("O7")
@pytest.mark.parametrize("sign_offs", [0, 1, 2])
@pytest.mark.parametrize("state", [s for s in S if s not in ACTED_ON])
def test_no_act_in_any_state_releases_what_is_not_met(state: GateState, sign_offs: int) -> None:
    young = ran(site_with({"sign_offs": sign_offs}), YOUNG_H)
    gates = {op: replace(g, state=state, signers=("qc",)) for op, g in young.case.gates.items()}
    # The engineer may do whatever anybody may.
    for kind, fields in ACTS:
        story = young.copy()
        story.case = replace(story.case, gates=gates)
        pressed(story, kind, fields)
        assert not {held(g) for g in story.case.gates.values()} & ACTED_ON, (kind, fields)
        assert not PERMITS & set(story.told()), (kind, fields)


@pytest.mark.row("O7")
@settings(deadline=None, max_examples=20)
@example([(("stop", {"why": "crack"}), Role.VIEWER), (("forms_off", {}), Role.CREW)], 0)
@given(st.lists(st.tuples(st.sampled_from(ACTS), st.sampled_from(Role)), max_size=12), st.integers(0, 2))
def test_no_row_of_acts_releases_what_is_not_met(
    row: list[tuple[tuple[str, dict[str, Any]], Role]], sign_offs: int
) -> None:
    story = ran(site_with({"sign_offs": sign_offs}), YOUNG_H)
    for (kind, fields), who in row:
        pressed(story, kind, fields, who.value)
        story.now_ms += 60_000
        assert not {held(g) for g in story.case.gates.values()} & (ACTED_ON | {S.MET})
    assert not PERMITS & set(story.told())


@pytest.mark.row("O7")
def test_what_was_done_without_a_release_is_recorded_as_that_and_told_as_a_withdrawal() -> None:
    story = ran(site_with(), YOUNG_H)
    story.press("forms_off", "crew")
    assert story.state() is S.DONE_WITHOUT_RELEASE
    told = story.messages[-1]
    assert (told.kind, told.facts["done"]) == (MessageKind.WITHDRAWAL, True)
    assert told.facts["cause"] == "forms found off without a release"


def test_covers_are_kept_from_when_to_when_and_a_second_tap_changes_nothing() -> None:
    story = Story()
    hours: list[list[int | None]] = []
    for on in (True, True, False, False, True):
        story.run((story.now_ms - END_MS) / HOUR_MS + 1.0)
        story.press("cover", on=on)
        hours = story.case.state.memory["covers"]
    first, second = hours
    assert first[1] is not None
    assert first[1] - (first[0] or 0) == 2 * HOUR_MS
    assert second[1] is None
