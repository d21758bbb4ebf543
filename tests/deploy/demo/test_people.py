from __future__ import annotations

from dataclasses import replace

from demo_support import board_row

from deploy.demo.loggers import site
from deploy.demo.people import AGAIN_MS, ScriptedPeople
from deploy.demo.scenario import opening_acts, timed_acts, tuesday
from shared.models.acts import Act, Confirm, Done, Lift, Reopen, SecondCheck, Sign, UnderWay, ms
from shared.models.base import LOAD, MINUTE_MS, STRIP, WALK, PourId
from shared.models.decisions import GateState, Hold, HoldKind
from shared.models.messages import Message, MessageKind

NOON = tuesday(12)
BOTH_MET = {STRIP: GateState.MET, WALK: GateState.MET}


def people(surface_c: float = 4.0) -> ScriptedPeople:
    return ScriptedPeople(timed=(), measure=lambda _bay, _at: surface_c)


def minutes(n: int) -> int:
    return NOON + n * MINUTE_MS


def kinds(acts: list[Act]) -> list[str]:
    return [a.kind for a in acts]


def test_qc_signs_strip_and_walk_together_twenty_minutes_after_they_are_met() -> None:
    crowd, row = people(), board_row("2-b1-p1", BOTH_MET, changed_ms=NOON)
    assert crowd.acts([row], minutes(19)) == []
    (act,) = crowd.acts([row], minutes(20))
    assert isinstance(act, Sign)
    assert (act.who, act.operations, act.scripted) == ("qc", ("strip", "walk"), True)


def test_an_act_is_handed_in_once_and_again_only_after_half_an_hour_without_effect() -> None:
    crowd, row = people(), board_row("2-b1-p1", BOTH_MET, changed_ms=NOON)
    assert kinds(crowd.acts([row], minutes(20))) == ["sign"]
    assert crowd.acts([row], minutes(21)) == []
    assert kinds(crowd.acts([row], minutes(20) + AGAIN_MS)) == ["sign"]


def test_the_engineer_signs_the_load() -> None:
    row = board_row("2-b1-p1", {STRIP: GateState.DONE, LOAD: GateState.MET}, changed_ms=NOON)
    (act,) = people().acts([row], minutes(20))
    assert isinstance(act, Sign)
    assert (act.who, act.operations) == ("engineer", ("load",))


def test_nobody_signs_after_the_shift() -> None:
    row = board_row("2-b1-p1", BOTH_MET, changed_ms=tuesday(16, 50))
    crowd = people()
    assert crowd.acts([row], tuesday(17, 10)) == []
    assert kinds(crowd.acts([row], tuesday(24 + 6, 30))) == ["sign"]


def test_two_crews_strip_the_oldest_bays_and_the_third_waits() -> None:
    rows = [
        board_row("2-b3-p1", {STRIP: GateState.RELEASED}, changed_ms=NOON - 10 * MINUTE_MS),
        board_row("2-b2-p1", {STRIP: GateState.RELEASED}, changed_ms=NOON),
        board_row("2-b1-p1", {STRIP: GateState.RELEASED}, changed_ms=NOON),
    ]
    begun = people().acts(rows, minutes(45))
    assert [(a.kind, a.pour) for a in begun if isinstance(a, UnderWay)] == [
        ("under_way", "2-b1-p1"),
        ("under_way", "2-b2-p1"),
    ]
    assert people().acts(rows, minutes(34)) == []


def test_a_strip_is_done_after_ninety_minutes() -> None:
    row = board_row("2-b1-p1", {STRIP: GateState.UNDER_WAY}, changed_ms=NOON)
    assert people().acts([row], minutes(89)) == []
    (act,) = people().acts([row], minutes(90))
    assert isinstance(act, Done)


def test_no_strip_is_begun_that_would_not_end_within_the_shift() -> None:
    row = board_row("2-b1-p1", {STRIP: GateState.RELEASED}, changed_ms=NOON)
    assert people().acts([row], tuesday(15, 31)) == []
    assert kinds(people().acts([row], tuesday(15, 30))) == ["under_way"]


def test_a_suspected_freeze_is_lifted_at_night_by_a_warm_surface_only() -> None:
    night = tuesday(24)
    hold = Hold(HoldKind.FREEZE_SUSPECTED, night, "qc", "lg-18.1 cold", "measure the surface")
    row = board_row("3-b3-p1", holds=(hold,))
    (act,) = people().acts([row], night + 25 * MINUTE_MS)
    assert isinstance(act, Lift)
    assert act.surface_c == 4.0
    assert people(surface_c=1.0).acts([row], night + 25 * MINUTE_MS) == []


def test_a_second_suspicion_is_answered_anew() -> None:
    crowd, night = people(), tuesday(24)
    for since in (night, night + 10 * MINUTE_MS):
        hold = Hold(HoldKind.FREEZE_SUSPECTED, since, "qc", "cold", "measure")
        assert kinds(crowd.acts([board_row("3-b3-p1", holds=(hold,))], since + 25 * MINUTE_MS)) == ["lift"]


def test_nobody_lifts_a_freeze_lock() -> None:
    hold = Hold(HoldKind.FREEZE_LOCKED, NOON, "engineer", "frozen", "tests and a disposition")
    assert people().acts([board_row("3-b3-p1", holds=(hold,))], minutes(600)) == []


def test_qc_checks_a_pour_once_some_minutes_after_its_end_is_entered() -> None:
    crowd, row = people(), board_row("2-b1-p1", checked=False)
    late = crowd.rules.check_min
    assert crowd.acts([row], NOON) == []
    assert crowd.acts([row], minutes(late - 1)) == []
    (check,) = crowd.acts([row], minutes(late))
    assert isinstance(check, SecondCheck)
    assert (check.who, check.pour, check.mix, check.ticket, check.scripted) == (
        "qc",
        "2-b1-p1",
        "c32-f",
        "T-2-b1",
        True,
    )
    assert (ms(check.end), check.loggers_alive, check.plan_seen) == (row.pour.end_ms, True, True)
    assert crowd.acts([row], minutes(late + 1)) == []
    assert people().acts([board_row("2-b1-p1")], minutes(60)) == [], "it is checked already"


def test_a_later_end_is_checked_again_by_somebody_who_did_not_enter_it() -> None:
    crowd, row = people(), board_row("2-b3-p1")
    assert row.pour.end_ms is not None
    moved = replace(row.pour, end_ms=row.pour.end_ms + 3 * 60 * MINUTE_MS)
    entered = replace(row, pour=moved, state=replace(row.state, memory={**row.state.memory, "ended_by": "qc"}))
    assert crowd.acts([entered], NOON) == []
    (check,) = crowd.acts([entered], minutes(10))
    assert isinstance(check, SecondCheck)
    assert (check.who, ms(check.end)) == ("engineer", moved.end_ms)


def test_nothing_is_checked_before_an_end_is_entered() -> None:
    row = board_row("2-b1-p1", checked=False)
    assert people().acts([replace(row, pour=replace(row.pour, end_ms=None))], minutes(60)) == []


def test_a_withdrawal_is_confirmed_first_and_reopened_by_the_engineer_after() -> None:
    crowd = people()
    row = board_row("2-b3-p1", {STRIP: GateState.WITHDRAWN}, changed_ms=NOON)
    told = Message(7, MessageKind.WITHDRAWAL, PourId("2-b3-p1"), "strip", 1, NOON, None, {})
    (confirm,) = crowd.acts([row], minutes(10), [told])
    assert isinstance(confirm, Confirm)
    assert (confirm.who, confirm.message) == ("super", 7)
    (reopen,) = crowd.acts([row], minutes(30), [told])
    assert isinstance(reopen, Reopen)
    assert reopen.who == "engineer"


def test_the_crew_lead_confirms_a_keep_off_once() -> None:
    crowd, row = people(), board_row("2-b1-p1", {STRIP: GateState.UNDER_WAY}, changed_ms=NOON)
    told = Message(5, MessageKind.KEEP_OFF, PourId("2-b1-p1"), "strip", 1, NOON, None, {})
    assert crowd.acts([row], minutes(9), [told]) == []
    (confirm,) = crowd.acts([row], minutes(10), [told])
    assert isinstance(confirm, Confirm)
    assert (confirm.who, confirm.message) == ("crew-lead", 5)
    assert crowd.acts([row], minutes(80), [told]) == []


def test_a_withdrawal_of_an_earlier_release_is_not_confirmed_again() -> None:
    row = board_row("2-b3-p1", {STRIP: GateState.WITHDRAWN}, changed_ms=NOON, epoch=3)
    old = Message(7, MessageKind.WITHDRAWAL, PourId("2-b3-p1"), "strip", 1, NOON, None, {})
    assert people().acts([row], minutes(10), [old]) == []


def test_the_same_board_gives_the_same_acts_whatever_its_order() -> None:
    rows = [board_row(f"2-b{n}-p1", BOTH_MET, changed_ms=NOON) for n in (1, 2, 3)]
    assert people().acts(rows, minutes(20)) == people().acts(rows[::-1], minutes(20))


def test_an_act_with_an_hour_is_handed_in_once_at_that_hour() -> None:
    crowd = ScriptedPeople()
    (moved,) = timed_acts()
    assert crowd.acts([], moved.at_ms - 1) == []
    assert crowd.acts([], moved.at_ms) == [moved]
    assert crowd.acts([], moved.at_ms + 10 * AGAIN_MS) == []


def test_everybody_who_acts_is_in_the_site_file_and_marked_as_scripted() -> None:
    told = Message(7, MessageKind.WITHDRAWAL, PourId("2-b3-p1"), "strip", 1, NOON, None, {})
    rows = [
        board_row("2-b1-p1", BOTH_MET, changed_ms=NOON),
        board_row("2-b2-p1", {STRIP: GateState.UNDER_WAY, LOAD: GateState.MET}, changed_ms=NOON),
        board_row("2-b3-p1", {STRIP: GateState.WITHDRAWN}, changed_ms=NOON),
        replace(board_row("3-b3-p1"), holds=(Hold(HoldKind.FREEZE_SUSPECTED, NOON, "qc", "cold", "measure"),)),
    ]
    acts = [*opening_acts(), *timed_acts(), *people().acts(rows, minutes(100), [told])]
    assert {a.kind for a in acts} >= {"pour_start", "pour_end", "sign", "done", "confirm", "reopen", "lift"}
    assert all(a.scripted and site().person(a.who) is not None for a in acts)
