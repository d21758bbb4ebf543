from __future__ import annotations

from typing import Any

import pytest
from alerts_support import Site, alerts_setup
from store_support import T0

from alerts.acts import MAY
from shared.errors import ActRefusedError
from shared.models.acts import AlertsAct, Confirm, Resend, Silence, TestChannels, act_from, act_to, instant
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.models.people import Role

S = DeliveryState
KINDS: list[type[AlertsAct]] = [Confirm, Silence, Resend, TestChannels]
PEOPLE = [
    {"id": role.value, "role": role.value, "channels": [{"kind": "inbox", "file": role.value}]}
    for role in Role
    if role is not Role.VIEWER
] + [{"id": "viewer", "role": "viewer"}]


def everybody(*script: str) -> Site:
    """Return a site with one person a role; the viewer has no channel."""
    return Site(*script, setup=alerts_setup(recipient=PEOPLE))


def act(kind: type[AlertsAct], who: str = "qc", at_ms: int = T0, **changes: Any) -> AlertsAct:
    given: dict[type[AlertsAct], dict[str, Any]] = {
        Confirm: {"message": 42},
        Silence: {"until": instant(T0 + HOUR_MS), "why": "the list is too long"},
        Resend: {"message": 42},
        TestChannels: {"recipient": "crew"},
    }
    return kind(at=instant(at_ms), who=who, **{**given[kind], **changes})


def withdrawn() -> Site:
    site = everybody()
    site.withdraw()
    site.run()
    return site


def test_confirming_marks_every_accepted_delivery_and_keeps_the_act() -> None:
    site = Site()
    site.withdraw()
    site.run()
    assert site.confirm(42) == 5
    assert set(site.book.states(42).values()) == {S.CONFIRMED}
    entry = site.book.rows.log[-1]
    assert (entry.who, entry.what, entry.body["kind"], entry.body["message"]) == ("qc", "act", "confirm", 42)
    assert [a.kind for a in site.book.rows.acts] == ["confirm"]


def test_confirming_what_nobody_has_got_or_what_is_confirmed_is_refused() -> None:
    site = Site(*["fail"] * 5)
    site.withdraw()
    site.run()
    with pytest.raises(ActRefusedError, match=r"message no\. 42: nothing to confirm"):
        site.confirm(42)
    site.run(2)
    assert site.confirm(42) == 5
    with pytest.raises(ActRefusedError):
        site.confirm(42)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("role", sorted(Role))
def test_an_act_is_for_its_roles(kind: type[AlertsAct], role: Role) -> None:
    site = withdrawn()
    before = len(site.book.rows.acts)
    if role in MAY[kind]:
        site.apply(act(kind, role.value))
        assert len(site.book.rows.acts) == before + 1
    else:
        with pytest.raises(ActRefusedError, match=f"{role.value} may not do this; these roles may: "):
            site.apply(act(kind, role.value))
        assert len(site.book.rows.acts) == before


def test_the_roles_are_these() -> None:
    assert [sorted(role.value for role in MAY[kind]) for kind in KINDS] == [
        ["crew", "engineer", "installer", "qc", "superintendent"],
        ["engineer", "qc", "superintendent"],
        ["admin", "engineer", "qc", "superintendent"],
        ["admin", "engineer", "installer", "qc", "superintendent"],
    ]
    assert set(MAY) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_stranger_and_an_act_before_its_time_are_refused(kind: type[AlertsAct]) -> None:
    site = withdrawn()
    with pytest.raises(ActRefusedError, match="no recipient 'nobody'"):
        site.apply(act(kind, "nobody"))
    with pytest.raises(ActRefusedError, match="before its time"):
        site.apply(act(kind, at_ms=T0 + 3 * MINUTE_MS))
    assert site.book.rows.acts == []


def test_only_the_engineer_closes_what_never_arrived_as_told_by_phone() -> None:
    site = everybody(*["fail"] * 9)
    site.withdraw()
    site.run()
    for who in ("qc", "superintendent"):
        with pytest.raises(ActRefusedError, match="only the engineer"):
            site.confirm(42, who=who, told="crew lead by phone, 14:05")
    assert site.confirm(42, who="engineer", told="crew lead by phone, 14:05") == 4
    assert site.run(600) == 0
    assert site.book.rows.log[-1].body["told"] == "crew lead by phone, 14:05"


@pytest.mark.row("O11")
@pytest.mark.parametrize("hours", [0, -1, 8.001, 24])
def test_a_silence_ends_in_the_future_and_within_eight_hours(hours: float) -> None:
    site = everybody()
    with pytest.raises(ActRefusedError, match="at most 8 hours"):
        site.apply(act(Silence, until=instant(T0 + round(hours * HOUR_MS))))
    assert site.book.rows.silences == []


@pytest.mark.row("O11")
def test_a_silence_is_of_a_bay_or_of_the_site() -> None:
    site = everybody()
    site.apply(act(Silence, bay="2-b1"))
    site.apply(act(Silence, until=instant(T0 + 8 * HOUR_MS)))
    assert site.book.rows.silences == [("2-b1", T0, T0 + HOUR_MS), (None, T0, T0 + 8 * HOUR_MS)]
    with pytest.raises(ActRefusedError, match="no bay '2-b9'"):
        site.apply(act(Silence, bay="2-b9"))


@pytest.mark.row("O11")
def test_a_silence_holds_lesser_messages_back_until_it_ends_and_no_withdrawal() -> None:
    site = everybody()
    site.apply(act(Silence, bay="2-b1"))
    site.say(MessageKind.LOGGER_SILENT, 41, GateState.RELEASED)
    site.say(MessageKind.WITHDRAWAL, 42, GateState.RELEASED)
    site.run(1)
    assert set(site.transport.numbers()) == {42}
    site.confirm(42)
    site.run(59)
    assert set(site.transport.numbers()) == {41, 42}


def test_a_message_is_sent_once_more_as_a_repeat_to_one_or_to_all_who_had_it() -> None:
    site = everybody()
    site.release()
    site.run()
    before = len(site.transport.heard)
    site.apply(act(Resend, message=41, recipient="crew"))
    site.run()
    again = site.transport.heard[before:]
    assert [(h.file, h.number) for h in again] == [("crew", 41)]
    assert "repeat of no. 41" in again[0].text.body
    site.apply(act(Resend, message=41))
    site.run()
    assert len(site.transport.heard) == before + 1 + before


def test_what_a_person_has_answered_is_not_sent_once_more() -> None:
    site = withdrawn()
    site.confirm(42)
    with pytest.raises(ActRefusedError, match="nothing to send once more"):
        site.apply(act(Resend))


def test_a_release_that_is_no_longer_true_is_not_sent_once_more() -> None:
    site = everybody()
    site.release()
    site.run()
    site.withdraw()
    site.run()
    before = site.transport.numbers().count(41)
    site.apply(act(Resend, message=41))
    site.run(5)
    assert site.transport.numbers().count(41) == before
    assert set(site.book.states(41).values()) == {S.SUPERSEDED}


def test_what_is_on_its_way_or_never_was_is_not_sent_once_more() -> None:
    site = everybody(*["fail"] * 9)
    site.withdraw()
    site.run()
    for message in (42, 99):
        with pytest.raises(ActRefusedError, match="nothing to send once more"):
            site.apply(act(Resend, message=message))
    with pytest.raises(ActRefusedError, match="no recipient 'nobody'"):
        site.apply(act(Resend, recipient="nobody"))


@pytest.mark.row("A15")
def test_a_test_goes_to_each_channel_of_its_recipient_at_once_and_can_be_taken_for_nothing_else() -> None:
    site = Site(setup=alerts_setup())
    for who in ("qc", "engineer"):
        site.apply(act(TestChannels, who, site.clock.now()))
        site.run(1)
    assert sorted({h.file for h in site.transport.heard}) == ["crew-two.jsonl", "crew.jsonl"]
    assert len(site.transport.heard) == 4, "each test is one of its own"
    for heard in site.transport.heard:
        for text in (heard.text.subject, heard.text.body, heard.text.short):
            assert text.startswith("TEST")
            assert not {"released", "strip", "keep off"} & set(text.lower().replace(",", " ").split())


def test_who_has_no_channel_cannot_be_tested() -> None:
    with pytest.raises(ActRefusedError, match="viewer has no channel"):
        everybody().apply(act(TestChannels, recipient="viewer"))


@pytest.mark.row("A18")
def test_only_an_act_confirms_and_reading_changes_nothing() -> None:
    """Mail scanners follow links and fetch what they find: a text must not hold one, and a look must not count."""
    site = withdrawn()
    assert set(site.book.states(42).values()) == {S.ACCEPTED}, "what a server takes, and perhaps reads, is no answer"
    before = site.book.rows.copied()
    for heard in site.transport.heard:
        for part in (heard.text.subject, heard.text.body, heard.text.short, heard.text.html or ""):
            assert not {"http:", "https:", "href"} & set(part.lower().replace("/", " ").replace('"', " ").split())
    site.book.states(42)
    site.dispatcher.nobody()
    with site.book.deciding() as rows:
        rows.rows_of(42)
        rows.accepted_unconfirmed()
    assert site.book.rows == before
    assert {a for a in MAY if "confirm" in a.model_fields["kind"].default} == {Confirm}
    assert act_from(act_to(act(Confirm))) == act(Confirm), "who has answered is part of the answer"
    with pytest.raises(ValueError, match="who"):
        act_from({key: value for key, value in act_to(act(Confirm)).items() if key != "who"})
