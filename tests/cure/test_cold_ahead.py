"""Cold that is foreseen: told before it is there, against the wanted hour, with its cause; and no gate reads it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, Story, make_case
from forecast_support import weather, work
from store_support import AIR, EDGE

from alerts.wording import words
from cure.cold_ahead import ColdAhead
from cure.forecast import Forecast
from cure.foresee import Asked, foresee
from cure.foretold import Foretold, Helps
from cure.going_on import Earned
from cure.plans import PLANS
from cure.work import ForeseenHours, Standing
from shared.models.acts import PourAct
from shared.models.base import DAY_MS, HOUR_MS, LOAD, STRIP, WALK, Ms
from shared.models.messages import Message, MessageKind

TIMES = END_MS + HOUR_MS // 2 * np.arange(241, dtype=np.int64)
WANTED = END_MS + 25 * HOUR_MS


def front(from_h: float, c: float = 3.0) -> ColdAhead:
    """Return concrete of 12 degC, and after some hours colder for ever."""
    return ColdAhead(TIMES, np.where(END_MS + from_h * HOUR_MS <= TIMES, c, 12.0))


@dataclass
class Ahead(Story):
    """A warm story with a forecast of when each operation comes, and of how cold it gets."""

    strip_ms: Ms | None = None
    cold: ColdAhead | None = None
    helps: Helps | None = None

    def standing(self, act: PourAct | None) -> Standing:
        hours = dict.fromkeys((STRIP, WALK, LOAD), ForeseenHours(self.strip_ms, self.strip_ms))
        return replace(super().standing(act), foreseen=hours, cold_ahead=self.cold, foretold=Foretold(helps=self.helps))


def told(strip_ms: Ms | None, cold: ColdAhead | None, hours: float = 1.5, helps: Helps | None = None) -> list[Message]:
    case = make_case()
    case = replace(case, state=replace(case.state, memory={"wanted": {STRIP: WANTED}}))
    story = Ahead(case, strip_ms=strip_ms, cold=cold, helps=helps)
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: 12.0), AIR: lambda _: 9.0}
    story.run(hours)
    made = [m for m in story.messages if m.kind is MessageKind.COLD_DELAY]
    return [Message(1, m.kind, m.pour, m.subject, m.epoch, m.at_ms, None, m.facts) for m in made]


def test_a_front_that_is_foreseen_is_told_while_the_concrete_is_warm_with_what_saves_the_hour() -> None:
    (message,) = told(END_MS + 2 * DAY_MS, front(8.0))
    assert WANTED - message.at_ms >= 20 * HOUR_MS
    assert message.facts["coldest_c"] == 12.0
    assert message.facts["helps"] == "cover"
    cause = str(message.facts["cause"])
    assert cause.startswith("concrete below the limit in ")
    assert cause.endswith(" h, by the forecast")
    for language, said in (("en", "by the forecast"), ("fr", "selon la prévision"), ("es", "según el pronóstico")):
        assert said in words(message, repeat=False, language=language).body


@pytest.mark.parametrize(
    ("left", "saves", "in_vain", "lines"),
    [
        ({"cover": WANTED, "heat": WANTED}, "cover", None, ("What would save it: cover by ", "Ce qui l'éviterait : ")),
        ({"cover": WANTED + DAY_MS, "heat": WANTED}, "heat", None, ("What would save it: heat by ", "chauffer avant ")),
        (
            {"cover": WANTED + DAY_MS, "cover and heat": None},
            *(None, ["cover", "cover and heat"]),
            ("Reckoned, and not enough to save it: cover, cover and heat", "insuffisant pour l'éviter : couvrir, "),
        ),
    ],
)
def test_what_saves_the_hour_is_what_was_reckoned_to_and_what_does_not_is_said_too(
    left: dict[str, Ms | None], saves: str | None, in_vain: list[str] | None, lines: tuple[str, str]
) -> None:
    by_ms = END_MS + 4 * HOUR_MS
    helps = Helps(by_ms, {act: {STRIP: at_ms} for act, at_ms in left.items()}, 0.2, 10.0)
    (message,) = told(END_MS + 2 * DAY_MS, front(8.0), helps=helps)
    assert [message.facts[name] for name in ("saves", "in_vain", "helps")] == [saves, in_vain, None]
    assert message.facts["saves_by_ms"] == (None if saves is None else by_ms)
    for language, said in zip(("en", "fr"), lines, strict=True):
        assert said in words(message, repeat=False, language=language).body
    with_ = "Reckoned with a cover of R 0.2 m2K/W, the space below heated to 10.0 °C (50.0 °F)"
    assert with_ in words(message, repeat=False).body


def test_where_a_sensor_is_silent_and_nothing_else_saves_it_its_logger_is_to_be_mended() -> None:
    case = make_case()
    case = replace(case, state=replace(case.state, memory={"wanted": {STRIP: WANTED}}))
    helps = Helps(END_MS + 4 * HOUR_MS, {}, 0.2, 10.0)
    story = Ahead(case, strip_ms=END_MS + 2 * DAY_MS, cold=front(8.0), helps=helps)
    story.profile = {**dict.fromkeys(CONCRETE, lambda _: 12.0), AIR: lambda _: 9.5}
    story.run(0.25)
    story.silent = {EDGE}
    story.run(3.0)
    (message,) = [m for m in story.messages if m.kind is MessageKind.COLD_DELAY]
    assert [message.facts[name] for name in ("saves", "in_vain", "helps")] == [None, [], "mend the silent logger"]
    # Nothing was reckoned: both lie there already.
    assert message.facts["help_below_c"] is None
    said = Message(1, message.kind, message.pour, message.subject, message.epoch, message.at_ms, None, message.facts)
    assert "What would help: mend the silent logger by " in words(said, repeat=False).body
    assert "Reckoned" not in words(said, repeat=False).body


def test_what_was_reckoned_for_a_shift_that_is_over_is_not_said_of_the_next() -> None:
    helps = Helps(END_MS + HOUR_MS // 4, {"cover": {STRIP: WANTED}}, 0.2, 10.0)
    (message,) = told(END_MS + 2 * DAY_MS, front(8.0), helps=helps)
    assert (message.facts["saves"], message.facts["helps"]) == (None, "cover")
    assert "What would help: cover by " in words(message, repeat=False).body


@pytest.mark.parametrize(
    ("strip_ms", "cold"),
    [
        pytest.param(END_MS + 2 * DAY_MS, None, id="nothing is said of cold"),
        pytest.param(END_MS + 2 * DAY_MS, front(60.0), id="cold comes after the expected hour"),
        pytest.param(END_MS + 25 * HOUR_MS, front(8.0), id="the expected hour is in the wanted shift"),
        pytest.param(None, front(8.0, c=5.0), id="it stays at the limit"),
    ],
)
def test_what_is_not_foreseen_as_cold_or_not_late_is_not_told(strip_ms: Ms | None, cold: ColdAhead | None) -> None:
    assert told(strip_ms, cold) == []


def test_no_hour_in_sight_and_cold_ahead_is_told_without_an_hour() -> None:
    (message,) = told(None, front(8.0))
    assert message.facts["expected_ms"] is None


def test_cold_counts_from_an_hour_of_it_on_and_what_is_no_number_is_cold() -> None:
    assert front(8.0).from_ms(5.0, None) == END_MS + 8 * HOUR_MS
    assert front(8.0).from_ms(5.0, END_MS + 8 * HOUR_MS + HOUR_MS // 2) is None
    assert ColdAhead(TIMES, np.full(len(TIMES), np.nan)).from_ms(5.0, None) == END_MS


def test_a_forecast_says_from_when_its_middle_is_cold() -> None:
    one = Asked(work(weather=weather(1.0)), Earned(END_MS), PLANS["common-practice"], None, make_case().mix, END_MS)
    (found,) = foresee([replace(one, members=20, horizon_h=36)])
    assert isinstance(found.said, Forecast)
    from_ms = ColdAhead(found.said.times_ms, found.said.governing_c.middle).from_ms(5.0, None)
    assert from_ms is not None
    assert END_MS < from_ms < END_MS + DAY_MS
