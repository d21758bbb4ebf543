"""A withdrawal that nobody answers goes on to people on duty; what somebody did not get is told to others."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from alerts_support import Site, alerts_setup, with_duty
from store_support import T0

from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.models.setup import Setup

S = DeliveryState


def on_duty(*duty: str, crew_channels: int = 1) -> Setup:
    """Return a site with a crew at work, and people who are told only when their turn on duty comes."""
    people: list[dict[str, Any]] = [
        {"id": who, "role": role, "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": who}]}
        for who, role in (("crew", "crew"), ("boss", "viewer"), ("owner", "viewer"))
    ]
    people[0]["channels"] *= crew_channels
    return with_duty(alerts_setup(recipient=people), *duty)


def first_heard(site: Site, who: str) -> int:
    return next(h.at_ms for h in site.transport.heard if h.file == who)


@pytest.mark.row("A6")
def test_nobody_answers_and_one_further_person_is_told_after_five_and_ten_minutes_while_repeats_go_on() -> None:
    site = Site(setup=on_duty("boss", "owner"))
    site.withdraw()
    site.run(60)
    assert first_heard(site, "boss") == T0 + 5 * MINUTE_MS
    assert first_heard(site, "owner") == T0 + 10 * MINUTE_MS
    assert len(site.transport.numbers("crew")) == 13
    assert len(site.transport.numbers("boss")) == 12


@pytest.mark.row("A6")
def test_an_answer_of_anybody_ends_it() -> None:
    site = Site(setup=on_duty("boss", "owner"))
    site.withdraw()
    site.run(6)
    assert site.confirm(42, who="crew") == 2
    assert site.run(600) == 0
    assert site.transport.numbers("owner") == []


@pytest.mark.row("A1", "A6")
def test_a_withdrawal_that_no_channel_takes_goes_to_the_next_on_duty_and_they_hear_who_did_not_get_it() -> None:
    site = Site(setup=on_duty("boss"))
    site.transport.script = ["fail"] * 6
    site.withdraw()
    site.run(7)
    assert site.transport.numbers("boss")[0] == 42
    assert first_heard(site, "boss") - T0 <= 6 * MINUTE_MS
    failed = [m for m in site.book.rows.messages.values() if m.kind is MessageKind.DELIVERY_FAILED]
    assert [(m.facts["recipient"], m.facts["kind"], m.facts["why"]) for m in failed] == [
        ("crew", "withdrawal", "not now")
    ]
    assert {h.file for h in site.transport.heard if h.number == failed[0].no} == {"boss"}


def test_a_release_that_a_person_does_not_get_is_told_to_people_on_duty() -> None:
    for script, state in ((["never"], S.REFUSED), (["fail"] * 5, S.ESCALATED)):
        site = Site(*script, setup=on_duty("boss"))
        site.release()
        site.run(60)
        assert site.book.states(41) == {("crew", 0): state}
        (failed,) = [m for m in site.book.rows.messages.values() if m.kind is MessageKind.DELIVERY_FAILED]
        assert (failed.facts["message"], failed.facts["recipient"]) == (41, "crew")
        assert site.transport.numbers("boss") == [failed.no]
        assert site.run(600) == 0, "told once"


def test_a_person_who_got_it_by_another_channel_is_not_told_of() -> None:
    site = Site("never", setup=on_duty("boss", crew_channels=2))
    site.release()
    site.run(60)
    assert site.transport.numbers("boss") == []


def test_news_of_a_failure_that_fails_itself_makes_no_more_news() -> None:
    site = Site(*["never"] * 20, setup=on_duty("boss"))
    site.release()
    site.run(60)
    kinds = [m.kind for m in site.book.rows.messages.values()]
    assert kinds.count(MessageKind.DELIVERY_FAILED) == 1


@pytest.mark.row("A9")
def test_a_message_that_nobody_can_get_is_logged_and_stands_until_somebody_gets_one(
    caplog: pytest.LogCaptureFixture,
) -> None:
    site = Site(setup=on_duty("boss"))
    assert site.dispatcher.nobody() == tuple(
        f"{kind}: nobody who should be told has a channel"
        for kind in ("sign-off wanted", "freeze suspected", "freeze locked")
    )
    with caplog.at_level(logging.ERROR):
        site.say(MessageKind.SIGN_OFF_WANTED, 41, GateState.MET)
        site.run()
    assert "message no. 41 (sign-off wanted): nobody can be told" in caplog.text
    assert "message no. 41 (sign-off wanted): nobody can be told" in site.dispatcher.nobody()
    site.say(MessageKind.SIGN_OFF_WANTED, 42, GateState.MET, roles=["crew"])
    site.run()
    assert not any("no. 41" in said for said in site.dispatcher.nobody())


@pytest.mark.row("A9")
def test_a_site_where_everybody_is_reachable_has_nothing_to_say() -> None:
    assert Site().dispatcher.nobody() == ()


@pytest.mark.row("A9")
def test_an_urgent_message_that_is_for_nobody_goes_to_everybody_with_a_channel() -> None:
    inbox = [{"kind": "inbox", "file": "boss"}]
    site = Site(setup=alerts_setup(recipient=[{"id": "boss", "role": "viewer", "channels": inbox}]))
    site.withdraw()
    site.run()
    assert site.transport.numbers("boss") == [42]
    assert "withdrawal: nobody who should be told has a channel" in site.dispatcher.nobody()


@pytest.mark.row("A19")
@pytest.mark.parametrize(("duty", "minutes"), [((), 5), (("boss",), 10), (("boss", "owner"), 20)])
def test_an_empty_or_exhausted_roster_is_said_until_somebody_answers(duty: tuple[str, ...], minutes: int) -> None:
    def unanswered(site: Site) -> list[str]:
        return [said for said in site.dispatcher.nobody() if "no answer" in said]

    site = Site(setup=on_duty(*duty))
    site.withdraw()
    site.run(minutes - 0.5)
    assert unanswered(site) == []
    site.run(2)
    assert unanswered(site) == ["message no. 42 (withdrawal): no answer, and nobody is left on duty"]
    site.restart()
    assert len(unanswered(site)) == 1, "also after a restart"
    site.confirm(42, who="crew")
    assert unanswered(site) == []
