"""When cold is told, and told again. The pour ended at 13:00 of a Monday; shifts run from 06:30 to 17:00."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from cure_support import CONCRETE, END_MS, Story, judged, make_case, recorded
from store_support import AIR

from cure.cold import delays as delays_of
from cure.cold import keep_forecast
from cure.foretold import Foretold
from cure.plans import in_force
from cure.work import ForeseenHours, Standing, Work
from shared.models.base import DAY_MS, HOUR_MS, LOAD, STRIP, WALK, Json, Ms, Operation
from shared.models.decisions import GateState
from shared.models.messages import MessageKind, NewMessage
from shared.ports import PourCase
from shared.shifts import running_or_next

TUESDAY_AFTERNOON = END_MS + 24 * HOUR_MS


def shift(at_ms: Ms) -> Ms:
    return running_or_next(at_ms, "06:30-17:00", "America/Halifax").begins_ms


TUESDAY, WEDNESDAY, THURSDAY = (shift(END_MS + days * DAY_MS) for days in (1, 2, 3))


def remembering(**memory: Json) -> PourCase:
    case = make_case()
    return replace(case, state=replace(case.state, memory={**case.state.memory, **memory}))


def story_of(
    *cold: tuple[float, float], wanted: dict[Operation, Ms] | None = None, c: float = 4.0, warm_c: float = 15.0
) -> Story:
    """Return a warm pour, but colder between some hours."""

    def profile(hours: float) -> float:
        return c if any(begin <= hours < end for begin, end in cold) else warm_c

    story = Story(make_case() if wanted is None else remembering(wanted=wanted))
    story.profile = {**dict.fromkeys(CONCRETE, profile), AIR: lambda _: 2.0}
    return story


def delays(story: Story) -> list[NewMessage]:
    return [m for m in story.messages if m.kind is MessageKind.COLD_DELAY]


def moves(story: Story) -> list[tuple[Any, ...]]:
    return [(m.facts["moved"], m.facts["from_shift_ms"], m.facts["to_shift_ms"]) for m in delays(story)]


def test_without_a_wanted_hour_it_is_told_once_against_the_plan_s_own() -> None:
    story = story_of((4, 10), (16, 30)).run(60)
    assert moves(story) == [("later", TUESDAY, None)]
    (told,) = delays(story)
    assert (told.subject, told.epoch) == (STRIP, 1)
    assert told.facts["wanted_ms"] is None
    assert told.facts["plan_ms"] == TUESDAY_AFTERNOON
    assert told.facts["expected_ms"] is None


def test_less_cold_than_moves_a_shift_is_not_told() -> None:
    # A quarter of an hour, then 14:00 instead of 13:00; two quarters, then 15:30.
    assert delays(story_of((2, 2.25), (6, 6.25), wanted={STRIP: TUESDAY_AFTERNOON}).run(30)) == []


@pytest.mark.parametrize(("to_h", "told"), [(4.5, 0), (4.75, 1)])
def test_it_must_have_stood_for_30_min_of_evidence(to_h: float, told: int) -> None:
    assert len(delays(story_of((4, to_h)).run(20))) == told


def test_a_shift_that_moves_is_told_and_again_when_it_moves_to_a_still_later_one() -> None:
    story = story_of((4, 10), (22, 46), wanted={STRIP: TUESDAY_AFTERNOON}).run(70)
    assert moves(story) == [
        ("later", TUESDAY, None),  # Monday evening, while it is cold
        ("later", TUESDAY, WEDNESDAY),  # warm again: the hour has a shift
        ("later", WEDNESDAY, None),  # cold again, and Wednesday can be kept no more
        ("later", TUESDAY, THURSDAY),
    ]
    assert [m.epoch for m in delays(story)] == [1, 2, 3, 4]
    assert [m.facts["expected_ms"] is None for m in delays(story)] == [True, False, True, False]


def test_cold_that_leaves_the_told_shift_in_reach_is_not_told_again() -> None:
    story = story_of((4, 10), (22, 34), wanted={STRIP: TUESDAY_AFTERNOON}).run(70)
    assert moves(story) == [("later", TUESDAY, None), ("later", TUESDAY, WEDNESDAY)]


def test_back_in_time_is_told_once() -> None:
    story = story_of((4, 7), wanted={STRIP: WEDNESDAY}).run(22)
    assert moves(story) == [("later", WEDNESDAY, None), ("back", None, TUESDAY)]
    assert delays(story)[1].facts["saves"] is None


def test_two_tellings_of_an_operation_are_six_hours_apart() -> None:
    # No more up and down than concrete can do.
    cold = ((4, 7), (8, 9), (10, 11), (12, 13))
    story = story_of(*cold, wanted={STRIP: WEDNESDAY}, c=4.9, warm_c=6.8).run(40)
    hours = [m.at_ms for m in delays(story)]
    assert len(hours) >= 2
    assert all(b - a >= 6 * HOUR_MS for a, b in pairwise(hours))
    assert len(hours) <= 40 / 6 + 1


def test_another_wanted_hour_begins_anew() -> None:
    story = story_of((4, 30), wanted={STRIP: TUESDAY_AFTERNOON}).run(6)
    assert len(delays(story)) == 1
    memory = {**story.case.state.memory, "wanted": {STRIP: TUESDAY_AFTERNOON + HOUR_MS}}
    story.case = replace(story.case, state=replace(story.case.state, memory=memory))
    story.run(20)
    assert [m.facts["wanted_ms"] for m in delays(story)] == [TUESDAY_AFTERNOON, TUESDAY_AFTERNOON + HOUR_MS]


def test_an_hour_wanted_before_the_plan_s_own_is_not_blamed_on_cold() -> None:
    early = story_of((4, 5.25), wanted={STRIP: END_MS + 3 * HOUR_MS}).run(30)
    # While it was cold no hour could be named; from the plan's shift on, and back to it.
    assert moves(early) == [("later", TUESDAY, None), ("back", None, TUESDAY)]


def test_walk_is_not_told_beside_strip_and_load_only_for_whom_wants_it() -> None:
    assert {m.subject for m in delays(story_of((4, 30)).run(40))} == {STRIP}
    wanted = {WALK: TUESDAY_AFTERNOON, LOAD: TUESDAY_AFTERNOON}
    told = delays(story_of((4, 30), wanted=wanted).run(40))
    assert {m.subject for m in told} == {STRIP, LOAD}
    load = next(m for m in told if m.subject == LOAD)
    assert load.facts["plan_ms"] is None


@pytest.mark.parametrize("state", sorted(GateState))
def test_nothing_is_told_of_a_gate_that_does_not_wait_for_its_evidence(state: GateState) -> None:
    story = story_of((4, 30)).run(4.25)
    case = story.case
    readings = {s: recorded(lambda h: 4.0 if h >= 4 else 15.0, 12) for s in CONCRETE}
    gates = {op: replace(gate, state=state) for op, gate in case.gates.items()}
    work = Work(
        case,
        judged(readings, 12, case),
        END_MS + 12 * HOUR_MS,
        gates,
        {},
        dict(case.state.memory),
        in_force(case.site, ()),
        Standing((), 12 * HOUR_MS),
    )
    delays_of(work)
    waits = state in {GateState.CURING, GateState.HOLD}
    assert [m.kind for m in work.messages] == [MessageKind.COLD_DELAY] * waits
    assert set(work.memory["expected"]) == (set(work.plan) if waits else set())


def test_a_cover_is_named_while_it_is_cold_and_none_lies_there() -> None:
    (told,) = delays(story_of((2, 30)).run(10))
    # Nobody has reckoned by how much.
    assert (told.facts["helps"], told.facts["saves"]) == ("cover", None)
    assert told.facts["saves_by_ms"] == running_or_next(told.at_ms, "06:30-17:00", "America/Halifax").ends_ms
    covered = story_of((2, 30))
    covered.case = remembering(covered=True)
    (told,) = delays(covered.run(10))
    assert [told.facts[name] for name in ("saves", "helps", "in_vain", "saves_by_ms")] == [None] * 4


def test_what_is_told_changes_no_gate() -> None:
    def gates(story: Story) -> list[Any]:
        return [r.gates for r in story.results]

    wanted = {STRIP: TUESDAY_AFTERNOON, LOAD: TUESDAY_AFTERNOON}
    assert gates(story_of((4, 10)).run(50)) == gates(story_of((4, 10), wanted=wanted).run(50))


def test_a_service_that_starts_again_tells_nothing_twice() -> None:
    story = story_of((4, 30), wanted={STRIP: TUESDAY_AFTERNOON}).run(10)
    before = len(delays(story))
    assert before == 1
    for _ in range(3):
        story.round()
    assert len(delays(story)) == before


def test_when_it_is_expected_is_kept_for_the_lists_while_it_waits() -> None:
    story = story_of((4, 10)).run(8)
    assert story.case.state.memory["expected"][STRIP] == {
        "expected_ms": None,
        "cautious_ms": None,
        "plan_ms": TUESDAY_AFTERNOON,
        "cause": "concrete below the limit: 4.2 h so far",
    }
    assert set(story.case.state.memory["expected"]) == {STRIP, WALK, LOAD}
    story.run(48)
    assert STRIP not in story.case.state.memory["expected"]


def test_a_forecast_is_kept_for_pages_with_its_chance_by_the_wanted_hour_while_it_waits() -> None:
    case = remembering(wanted={STRIP: END_MS + 30 * HOUR_MS}, forecast={"old": True})
    levels = tuple(END_MS + (20 + n) * HOUR_MS for n in range(40))
    hours = ForeseenHours(None, None, None, levels, {"strength": 1.0}, {"weather": 0.5})
    standing = Standing(foreseen={STRIP: hours, WALK: ForeseenHours(None, None)}, foretold=Foretold(("late",)))
    gates = {op: replace(gate, state=GateState.CURING) for op, gate in case.gates.items()}
    work = Work(case, judged({}, 12, case), END_MS, gates, {}, dict(case.state.memory), {}, standing)
    keep_forecast(work)
    kept = work.memory["forecast"]
    assert kept["notes"] == ["late"]
    # Of walk nothing is known but the hours.
    assert list(kept["hours"]) == [STRIP]
    strip = kept["hours"][STRIP]
    assert (strip["wanted_chance"], strip["waits_for"], strip["spread"]) == (0.11, {"strength": 1.0}, {"weather": 0.5})
    work.standing = Standing(foretold=Foretold(none="no weather; give some"))
    keep_forecast(work)
    assert work.memory["forecast"] == {"hours": {}, "notes": [], "none": "no weather; give some"}
    work.gates = {op: replace(gate, state=GateState.MET) for op, gate in work.gates.items()}
    keep_forecast(work)
    assert "forecast" not in work.memory
