"""What is watched beside strength, by little stories through the pure core."""

from __future__ import annotations

import pytest
from cure_support import CONCRETE, END_MS, Story
from store_support import AIR, EDGE

from shared.errors import ActRefusedError
from shared.models.base import HOUR_MS
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import MessageKind

S = GateState


def test_freezing_is_suspected_told_held_and_lifted_by_a_measured_surface() -> None:
    story = Story()
    story.profile = {**dict.fromkeys(CONCRETE, lambda h: 2.5 if h >= 6 else 15.0), AIR: lambda _: 0.0}
    story.run(7)
    assert story.state() is S.HOLD
    assert MessageKind.FREEZE_SUSPECTED in story.told()
    with pytest.raises(ActRefusedError, match="surface"):
        story.press("lift", hold="freeze suspected", why="looks fine")
    story.press("lift", hold="freeze suspected", surface_c=2.0, why="measured")
    assert story.state() is S.CURING
    story.run(10)
    assert story.state() is S.CURING
    story.run(12)
    assert story.state() is S.HOLD  # 4 h after the measurement, still so cold


@pytest.mark.row("E11")
@pytest.mark.parametrize(("c", "locked"), [(0.5, True), (0.501, False), (-3.0, True)])
def test_half_a_degree_before_3_5_mpa_locks_the_pour(c: float, locked: bool) -> None:
    def cold(hours: float) -> float:
        return c if 5 <= hours < 6 else 15.0

    story = Story()
    story.profile = {**story.profile, EDGE: cold}
    story.run(7)
    assert any(h.kind is HoldKind.FREEZE_LOCKED for h in story.case.holds) is locked
    if locked:
        with pytest.raises(ActRefusedError, match="engineer"):
            story.press("lift", hold="freeze locked", document="d.pdf", why="x")
        story.press("lift", "engineer", hold="freeze locked", document="d.pdf", why="cores tested")
        assert not any(h.kind is HoldKind.FREEZE_LOCKED for h in story.case.holds)


def test_cold_after_3_5_mpa_is_no_freezing_doubt() -> None:
    story = Story()
    story.profile = {**story.profile, EDGE: lambda h: 0.0 if h >= 40 else 18.0}
    story.run(45)
    assert story.case.holds == ()


@pytest.mark.row("L10")
def test_conflicting_readings_more_than_a_degree_apart_hold_the_pour() -> None:
    story = Story().run(10)
    story.conflict(EDGE, END_MS + HOUR_MS, 17.0, 18.0)
    story.round()
    assert [*story.case.holds] == []
    story.conflict(EDGE, END_MS + HOUR_MS, 16.9, 18.0)
    story.round()
    assert {h.kind for h in story.case.holds} == {HoldKind.CONFLICT}
