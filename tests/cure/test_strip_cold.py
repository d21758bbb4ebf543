"""What taking forms off in the cold does: told beside the signature, and a hold that a person lifts; it only shuts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, Story, make_case
from forecast_support import weather, work
from store_support import AIR

from alerts.wording import words
from cure.foresee import Asked, foresee
from cure.going_on import Earned
from cure.plans import PLANS
from cure.stripped import strip_is_near
from cure.work import Standing
from shared.models.acts import PourAct
from shared.models.base import HOUR_MS, LOAD, STRIP
from shared.models.decisions import GateState, HoldKind, Stripped
from shared.models.messages import Message, MessageKind
from shared.ports import PourCase

LIKELY, UNLIKELY = Stripped(0.34, -0.6, END_MS + 60 * HOUR_MS), Stripped(0.10, 2.0, None)


@dataclass
class Cold(Story):
    """A warm story of which it is foreseen what the strip would do."""

    stripped: Stripped | None = None

    def standing(self, act: PourAct | None) -> Standing:
        return replace(super().standing(act), stripped=self.stripped)


def case_of(memory: dict[str, Any] | None = None, **plan: Any) -> PourCase:
    case = make_case()
    site = case.site.model_copy(update={"plan": case.site.plan.model_copy(update=plan)})
    return replace(case, site=site, state=replace(case.state, memory=memory or {}))


def judged(stripped: Stripped | None, case: PourCase | None = None, c: float = 13.0) -> Cold:
    """Return a pour that is strong enough to strip, and has not 7 MPa yet."""
    story = Cold(case_of() if case is None else case, stripped=stripped)
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: c), AIR: lambda _: 2.0}
    story.run(30)
    return story


def test_likely_frost_after_the_strip_is_a_hold_told_with_reason_and_a_lifting_answers_for_12_h() -> None:
    held = judged(LIKELY)
    assert held.case.gates[STRIP].state is GateState.HOLD
    (hold,) = held.case.holds
    assert (hold.kind, hold.owner) == (HoldKind.STRIP_COLD, "engineer")
    made = next(m for m in held.messages if m.kind is MessageKind.HOLD)
    message = Message(1, made.kind, made.pour, made.subject, made.epoch, made.at_ms, None, made.facts)
    for language, said in (
        ("en", "34 % chance of 1.0 °C (33.8 °F) or colder before 7 MPa"),
        ("fr", "34 % de chances"),
        ("es", "34 % de probabilidad"),
    ):
        text = words(message, repeat=False, language=language).body
        assert said in text, text
        assert language == "en" or "by the forecast" not in text
    assert held.case.state.memory["stripped"]["coldest_c"] == -0.6

    held.press("lift", "engineer", hold="stripping in the cold", why="heaters on below")
    assert held.case.holds == ()
    held.run(32)
    assert held.case.gates[STRIP].state is GateState.MET
    wanted = next(m for m in held.messages if m.kind is MessageKind.SIGN_OFF_WANTED and m.subject == STRIP)
    sign = Message(2, wanted.kind, wanted.pour, wanted.subject, wanted.epoch, wanted.at_ms, None, wanted.facts)
    for language, said in (("en", "If the forms come off now"), ("fr", "décoffre maintenant"), ("es", "se desencofra")):
        text = words(sign, repeat=False, language=language).body
        assert said in text
        assert "-0.6 °C" in text


@pytest.mark.parametrize(
    ("stripped", "case"),
    [
        pytest.param(None, case_of(), id="nothing is foreseen"),
        pytest.param(UNLIKELY, case_of(), id="one in ten"),
        pytest.param(LIKELY, case_of({"heated": [[END_MS, None, 10.0]]}), id="heated below"),
        pytest.param(LIKELY, case_of(cold_strip="tell"), id="the site has it told alone"),
    ],
)
def test_else_the_gates_are_as_without_a_forecast(stripped: Stripped | None, case: PourCase) -> None:
    story = judged(stripped, case)
    assert story.case.holds == ()
    assert story.case.gates[STRIP].state is GateState.MET
    assert ("stripped" in story.case.state.memory) is (stripped is not None)
    wanted = next(m for m in story.messages if m.kind is MessageKind.SIGN_OFF_WANTED and m.subject == STRIP)
    assert ("stripped_percent" in wanted.facts) is (stripped is not None)


def test_without_forms_members_are_colder_and_what_is_warm_ahead_is_not_asked() -> None:
    plan, case = PLANS["common-practice"], make_case()
    sums = np.full(7, 14.0)
    earned = Earned(
        END_MS + 26 * HOUR_MS,
        {p.sensor: sums for p in work().points},
        {p.sensor: 9.0 for p in work().points},
        {5.0: 25.0, 10.0: 0.0},
    )
    said = []
    for air_c in (-4.0, 8.0):
        of = work(weather=weather(air_c, issued_ms=END_MS + 26 * HOUR_MS))
        one = Asked(of, earned, plan, case.calibration, case.mix, END_MS + 26 * HOUR_MS, members=40, may_strip=True)
        said.append(foresee([replace(one, horizon_h=72)])[0])
    cold, warm = said
    assert warm.stripped is None
    assert cold.stripped is not None
    assert cold.stripped.chance_cold > 0.5
    on = float(np.min(cold.said.coldest_c.middle))  # type: ignore[union-attr]  # a forecast
    assert cold.stripped.coldest_c <= on + 0.5
    asked: Any = replace(one, may_strip=False)
    assert not strip_is_near(asked, cold.said)  # type: ignore[arg-type]  # a forecast
    assert LOAD in plan
