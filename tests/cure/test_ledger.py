"""The ledger of a site, from a story through the pure core and from single rows."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, cast

import pytest
from cure_support import CONCRETE, END_MS, Story, make_case, site_of_all
from days_support import Rows, released, shown_row
from store_support import AIR, BAY, OTHER_BAY, POUR, T0, make_message, make_start

from cure.ledger import Row, Total, bay_totals, ledger, lines, totals
from cure.lost import Lost
from shared.models.acts import Want
from shared.models.base import DAY_MS, HOUR_MS, LOAD, STRIP, WALK, RecipientId
from shared.models.decisions import GateState
from shared.models.messages import Delivery, DeliveryState, MessageKind
from shared.ports import BoardBook

S = GateState


def of(rows: Rows) -> dict[str, Row]:
    """Return the ledger's rows by pour and operation."""
    return {f"{r.pour} {r.operation}": r for r in ledger(cast("BoardBook", rows))}


def want(at_ms: int, operation: str = STRIP) -> Want:
    now = datetime.fromtimestamp(T0 / 1000, UTC)
    return Want(at=now, who="super", pour=POUR, operation=operation, wanted=datetime.fromtimestamp(at_ms / 1000, UTC))


@pytest.fixture(scope="module")
def told() -> tuple[Story, Rows]:
    """A pour that was cold for six hours, told, released, stripped; and what the site book keeps of it."""

    def profile(hours: float) -> float:
        return 4.0 if 4 <= hours < 10 else 15.0

    story = Story(make_case(site_of_all()))
    story.profile = {**dict.fromkeys(CONCRETE, profile), AIR: lambda _: 2.0}

    def wait(hours: float) -> None:
        story.run((story.now_ms - END_MS) / HOUR_MS + hours)

    while story.state() is not S.MET:
        wait(0.25)
    wait(1)
    story.press("sign", operations=[STRIP])
    wait(1)
    story.press("under_way", "crew", operation=STRIP)
    wait(1)
    story.press("done", "crew", operation=STRIP)
    rows = Rows(done=[make_start()], entries=[entry for r in story.results for entry in r.log])
    for message in story.messages:
        rows.tell(message)
    return story, rows


def test_a_pour_s_hours_are_accounted_for(told: tuple[Story, Rows]) -> None:
    _, rows = told
    row = of(rows)[f"{POUR} strip"]
    assert (row.floor, row.bay, row.wanted_ms, row.plan_ms) == ("2", BAY, None, END_MS + DAY_MS)
    assert row.expected_ms is None  # the first delay could name no hour
    assert row.plan_ms is not None
    assert row.met_ms is not None
    assert row.signed_ms == row.met_ms + HOUR_MS
    assert row.begun_ms == row.signed_ms + HOUR_MS
    assert row.done_ms == row.begun_ms + HOUR_MS
    assert row.waited_ms == 3 * HOUR_MS
    assert row.to_json()["waited_ms"] == 3 * HOUR_MS
    assert row.lost.cold_ms == 6.25 * HOUR_MS  # six hours and the quarters that lead in and out, as counted
    assert row.lost.data_ms == 0
    assert row.lost.mix_ms == row.met_ms - row.plan_ms - row.lost.cold_ms
    assert row.lost.mix_ms >= HOUR_MS / 2


def test_a_wanted_hour_behind_the_plan_s_is_what_it_is_due_at(told: tuple[Story, Rows]) -> None:
    _, rows = told
    plain = of(rows)[f"{POUR} strip"]
    assert plain.met_ms is not None
    later, sooner = plain.met_ms - HOUR_MS, END_MS
    for wanted_ms, lost_ms in ((later, HOUR_MS), (sooner, plain.met_ms - (END_MS + DAY_MS))):
        mine = Rows(done=[make_start(), want(0), want(wanted_ms)], entries=rows.entries, told=rows.told)
        row = of(mine)[f"{POUR} strip"]
        assert row.wanted_ms == wanted_ms
        assert None not in row.lost.parts[:3]
        assert sum(part or 0 for part in row.lost.parts[:3]) == lost_ms


def test_told_is_when_a_channel_first_accepted_the_release() -> None:
    rows = Rows(rows=[shown_row()], done=[make_start()])
    assert of(rows)[f"{POUR} strip"].told_ms is None
    first = released(rows, at_ms=T0)
    withdrawn = rows.tell(make_message(MessageKind.WITHDRAWAL))

    def row(no: int, message: int, accepted_ms: int | None) -> Delivery:
        state = DeliveryState.WAITING if accepted_ms is None else DeliveryState.ACCEPTED
        return Delivery(no, message, RecipientId("super"), no, state, accepted_ms=accepted_ms)

    rows.sent += [row(1, first.no, None), row(2, withdrawn.no, T0 + 1)]
    assert of(rows)[f"{POUR} strip"].told_ms is None
    rows.sent += [row(3, first.no, T0 + 9), row(4, first.no, T0 + 5)]
    assert of(rows)[f"{POUR} strip"].told_ms == T0 + 5
    assert of(rows)[f"{POUR} walk"].told_ms is None


def test_the_expected_hour_is_that_of_the_first_delay() -> None:
    rows = Rows(rows=[shown_row()], done=[make_start()])
    for epoch, expected_ms in ((1, T0 + HOUR_MS), (2, T0 + DAY_MS)):
        rows.tell(make_message(MessageKind.COLD_DELAY, epoch=epoch, expected_ms=expected_ms))
    assert of(rows)[f"{POUR} strip"].expected_ms == T0 + HOUR_MS
    assert of(rows)[f"{POUR} load"].expected_ms is None


def test_an_open_pour_shows_what_is_known_so_far() -> None:
    memory = {"expected": {STRIP: {"expected_ms": T0, "plan_ms": T0 + DAY_MS, "cause": ""}}}
    rows = Rows(rows=[shown_row(memory=memory)], done=[make_start(), want(T0, LOAD)])
    found = of(rows)
    assert [*found] == [f"{POUR} {op}" for op in (STRIP, WALK, LOAD)]
    assert found[f"{POUR} strip"].plan_ms == T0 + DAY_MS
    assert found[f"{POUR} load"].wanted_ms == T0
    assert all(row.lost == Lost() for row in found.values())


def test_a_closed_pour_in_a_bay_that_is_gone_keeps_its_rows(told: tuple[Story, Rows]) -> None:
    _, rows = told
    gone = Rows(done=[make_start(bay="9-b9")], entries=rows.entries)
    assert of(gone)[f"{POUR} strip"].floor is None
    assert of(gone)[f"{POUR} strip"].bay == "9-b9"


def lost_row(floor: str | None, *parts: int | None, **hours: Any) -> Row:
    names = ("wanted_ms", "plan_ms", "expected_ms", "met_ms", "signed_ms", "told_ms", "begun_ms", "done_ms")
    return Row(floor, BAY, POUR, STRIP, **{n: hours.get(n) for n in names}, lost=Lost(*parts))


def test_a_floor_s_total_is_the_sum_of_what_is_known() -> None:
    rows = [lost_row("2", 1, 2, 3, 4, 5), lost_row("3"), lost_row("2", 10, None, 30, None, None)]
    assert totals(rows) == (
        Total("2", 2, 1, Lost(11, 2, 33, 4, 5)),
        Total("3", 1, 1, Lost()),
    )
    assert totals([]) == ()
    done = replace(rows[0], bay=OTHER_BAY, met_ms=T0, done_ms=T0 + HOUR_MS)
    assert bay_totals([*rows, done]) == (
        Total("2", 2, 1, Lost(11, 2, 33, 4, 5), None, BAY),
        Total("3", 1, 1, Lost(), None, BAY),
        Total("2", 1, 0, Lost(1, 2, 3, 4, 5), HOUR_MS, OTHER_BAY),
    )
    assert totals([rows[0], done])[0].waited_ms == HOUR_MS


def test_it_can_be_read_as_json_and_as_text() -> None:
    row = lost_row("2", 6 * HOUR_MS, HOUR_MS, 0, None, None, plan_ms=END_MS + DAY_MS)
    assert row.to_json()["lost"] == {
        "cold_ms": 6 * HOUR_MS,
        "mix_ms": HOUR_MS,
        "data_ms": 0,
        "signature_ms": None,
        "crew_ms": None,
        "whole_ms": None,
    }
    assert row.to_json()["plan_ms"] == END_MS + DAY_MS
    spent = "lost not known: cold 6.0 h, mix 1.0 h, data 0.0 h, signature not known, crew not known"
    hours = "wanted - plan 2025-11-25T13:00-04:00 expected - met - signed - told - begun - done -"
    assert lines([row], "America/Halifax") == [
        f"floor 2 bay {BAY} pour {POUR} strip: {hours}; {spent}; met to done not known",
        f"floor 2 bay {BAY}: {spent}; met to done not known (operations: 1, not known in full: 1)",
        f"floor 2: {spent}; met to done not known (operations: 1, not known in full: 1)",
    ]
    assert totals([row])[0].to_json()["lost"]["cold_ms"] == 6 * HOUR_MS


def test_pours_are_kept_apart() -> None:
    rows = Rows(
        rows=[shown_row(), shown_row("2-b2-p1", OTHER_BAY)], done=[make_start(), make_start("2-b2-p1", OTHER_BAY)]
    )
    released(rows, "2-b2-p1")
    rows.sent.append(Delivery(1, 1, RecipientId("super"), 0, accepted_ms=T0))
    assert [r.told_ms for r in of(rows).values()] == [None, None, None, T0, None, None]
