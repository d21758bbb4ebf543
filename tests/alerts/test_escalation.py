from __future__ import annotations

from typing import Any

import pytest
from alerts_support import alerts_setup, make_due, make_row, make_told, with_duty
from hypothesis import given
from hypothesis import strategies as st
from store_support import T0

from alerts.escalation import PATIENCE_MS, further, given_up, unheard
from shared.models.base import MINUTE_MS, RecipientId
from shared.models.messages import PERMITS, URGENT, Delivery, DeliveryState, MessageKind
from shared.models.setup import SiteFile

S = DeliveryState
WITHDRAWAL = make_told(MessageKind.WITHDRAWAL, 42)


def on_duty(*duty: str) -> SiteFile:
    """Return a site with a crew and an engineer who are told anyway, and two others who are not."""
    people = [
        {"id": who, "role": role, "channels": [{"kind": "inbox", "file": who}]}
        for who, role in (("crew", "crew"), ("chief", "engineer"), ("boss", "viewer"), ("owner", "viewer"))
    ]
    people.append({"id": "mute", "role": "viewer", "channels": []})
    return with_duty(alerts_setup(recipient=people), *duty).site


ON_DUTY = on_duty("chief", "boss", "mute", "owner")


def row(state: S = S.ACCEPTED, recipient: str = "crew", **changes: Any) -> Delivery:
    settled: dict[str, Any] = {"attempt": 1, "accepted_ms": T0 if state is S.ACCEPTED else None}
    return make_row(WITHDRAWAL, state=state, recipient=RecipientId(recipient), **{**settled, **changes})


def who(rows: list[Delivery], minutes: float, site: SiteFile = ON_DUTY) -> list[str]:
    found = further(WITHDRAWAL, rows, site, T0 + round(minutes * MINUTE_MS))
    return [d.recipient for d in found.deliveries]


@pytest.mark.parametrize(
    ("minutes", "told"), [(4.99, []), (5, ["boss"]), (9.9, ["boss"]), (10, ["boss", "owner"]), (600, ["boss", "owner"])]
)
@pytest.mark.row("A6")
def test_each_step_tells_one_further_person_who_has_a_channel_and_is_not_told_anyway(
    minutes: float, told: list[str]
) -> None:
    assert who([row()], minutes) == told


def test_who_is_told_already_is_not_told_once_more() -> None:
    assert who([row(), row(S.WAITING, "boss")], 10) == ["owner"]


def test_the_time_runs_from_the_first_acceptance_or_else_from_the_message() -> None:
    late = row(accepted_ms=T0 + 3 * MINUTE_MS)
    assert who([late, row(S.WAITING, "chief")], 7) == []
    assert who([late, row(S.WAITING, "chief")], 8) == ["boss"]
    assert who([row(S.WAITING)], 5) == ["boss"]


def test_nobody_further_is_told_before_the_first_attempt_or_after_an_answer() -> None:
    assert who([row(S.QUEUED, attempt=0)], 60) == []
    assert who([row(), row(S.CONFIRMED, "chief")], 60) == []


@pytest.mark.parametrize(("minutes", "exhausted"), [(5, False), (10, False), (19, False), (20, True)])
@pytest.mark.row("A19")
def test_a_roster_is_exhausted_when_the_next_step_finds_nobody(minutes: int, exhausted: bool) -> None:
    rows = [row(), row(S.WAITING, "boss"), row(S.WAITING, "owner")]
    assert further(WITHDRAWAL, rows, ON_DUTY, T0 + minutes * MINUTE_MS).exhausted is exhausted


@pytest.mark.row("A19")
def test_a_site_without_a_roster_is_exhausted_at_the_first_step() -> None:
    assert further(WITHDRAWAL, [row()], on_duty(), T0 + PATIENCE_MS[0]).exhausted
    assert not further(WITHDRAWAL, [row()], on_duty(), T0 + PATIENCE_MS[0] - 1).exhausted


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_more_time_never_tells_fewer_people(one: int, other: int) -> None:
    sooner, later = sorted((one, other))
    early, late = (further(WITHDRAWAL, [row()], ON_DUTY, T0 + ms) for ms in (sooner, later))
    assert {d.recipient for d in early.deliveries} <= {d.recipient for d in late.deliveries}


@pytest.mark.parametrize("kind", sorted(MessageKind))
@pytest.mark.parametrize("state", [S.REFUSED, S.ESCALATED])
def test_a_permit_or_an_urgent_message_that_somebody_does_not_get_is_told(kind: MessageKind, state: S) -> None:
    message = make_told(kind, 41)
    due = make_due(message, state=state, outcome="recipient refused: 550")
    news = given_up(due, [due.delivery], T0)
    assert (news is not None) is (kind in PERMITS | URGENT)
    if news is not None:
        said = {key: news.facts[key] for key in ("message", "recipient", "kind", "why")}
        assert said == {"message": 41, "recipient": "super", "kind": kind.value, "why": "recipient refused: 550"}
        assert (news.kind, news.facts["bay"], news.facts["site_id"]) == (
            MessageKind.DELIVERY_FAILED,
            "2-b1",
            "millrace",
        )


@pytest.mark.parametrize(
    ("other", "told"),
    [(S.ACCEPTED, False), (S.WAITING, False), (S.CALLING, False), (S.REFUSED, True), (S.SUPERSEDED, True)],
)
def test_it_is_told_when_the_last_of_a_persons_channels_has_given_up(other: S, told: bool) -> None:
    due = make_due(make_told(MessageKind.RELEASED), state=S.REFUSED)
    second = make_row(due.message, no=411, channel=1, state=other)
    assert (given_up(due, [due.delivery, second], T0) is not None) is told


def test_one_message_and_person_is_told_of_once() -> None:
    due = make_due(make_told(MessageKind.RELEASED), state=S.REFUSED)
    one, again = (given_up(due, [due.delivery], T0 + ms) for ms in (0, 99))
    assert one is not None
    assert again is not None
    assert (one.pour, one.subject, one.epoch, one.kind) == (again.pour, again.subject, again.epoch, again.kind)


@pytest.mark.row("A6")
def test_who_has_not_got_a_withdrawal_for_five_minutes_is_told_of() -> None:
    rows = [row(), row(S.WAITING, "chief", outcome="not now"), row(S.ACCEPTED, "chief", channel=1)]
    rows += [row(S.WAITING, "boss", outcome="not now"), row(S.UNSURE, "boss", channel=1), row(S.QUEUED, "owner")]
    news = unheard(WITHDRAWAL, rows, T0 + 5 * MINUTE_MS)
    assert [(n.facts["recipient"], n.facts["why"]) for n in news] == [("boss", "not now")]
    assert unheard(WITHDRAWAL, rows, T0 + 5 * MINUTE_MS - 1) == []
    assert unheard(make_told(MessageKind.RELEASED), rows, T0 + 60 * MINUTE_MS) == []
