"""After a start what the last process left is settled first: for two minutes only urgent messages go."""

from __future__ import annotations

import pytest
from alerts_support import Site, for_one
from store_support import T0

from alerts.dispatcher import QUIET_MS, Dispatcher
from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import URGENT, DeliveryState, MessageKind

S = DeliveryState


def started(quiet_ms: int = QUIET_MS) -> Site:
    site = Site(setup=for_one(), quiet_ms=quiet_ms)
    site.restart()
    return site


def test_a_dispatcher_is_quiet_for_two_minutes_of_site_time_unless_it_is_told_otherwise() -> None:
    assert QUIET_MS == 2 * MINUTE_MS
    site = Site(setup=for_one())
    site.dispatcher = Dispatcher(site.setup, site.book, site.clock, site.transport)
    site.dispatcher.recover()
    site.release()
    site.run(1.9)
    assert site.transport.began == []
    site.run(0.5)
    assert site.transport.numbers() == [41]


@pytest.mark.parametrize("kind", [MessageKind.WITHDRAWAL, MessageKind.KEEP_OFF, MessageKind.IN_DOUBT])
def test_urgent_messages_go_at_once_after_a_start(kind: MessageKind) -> None:
    assert kind in URGENT
    site = started()
    site.say(kind, 42, GateState.WITHDRAWN)
    site.run()
    assert site.transport.numbers() == [42]


@pytest.mark.row("A5")
def test_a_release_that_is_no_longer_true_after_the_quiet_is_not_sent() -> None:
    site = started()
    site.release()
    site.run(1)
    site.withdraw()
    site.run(5)
    assert set(site.transport.numbers()) == {42}
    assert site.book.states(41) == {("qc", 0): S.SUPERSEDED}


def test_what_waited_through_the_quiet_goes_in_its_order_afterwards() -> None:
    site = started()
    for no in (40, 41):
        site.say(MessageKind.LOGGER_SILENT, no, GateState.CURING)
    site.run(3)
    assert site.transport.numbers() == [40, 41]
    assert site.transport.heard[0].at_ms == T0 + QUIET_MS


def test_without_a_recovery_as_in_a_replay_nothing_is_held_back() -> None:
    site = Site(setup=for_one(), quiet_ms=QUIET_MS)
    site.release()
    site.run()
    assert site.transport.numbers() == [41]
