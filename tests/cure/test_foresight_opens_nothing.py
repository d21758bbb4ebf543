"""A forecast is told, and opens nothing: one pour judged without one, with "met now", and with no hour in sight."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import pytest
from cure_support import CONCRETE, END_MS, Story, make_case
from store_support import AIR

from cure import foretold
from cure.work import ForeseenHours, Standing
from shared.models.acts import PourAct
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK
from shared.models.decisions import GateState
from shared.models.messages import MessageKind

TOLD = ("expected", "delay", "forecast")
"""What of a pour's memory an expected hour is in: it is shown, and no gate reads it."""


@dataclass
class Foretold(Story):
    """A story of which every operation is foreseen in so many hours; NaN: none is in sight."""

    in_h: float | None = None

    def standing(self, act: PourAct | None) -> Standing:
        if self.in_h is None:
            return super().standing(act)
        hour = None if math.isnan(self.in_h) else self.now_ms + round(self.in_h * HOUR_MS)
        levels = () if hour is None else (hour,) * 100
        hours = ForeseenHours(hour, hour, hour, levels, {"strength": 1.0}, {"weather": 1.0})
        helps = foretold.Helps(self.now_ms + HOUR_MS, {"cover": dict.fromkeys((STRIP, LOAD), hour)}, 0.2, 10.0)
        told = foretold.Foretold(("it is wide",), helps=helps)
        return replace(super().standing(act), foreseen=dict.fromkeys((STRIP, WALK, LOAD), hours), foretold=told)


def judged(in_h: float | None) -> Foretold:
    """Return a pour that was cold for a while, then met, signed and released, then found too cold."""

    def profile(hours: float) -> float:
        return 3.8 if 4 <= hours < 8 else 16.0

    case = make_case()
    wanted = {STRIP: END_MS + 20 * HOUR_MS, LOAD: END_MS + 40 * HOUR_MS}
    case = replace(case, state=replace(case.state, memory={"wanted": wanted}))
    story = Foretold(case, in_h=in_h)
    story.profile = {**dict.fromkeys(CONCRETE, profile), AIR: lambda _: 2.0}
    story.run(12)
    story.press("cover", "super", on=True)
    story.run(30)
    if story.state() is GateState.MET:
        story.press("sign", operations=["strip"])
    story.run(31)
    return story


def decided(story: Story) -> str:
    """Return every byte of what was decided in every round, but the hours that are told."""
    found = []
    for result in story.results:
        memory = {k: v for k, v in result.state.memory.items() if k not in TOLD}
        messages = [m for m in result.messages if m.kind is not MessageKind.COLD_DELAY]
        state = replace(result.state, memory=memory)
        found.append(repr((result.gates, result.holds, result.pour, state, messages, result.log, result.snapshots)))
    return "\n".join(found)


@pytest.fixture(scope="module")
def without() -> Foretold:
    return judged(None)


@pytest.mark.parametrize("in_h", [0.0, float("nan")])
def test_whatever_is_foreseen_gates_and_releases_are_the_same_bytes(without: Foretold, in_h: float) -> None:
    found = judged(in_h)
    assert without.state() in {GateState.MET, GateState.RELEASED}
    assert decided(found) == decided(without)
    shown: dict[str, Any] = dict(found.case.state.memory["expected"])
    expected = None if math.isnan(in_h) else found.now_ms + round(in_h * HOUR_MS)
    assert shown[LOAD]["expected_ms"] == expected
    assert found.case.state.memory["forecast"]["hours"][LOAD]["wanted_chance"] == (0.0 if expected is None else 1.0)
    told = [[r.state.memory["expected"] for r in story.results] for story in (found, without)]
    assert told[0] != told[1]
