"""Tickets: what is odd on one holds the pour until a person answers for it; none makes anything earlier."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from cure_support import END_MS, Story, at
from gates_support import OTHER_MIX, SLOW, ran, site_with, told_of

from cure.tickets import MOST, doubts_about, of
from shared.errors import ActRefusedError
from shared.models.acts import instant
from shared.models.base import HOUR_MS, MINUTE_MS, STRIP, Ms
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import MessageKind
from shared.ports import Result

S = GateState
SITE = site_with()
BATCHED_MS = END_MS - 50 * MINUTE_MS
DOSE = "1.0 % accelerator"


def story_at(hours: float) -> Story:
    story = ran(SITE, hours)
    assert story.case.calibration is not None
    calibration = story.case.calibration.model_copy(update={"dose_class": DOSE})
    story.case = replace(story.case, calibration=calibration)
    return story


def enter(story: Story, number: str = "48113", who: str = "crew", **fields: Any) -> Result:
    said: dict[str, Any] = {"mix": "c32-f", "batched": instant(BATCHED_MS), "placed": instant(END_MS - 5 * MINUTE_MS)}
    return story.press("ticket", who, number=number, **(said | fields))


def test_an_ordinary_ticket_is_kept_and_doubts_nothing() -> None:
    story = story_at(2)
    said: dict[str, Any] = {"dose_class": "1.0 %  Accelerator", "water_l": 20.0, "withheld_l": 20.0, "air_percent": 6.5}
    result = enter(story, air_wanted_percent=5.0, temperature_c=14.0, place="grid C4", **said)
    assert result.holds == ()
    (ticket,) = of(story.case.state.memory)
    assert (ticket["number"], ticket["who"], ticket["place"], ticket["batched_ms"]) == (
        "48113",
        "crew",
        "grid C4",
        BATCHED_MS,
    )


ODD: list[tuple[dict[str, Any], str]] = [
    ({"mix": OTHER_MIX}, "the ticket 48113 says c25, c32-f was entered"),
    ({"dose_class": "none"}, f"ticket 48113: dose class none, calibrated for {DOSE}"),
    ({"water_l": 0.5}, "ticket 48113: 0.5 l (0.1 gal) of water added, 0.0 l (0.0 gal) held back at the plant"),
    (
        {"water_l": 40.0, "withheld_l": 30.0},
        "ticket 48113: 40.0 l (10.5 gal) of water added, 30.0 l (7.9 gal) held back at the plant",
    ),
    ({"batched": instant(END_MS - 96 * MINUTE_MS)}, "ticket 48113: 91 min from batching to placing"),
    ({"temperature_c": 35.5}, "ticket 48113: concrete at 35.5 °C (95.9 °F)"),
    ({"temperature_c": 4.5}, "ticket 48113: concrete at 4.5 °C (40.1 °F)"),
    (
        {"air_percent": 6.6, "air_wanted_percent": 5.0},
        "ticket 48113: 6.6 % of air, 5 % ordered",
    ),
    (
        {"placed": instant(END_MS + 16 * MINUTE_MS)},
        "ticket 48113: placed 16 min after the end of the pour that was entered",
    ),
]


@pytest.mark.parametrize(("odd", "reason"), ODD, ids=lambda one: one if isinstance(one, str) else "")
def test_what_is_odd_on_a_ticket_is_a_hold_of_qc_that_says_what(odd: dict[str, Any], reason: str) -> None:
    story = story_at(2)
    (hold,) = enter(story, **odd).holds
    assert (hold.kind, hold.owner, hold.reason) == (HoldKind.TICKET, "qc", reason)
    assert told_of(story, MessageKind.HOLD)[-1].facts["reason"] == reason


def test_an_odd_ticket_shuts_what_was_met_and_a_person_lifts_it_once_for_what_it_said() -> None:
    story = at(S.MET)
    enter(story, water_l=20.0)
    with pytest.raises(ActRefusedError, match="nothing to sign"):
        story.press("sign", "qc", operations=[STRIP])
    story.run(25.25)
    assert story.state(STRIP) is S.HOLD
    story.press("lift", "qc", hold="ticket in doubt", why="three cylinders of that truck at 105 %")
    story.run(26.25)
    assert (story.case.holds, story.state(STRIP)) == ((), S.MET)
    # The same ticket said worse is a doubt of its own.
    assert enter(story, water_l=80.0).holds[0].reason.startswith("ticket 48113: 80.0 l")


def test_every_doubt_says_how_much_so_that_an_answer_is_for_that_alone() -> None:
    story = story_at(2)
    for late in (16, 40):
        odd: dict[str, Any] = {"placed": instant(END_MS + late * MINUTE_MS), "batched": instant(END_MS)}
        (hold,) = enter(story, **odd).holds
        assert f"placed {late} min after" in hold.reason
        story.press("lift", "qc", hold="ticket in doubt", why="two trucks waited at the gate")


def test_what_comes_while_the_hold_stands_is_a_doubt_after_it() -> None:
    story = story_at(2)
    enter(story, water_l=20.0)
    enter(story, "2", temperature_c=40.0)
    story.press("lift", "qc", hold="ticket in doubt", why="tested")
    story.run(2.5)
    assert [h.reason for h in story.case.holds] == ["ticket 2: concrete at 40.0 °C (104.0 °F)"]


def test_another_calibration_or_end_makes_a_doubt_of_a_ticket_that_was_none() -> None:
    story = story_at(2)
    enter(story, dose_class=DOSE)
    (ticket,) = of(story.case.state.memory)
    assert list(doubts_about(ticket, story.case)) == []
    assert list(doubts_about(ticket, replace(story.case, calibration=SLOW))) == []
    slow = SLOW.model_copy(update={"dose_class": "none"})
    assert len(list(doubts_about(ticket, replace(story.case, calibration=slow)))) == 1
    story.case = replace(story.case, pour=replace(story.case.pour, end_ms=END_MS - 40 * MINUTE_MS))
    assert len(story.round().holds) == 1


def test_the_same_number_takes_the_place_of_what_was_entered_and_lifts_nothing() -> None:
    story = story_at(2)
    enter(story, temperature_c=40.0)
    assert len(enter(story, temperature_c=14.0).holds) == 1
    enter(story, "48112", placed=instant(END_MS - 30 * MINUTE_MS))
    assert [t["number"] for t in of(story.case.state.memory)] == ["48112", "48113"]


def test_a_hold_names_three_doubts_and_counts_the_others() -> None:
    story = story_at(2)
    odd: dict[str, Any] = {"mix": OTHER_MIX, "dose_class": "none", "water_l": 5.0, "temperature_c": 40.0}
    (hold,) = enter(story, **odd).holds
    assert hold.reason.endswith("; 1 more on the tickets")
    story.press("lift", "qc", hold="ticket in doubt", why="tested")
    assert story.run(2.5).case.holds == ()


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"mix": "c99"}, "no mix 'c99'"),
        ({"batched": instant(END_MS)}, "batched before it is placed"),
        ({"batched": instant(END_MS - 14 * HOUR_MS)}, "batched before it is placed"),
        ({"placed": instant(END_MS + 9 * HOUR_MS)}, "not in the future"),
        ({"batched": instant(END_MS - 3 * HOUR_MS), "placed": instant(END_MS - 2 * HOUR_MS)}, "before its start"),
        ({"who": "viewer"}, "takes one of"),
    ],
)
def test_a_ticket_that_cannot_be_is_refused(fields: dict[str, Any], why: str) -> None:
    with pytest.raises(ActRefusedError, match=why):
        enter(story_at(2), **fields)


def test_there_is_an_end_to_the_tickets_of_a_pour() -> None:
    story = story_at(2)
    enter(story)
    (one,) = of(story.case.state.memory)
    many = [{**one, "number": str(n)} for n in range(MOST)]
    story.case = replace(story.case, state=replace(story.case.state, memory={"tickets": many}))
    with pytest.raises(ActRefusedError, match=str(MOST)):
        enter(story)
    late: Ms = END_MS + MINUTE_MS
    enter(story, "0", placed=instant(late))
    assert len(of(story.case.state.memory)) == MOST
