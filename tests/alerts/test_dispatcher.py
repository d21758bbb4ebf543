from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from alerts_support import Site, alerts_setup, for_one, make_gate, make_told
from store_support import T0

from alerts.dispatcher import Dispatcher
from alerts.transport import RecordingTransport
from alerts.wording import words
from shared.models.base import HOUR_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind

S = DeliveryState
OLD = "1.1"
RECEIVERS = 5
"""Inboxes that a release goes to: crew (two), superintendent, qc, engineer."""


def test_a_release_reaches_each_inbox_once() -> None:
    site = Site()
    site.release()
    assert site.run(60) > 0
    assert site.transport.numbers() == [41] * RECEIVERS
    assert len({h.file for h in site.transport.heard}) == RECEIVERS
    assert set(site.book.states(41).values()) == {S.ACCEPTED}
    assert site.run(600) == 0


def test_calling_is_durable_before_the_transport_is_called() -> None:
    site = Site(setup=for_one())
    seen: list[S] = []
    site.transport.during = lambda number: seen.extend(site.book.states(number).values())
    site.release()
    site.run()
    assert seen == [S.CALLING]


def test_every_change_of_a_delivery_is_logged() -> None:
    site = Site("fail", "lost", setup=for_one())
    site.release()
    site.run(10)
    body = {"message": 41, "recipient": "qc", "channel": 0}
    told = [{k: e.body[k] for k in ("state", "attempt", "outcome")} for e in site.book.rows.log]
    assert all(e.body.items() >= body.items() and e.what == "delivery" for e in site.book.rows.log)
    assert [(t["state"], t["attempt"], t["outcome"]) for t in told] == [
        ("calling", 1, ""),
        ("waiting", 1, "not now"),
        ("calling", 2, ""),
        ("unsure", 2, "answer lost"),
        ("waiting", 2, "answer lost"),
        ("calling", 3, ""),
        ("accepted", 3, "yes"),
    ]


@pytest.mark.row("A1")
def test_a_server_that_is_down_for_two_hours_gets_the_withdrawal_when_it_is_back() -> None:
    site = Site(*["fail"] * 33, setup=for_one())
    site.withdraw()
    site.run(120)
    assert site.transport.numbers() == []
    site.run(30)
    assert site.transport.numbers()[0] == 42


@pytest.mark.row("A2")
def test_one_refused_recipient_does_not_touch_the_others() -> None:
    site = Site("never")
    site.release()
    site.run(60)
    states = sorted(site.book.states(41).values())
    assert states == sorted([S.REFUSED, *[S.ACCEPTED] * (RECEIVERS - 1)])


@pytest.mark.row("A3")
def test_a_lost_answer_is_repeated_with_its_number_and_says_so() -> None:
    site = Site("lost", setup=for_one())
    site.release()
    site.run(5)
    first, second = site.transport.heard
    assert first.number == second.number == 41
    assert "repeat" not in first.text.short
    for part in (second.text.short, second.text.subject, second.text.body):
        assert "repeat" in part
        assert "41" in part
    assert len(site.logged(S.UNSURE)) == 1


@pytest.mark.row("A5")
def test_a_release_that_waited_for_its_server_is_not_sent_after_its_withdrawal() -> None:
    site = Site(*["fail"] * RECEIVERS)
    site.release()
    site.run()
    site.withdraw()
    site.run(120)
    assert 41 not in site.transport.numbers()
    assert set(site.book.states(41).values()) == {S.SUPERSEDED}


@pytest.mark.row("A5")
def test_a_release_is_void_after_its_validity() -> None:
    site = Site(*["fail"] * RECEIVERS)
    site.say(MessageKind.RELEASED, 41, GateState.RELEASED, hours_valid=0)
    site.run(60)
    assert site.transport.began == []
    assert set(site.book.states(41).values()) == {S.SUPERSEDED}


@pytest.mark.row("A5")
def test_a_release_that_waits_for_a_shift_is_looked_at_again_then() -> None:
    site = Site(setup=for_one(shift="06:30-17:00"))
    site.clock.set(T0 + 6 * HOUR_MS)
    site.say(MessageKind.RELEASED, 41, GateState.RELEASED, hours_valid=24)
    site.run()
    assert site.transport.began == []
    site.say(MessageKind.WITHDRAWAL, 42, GateState.WITHDRAWN)
    site.run(24 * 60, every_s=600)
    assert set(site.transport.numbers()) == {42}


@pytest.mark.row("A4")
def test_a_release_whose_gate_moves_while_it_is_sent_is_given_up_and_its_withdrawal_follows() -> None:
    site = Site(setup=for_one())

    def withdrawn(number: int) -> None:
        if number == 41:
            site.withdraw()

    site.transport.during = withdrawn
    site.release()
    site.run(5)
    assert [e["outcome"] for e in site.logged(S.UNSURE)] == ["killed: no longer true"]
    assert list(site.book.states(41).values()) == [S.SUPERSEDED]
    assert site.transport.numbers()[-1] == 42


@pytest.mark.row("A14")
def test_a_message_is_routed_once_however_often_the_dispatcher_runs() -> None:
    site = Site()
    site.release()
    for _ in range(3):
        site.restart()
        site.run()
    assert len(site.book.rows.deliveries) == RECEIVERS
    assert site.transport.numbers() == [41] * RECEIVERS


def test_urgent_messages_go_first() -> None:
    site = Site(setup=for_one())
    site.say(MessageKind.COLD_DELAY, 40, GateState.CURING)
    site.say(MessageKind.LOGGER_SILENT, 41, GateState.CURING)
    site.say(MessageKind.KEEP_OFF, 42, GateState.CURING)
    site.run()
    assert site.transport.numbers() == [42, 40, 41]


def test_a_release_of_a_suspended_gate_goes_when_the_doubt_is_lifted() -> None:
    site = Site(setup=for_one())
    site.release()
    site.stand(GateState.SUSPENDED, before=GateState.RELEASED)
    site.run(20)
    assert site.transport.began == []
    site.stand(GateState.RELEASED)
    site.run(2)
    assert site.transport.numbers() == [41]


def test_many_deferred_rows_do_not_hide_the_one_that_can_go() -> None:
    site = Site(setup=for_one())
    held = make_gate(GateState.SUSPENDED, before=GateState.RELEASED)
    for no in range(1, 120):
        site.book.put(make_told(MessageKind.RELEASED, no), held)
    site.say(MessageKind.COLD_DELAY, 500, GateState.SUSPENDED)
    site.stand(GateState.SUSPENDED, before=GateState.RELEASED)
    site.run()
    assert site.transport.numbers() == [500]


def test_each_person_reads_their_own_language() -> None:
    people = [
        {
            "id": who,
            "role": "qc",
            "language": language,
            "shift": "00:00-00:00",
            "channels": [{"kind": "inbox", "file": who}],
        }
        for who, language in (("ann", "en"), ("luc", "fr"), ("eva", "es"))
    ]
    site = Site(setup=alerts_setup(recipient=people))
    site.withdraw()
    site.run()
    said = {h.file: h.text for h in site.transport.heard}
    assert said == {
        who: words(site.book.rows.messages[42], repeat=False, language=language)
        for who, language in (("ann", "en"), ("luc", "fr"), ("eva", "es"))
    }
    assert len({text.short for text in said.values()}) == 3


class Unreadable(dict[str, Any]):
    """Facts that cannot be read, as after a bug."""

    def get(self, key: str, default: object = None) -> Any:
        raise RuntimeError(key, default)


def test_a_text_that_cannot_be_made_is_known_not_sent_and_holds_nothing_up(caplog: pytest.LogCaptureFixture) -> None:
    site = Site(setup=for_one())
    bad = replace(make_told(MessageKind.RELEASED_EARLY, 41), facts=Unreadable())
    site.book.put(bad, make_gate(GateState.CURING))
    site.say(MessageKind.RELEASED_EARLY, 42, GateState.CURING)
    site.run()
    assert site.transport.numbers() == [42]
    assert [e["outcome"] for e in site.logged(S.WAITING)] == ["the text could not be made: RuntimeError"]
    assert "its text could not be made" in caplog.text
    assert site.logged(S.UNSURE) == []


def test_a_transport_that_breaks_leaves_the_outcome_unknown() -> None:
    site = Site(setup=for_one())

    def broken(_where: str) -> None:
        raise RuntimeError("a bug")

    site.transport.at = broken
    site.say(MessageKind.HOLD, 41, GateState.HOLD)
    site.run()
    assert [e["outcome"] for e in site.logged(S.UNSURE)] == ["the attempt broke: RuntimeError"]


def test_the_recording_transport_accepts_in_order_what_is_still_true() -> None:
    recording = RecordingTransport()
    site = Site(setup=for_one())
    site.dispatcher = Dispatcher(site.setup, site.book, site.clock, recording)
    site.release()
    site.withdraw()
    site.run()
    assert [attempt.number for attempt in recording.sent] == [42]
