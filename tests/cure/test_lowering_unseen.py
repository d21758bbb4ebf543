"""A requirement lowered, or sensors taken away, while nothing can be read of the old ones."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cure_support import Story, placed, warm
from gates_support import requirement

from cure.assess import assess
from cure.work import Standing
from shared.models.base import HOUR_MS
from shared.models.decisions import HoldKind
from shared.models.setup import Zone


def is_held(story: Story) -> bool:
    return HoldKind.REQUIREMENT_LOWERED in {h.kind for h in story.case.holds}


@pytest.mark.row("O14", "S6")
def test_a_round_without_readings_does_not_take_an_easier_requirement_for_the_old_one() -> None:
    story = warm(10)
    eased = story.case.site.model_copy(update={"requirement": (requirement("strip", {"lower_bound_mpa": 2.0}),)})
    story.case = replace(story.case, site=eased)
    blind = assess(story.case, {}, story.now_ms, standing=Standing(("a store is in doubt",), 10 * HOUR_MS))
    # The service keeps the memory of such a round, and of its holds nothing.
    story.case = replace(story.case, state=replace(story.case.state, memory=blind.state.memory))
    story.round()
    assert is_held(story)


@pytest.mark.row("O13", "O14")
def test_all_required_sensors_replaced_at_once_are_noticed() -> None:
    story = warm(10)
    ended = tuple(replace(p, to_ms=story.now_ms) for p in story.case.placements)
    new = placed("lg-77.1", Zone.INTERIOR, from_ms=story.now_ms)
    story.case = replace(story.case, placements=(*ended, new))
    story.round()
    assert is_held(story)
