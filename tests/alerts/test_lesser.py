from __future__ import annotations

from dataclasses import replace

import pytest
from alerts_support import Site, for_one, make_told
from store_support import T0

from alerts.delivery import INSISTENT
from alerts.lesser import WHILE_SHUT, Lesser, is_urgent, standing
from shared.models.base import MINUTE_MS, BayId
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, URGENT, DeliveryState, MessageKind

KINDS = sorted(MessageKind)


def test_every_kind_has_its_place_and_nothing_urgent_is_lesser() -> None:
    assert set(WHILE_SHUT) == set(MessageKind)
    assert {k for k in MessageKind if WHILE_SHUT[k] is Lesser.WAITS} == PERMITS
    assert {WHILE_SHUT[k] for k in URGENT} == {Lesser.GOES}


@pytest.mark.row("O11")
@pytest.mark.parametrize("kind", KINDS)
def test_a_silence_holds_back_what_is_not_urgent_and_never_a_withdrawal(kind: MessageKind) -> None:
    said = standing(make_told(kind), inhibited=False, silenced=True)
    assert said is (Lesser.GOES if kind in URGENT else Lesser.WAITS)
    assert kind not in INSISTENT or said is Lesser.GOES


@pytest.mark.parametrize("kind", KINDS)
def test_without_either_everything_goes(kind: MessageKind) -> None:
    assert standing(make_told(kind), inhibited=False, silenced=False) is Lesser.GOES


@pytest.mark.parametrize("kind", KINDS)
def test_news_that_an_urgent_message_was_not_heard_is_urgent_itself(kind: MessageKind) -> None:
    about = replace(make_told(MessageKind.DELIVERY_FAILED), facts={"kind": kind.value})
    assert is_urgent(about) is (kind in URGENT)
    assert is_urgent(make_told(kind)) is (kind in URGENT)


def test_while_a_withdrawal_is_open_hints_about_its_pour_are_void_and_permits_wait() -> None:
    site = Site(setup=for_one())
    site.withdraw(40)
    site.run()
    site.say(MessageKind.HOLD, 41, GateState.WITHDRAWN)
    site.say(MessageKind.COLD_DELAY, 42, GateState.WITHDRAWN)
    site.run(1)
    assert set(site.transport.numbers()) == {40}
    assert [d.outcome for d in site.book.rows.deliveries.values() if d.message > 40] == [
        "a withdrawal or a freeze of its pour is open, or its start was taken back"
    ] * 2


def test_a_release_waits_while_its_pour_is_frozen_and_expires_there() -> None:
    for minutes, state in ((3, DeliveryState.ACCEPTED), (700, DeliveryState.SUPERSEDED)):
        site = Site(setup=for_one())
        site.release()
        site.book.rows.frozen.add("2-b1-p1")
        site.run(minutes, every_s=60)
        assert site.transport.began == []
        site.book.rows.frozen.clear()
        site.run(2)
        assert site.book.states(41) == {("qc", 0): state}


@pytest.mark.row("O11")
def test_a_silence_ends_and_what_waited_goes_then() -> None:
    site = Site(setup=for_one())
    site.book.rows.silences.append((None, T0, T0 + 60 * MINUTE_MS))
    site.release(41)
    site.say(MessageKind.LOGGER_SILENT, 42, GateState.RELEASED)
    site.run(59)
    assert site.transport.began == []
    site.run(2)
    assert sorted(site.transport.numbers()) == [41, 42]


@pytest.mark.row("O11")
def test_a_silence_of_another_bay_holds_nothing_back_and_none_holds_a_withdrawal_back() -> None:
    site = Site(setup=for_one())
    site.book.rows.silences += [(BayId("2-b2"), T0, T0 + 60 * MINUTE_MS)]
    site.say(MessageKind.LOGGER_SILENT, 41, GateState.CURING)
    site.run()
    site.book.rows.silences += [(None, T0, T0 + 60 * MINUTE_MS), (BayId("2-b1"), T0, T0 + 60 * MINUTE_MS)]
    site.withdraw(42)
    site.run()
    assert site.transport.numbers() == [41, 42]
