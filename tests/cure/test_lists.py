"""What the morning list and the handover say of a site."""

from __future__ import annotations

from dataclasses import replace

import pytest
from days_support import Rows, released, shown_row
from store_support import OTHER_BAY, POUR, T0, make_message

from cure import lists
from shared.models.base import DAY_MS, HOUR_MS, LOAD, STRIP, WALK, Json, RecipientId
from shared.models.decisions import (
    Doubt,
    DoubtKind,
    Finding,
    GateState,
    Hold,
    HoldKind,
    Verdict,
)
from shared.models.messages import Delivery, DeliveryState, MessageKind

S, D = GateState, DeliveryState
NOW = T0 + DAY_MS


def shown(rows: Rows) -> lists.Shown:
    return lists.Shown(rows.the_site, rows.rows, rows.told, rows.sent, rows.open_doubts)


def delivered(message: int, *states: DeliveryState) -> list[Delivery]:
    people = ("super", "qc", "engineer")
    return [
        Delivery(10 * message + i, message, RecipientId(who), 0, state)
        for i, (who, state) in enumerate(zip(people, states, strict=False))
    ]


def test_what_is_released_and_not_done_is_listed_as_its_message_told_it() -> None:
    rows = Rows(rows=[shown_row(strip=S.DONE, walk=S.UNDER_WAY, load=S.RELEASED, start_ms=T0)])
    released(rows, operation=LOAD, at_ms=T0 + HOUR_MS, load_kpa=1.0)
    listed = lists.morning(shown(rows))["released"]
    common = {"bay": "2-b1", "pour": POUR, "exclusions": "none"}
    assert listed == [
        {**common, "operation": WALK, "since_ms": None, "load_kpa": None},
        {**common, "operation": LOAD, "since_ms": T0 + HOUR_MS, "load_kpa": 1.0},
    ]


def test_the_release_of_an_earlier_epoch_is_not_the_one_that_holds() -> None:
    row = shown_row(load=S.RELEASED, start_ms=T0)
    row = replace(row, gates={**row.gates, LOAD: replace(row.gates[LOAD], epoch=2, changed_ms=NOW)})
    rows = Rows(rows=[row])
    released(rows, operation=LOAD, at_ms=T0, load_kpa=5.0)
    assert [(r["since_ms"], r["load_kpa"]) for r in lists.released(shown(rows))] == [(NOW, None)]


@pytest.mark.parametrize("state", sorted(set(S) - {S.RELEASED, S.UNDER_WAY}))
def test_nothing_else_is_called_released(state: GateState) -> None:
    rows = Rows(rows=[shown_row(strip=state)])
    assert lists.released(shown(rows)) == []


def test_what_waits_is_listed_by_its_hour_with_its_cause() -> None:
    def looks(strip: int | None, cause: str = "") -> dict[str, Json]:
        return {"expected": {STRIP: {"expected_ms": strip, "plan_ms": None, "cause": cause}}}

    failed = Verdict(STRIP, (), False, (Finding("counted hours", 3.0, 24.0, "h", False),))
    missing = Verdict(LOAD, ("the engineer's construction load",), False, ())
    rows = Rows(
        rows=[
            shown_row("cold", memory=looks(None, "concrete below the limit: 4.2 h so far"), walk=S.DONE, load=S.DONE),
            shown_row("later", memory=looks(NOW + HOUR_MS), verdicts=(failed,), walk=S.DONE, load=S.DONE),
            shown_row("soon", memory=looks(NOW), verdicts=(failed,), walk=S.DONE, load=S.DONE),
            shown_row("met", strip=S.MET, memory=looks(NOW), walk=S.DONE, load=S.DONE),
            shown_row("bare", strip=S.DONE, walk=S.DONE, load=S.NOT_SET_UP, verdicts=(missing,)),
            shown_row("new", walk=S.DONE, load=S.DONE),
        ]
    )
    listed = lists.morning(shown(rows))["expected"]
    assert [(e["pour"], e["expected_ms"], e["cause"]) for e in listed] == [
        ("soon", NOW, "counted hours"),
        ("later", NOW + HOUR_MS, "counted hours"),
        ("cold", None, "concrete below the limit: 4.2 h so far"),
        ("met", None, "requirement met, not signed"),
        ("bare", None, "the engineer's construction load"),
        ("new", None, "not judged yet"),
    ]


@pytest.mark.parametrize("state", sorted(S))
def test_no_gate_is_in_two_blocks_and_none_that_is_not_done_is_in_none(state: GateState) -> None:
    hold = Hold(HoldKind.CONFLICT, T0, "qc", "two readings", "look")
    rows = Rows(rows=[shown_row(strip=state, walk=S.DONE, load=S.DONE, holds=(hold,) if state is S.HOLD else ())])
    facts = lists.morning(shown(rows))
    blocks = [len(facts[key]) for key in ("released", "expected", "look_first")]
    assert sum(blocks) == (0 if state is S.DONE else 1)


def test_doubts_shut_gates_and_holds_with_their_owner_are_to_be_looked_at_first() -> None:
    hold = Hold(HoldKind.FREEZE_LOCKED, T0, "engineer", "lg-01.1 at 0.4 °C", "direct tests")
    row = shown_row(strip=S.WITHDRAWN, walk=S.SUSPENDED, load=S.HOLD, holds=(hold,))
    row = replace(row, gates={**row.gates, STRIP: replace(row.gates[STRIP], reason="STOP pressed")})
    rows = Rows(rows=[row], open_doubts=[Doubt(DoubtKind.CLOCK, T0, "it was set by 2 h")])
    assert lists.morning(shown(rows))["look_first"] == [
        "clock in doubt: it was set by 2 h",
        f"bay 2-b1, pour {POUR}, strip: withdrawn: STOP pressed",
        f"bay 2-b1, pour {POUR}, walk: suspended",
        f"bay 2-b1, pour {POUR}, freeze locked: owner engineer: lg-01.1 at 0.4 °C",
    ]


def test_the_next_shift_takes_over_what_is_under_way_held_and_not_delivered() -> None:
    hold = Hold(HoldKind.CONFLICT, T0, "qc", "two readings", "look")
    rows = Rows(
        rows=[
            shown_row(strip=S.UNDER_WAY),
            shown_row("2-b2-p1", OTHER_BAY, strip=S.HOLD, holds=(hold,)),
        ],
        open_doubts=[Doubt(DoubtKind.LOG, T0, "line 7")],
    )
    facts = lists.handover(shown(rows), NOW)
    assert facts["under_way"] == [f"bay 2-b1, pour {POUR}, strip"]
    assert [r["operation"] for r in facts["released"]] == [STRIP]
    assert facts["holds"] == ["bay 2-b2, pour 2-b2-p1, conflicting readings: owner qc: two readings"]
    assert facts["look_first"] == ["log in doubt: line 7"]
    assert [(e["pour"], e["operation"]) for e in facts["expected"]] == [
        (POUR, WALK),
        (POUR, LOAD),
        ("2-b2-p1", WALK),
        ("2-b2-p1", LOAD),
    ]


@pytest.mark.parametrize(
    ("kind", "age_ms", "states", "line"),
    [
        (MessageKind.WITHDRAWAL, 9 * DAY_MS, (D.ACCEPTED, D.ESCALATED), "nobody has confirmed it"),
        (MessageKind.KEEP_OFF, 0, (D.QUEUED,), "nobody has confirmed it"),
        (MessageKind.WITHDRAWAL, 0, (D.CONFIRMED, D.ESCALATED), None),
        (MessageKind.RELEASED, DAY_MS, (D.ESCALATED, D.ACCEPTED, D.UNSURE), "super escalated, engineer unsure"),
        (MessageKind.RELEASED, DAY_MS + 1, (D.ESCALATED, D.UNSURE), None),
        (MessageKind.HOLD, 0, (D.REFUSED, D.WAITING), "super refused"),
        (MessageKind.HOLD, 0, (D.ACCEPTED, D.SUPERSEDED), None),
    ],
)
def test_a_delivery_is_handed_over_when_it_needs_a_person(
    kind: MessageKind, age_ms: int, states: tuple[DeliveryState, ...], line: str | None
) -> None:
    rows = Rows()
    rows.tell(make_message(kind, at_ms=NOW - age_ms, bay="2-b1"))
    rows.sent += delivered(1, *states)
    of = f"no. 1, {kind}, bay 2-b1, pour {POUR}: "
    assert lists.handover(shown(rows), NOW)["deliveries"] == ([] if line is None else [of + line])
