from __future__ import annotations

import pytest
from alerts_support import Site, alerts_setup, for_one
from store_support import T0

from alerts.delivery import REPEAT_MS
from shared.models.base import RecipientId
from shared.models.messages import DeliveryState, NewDelivery

S = DeliveryState
OLD = "1.1"
RECEIVERS = 5
"""Inboxes that a withdrawal goes to: crew (two), superintendent, qc, engineer."""


@pytest.mark.row("A4", "A13")
def test_a_release_that_may_have_come_out_after_its_withdrawal_is_followed_by_it_again() -> None:
    site = Site(setup=for_one())
    site.release()
    site.run()
    site.withdraw()
    site.run()
    assert site.confirm(42) == 1
    site.mark(1, state=S.CALLING, lease_until_ms=T0 + 1, lease_token=OLD)
    site.restart()
    site.run()
    assert site.transport.numbers() == [41, 42, 42]
    assert "repeat of no. 42" in site.transport.heard[-1].text.short
    assert list(site.book.states(41).values()) == [S.SUPERSEDED]


@pytest.mark.row("A4", "A13")
def test_a_release_given_up_after_its_withdrawal_was_confirmed_is_followed_by_it_again() -> None:
    """As with two services on one book: the withdrawal did not wait for the release that was calling."""
    site = Site(setup=for_one())

    def overtaken(number: int) -> None:
        if number == 41:
            site.withdraw()
            site.book.route(42, [NewDelivery(RecipientId("qc"), 0, T0)])
            site.mark(2, state=S.CONFIRMED, called_ms=T0)

    site.transport.during = overtaken
    site.release()
    site.run()
    assert site.transport.numbers() == [42]
    assert "repeat of no. 42" in site.transport.heard[0].text.short


@pytest.mark.row("A6")
def test_a_withdrawal_repeats_every_five_minutes_until_a_person_confirms() -> None:
    site = Site(setup=for_one())
    site.withdraw()
    site.run(60)
    hours = [h.at_ms for h in site.transport.heard]
    assert hours == [T0 + n * REPEAT_MS for n in range(13)]
    assert "repeat of no. 42" not in site.transport.heard[0].text.short
    assert all("repeat of no. 42" in h.text.short for h in site.transport.heard[1:])
    site.confirm(42)
    assert site.run(600) == 0


@pytest.mark.row("A6")
def test_a_confirmation_while_a_repeat_waits_for_its_server_ends_the_repeats() -> None:
    for order in ("fail", "silence"):
        site = Site("accept", order, setup=for_one())
        site.withdraw()
        site.run(5)
        assert list(site.book.states(42).values()) in ([S.WAITING], [S.UNSURE])
        assert site.confirm(42) == 1
        assert site.run(600) == 0
        assert site.transport.numbers() == [42]


@pytest.mark.row("A6")
def test_who_has_not_got_the_withdrawal_gets_it_although_somebody_else_confirmed() -> None:
    site = Site("accept", *["fail"] * 4)
    site.withdraw()
    site.run()
    assert site.confirm(42) == 1
    site.run(6)
    assert len({h.file for h in site.transport.heard}) == RECEIVERS


@pytest.mark.row("A6")
def test_with_every_channel_down_for_three_hours_the_withdrawal_goes_when_one_is_up() -> None:
    site = Site(*["fail"] * 400)
    site.release()
    site.withdraw()
    site.run(180)
    assert site.transport.heard == []
    site.transport.script = []
    site.run(6)
    assert {h.file for h in site.transport.heard if h.number == 42} >= {"crew.jsonl", "qc.jsonl", "engineer.jsonl"}
    assert 41 not in site.transport.numbers()


@pytest.mark.row("A6")
def test_a_withdrawal_that_is_refused_for_good_is_tried_on() -> None:
    site = Site("never", "never", "accept", setup=for_one())
    site.withdraw()
    site.run(3)
    assert site.transport.numbers() == [42]


@pytest.mark.row("O10")
def test_who_left_the_list_after_the_release_still_gets_the_withdrawal() -> None:
    site = Site()
    site.release()
    site.run()
    someone = {"id": "installer", "role": "installer", "channels": [{"kind": "inbox"}]}
    left = {"id": "crew", "role": "viewer", "channels": [{"kind": "inbox", "file": "crew.jsonl"}]}
    stays = {"id": "engineer", "role": "engineer", "channels": [{"kind": "inbox", "file": "engineer.jsonl"}]}
    site.setup = alerts_setup(recipient=[someone, left, stays])
    site.restart()
    site.withdraw()
    site.run()
    assert site.transport.numbers("crew.jsonl") == [41, 42]
    assert site.transport.numbers("inbox.jsonl") == []
    gone = [d for d in site.book.rows.deliveries.values() if d.message == 42 and d.recipient == "qc"]
    assert [d.outcome for d in gone] == ["the set-up has no such recipient or channel any more"]
