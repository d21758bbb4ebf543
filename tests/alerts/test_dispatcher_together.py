"""Permits of several bays that turn together go to a recipient as one text, each still judged by its own gate."""

from __future__ import annotations

import pytest
from alerts_support import Site, for_one, make_told
from store_support import T0

from alerts.routing import TOGETHER_MS
from shared.models.base import MINUTE_MS, STRIP, WALK, Operation, PourId
from shared.models.decisions import Gate, GateState
from shared.models.messages import PERMITS, DeliveryState, MessageKind

S = DeliveryState
FITS = {
    MessageKind.RELEASED: GateState.RELEASED,
    MessageKind.MET_NOT_SIGNED: GateState.MET,
    MessageKind.SIGN_OFF_WANTED: GateState.MET,
}


def turns(site: Site, no: int, kind: MessageKind = MessageKind.RELEASED, operation: Operation = STRIP) -> None:
    """Let a bay of its own turn now."""
    pour = f"2-b{no}-p1"
    message = make_told(kind, no, subject=operation, at_ms=site.clock.now(), pour=pour, bay=f"2-b{no}")
    site.book.put(message, Gate(PourId(pour), operation, FITS[kind], 1))


def stands(site: Site, no: int, state: GateState) -> None:
    """Move the gate of a bay without a message."""
    site.book.rows.gates[f"2-b{no}-p1", STRIP] = Gate(PourId(f"2-b{no}-p1"), STRIP, state, 1)


def told(site: Site) -> list[tuple[int, ...]]:
    return [h.numbers for h in site.transport.heard]


@pytest.mark.parametrize("kind", sorted(PERMITS))
def test_bays_that_turn_within_a_minute_are_one_text(kind: MessageKind) -> None:
    site = Site(setup=for_one())
    turns(site, 41, kind)
    site.run(0.5)
    turns(site, 42, kind)
    site.run(0.4, every_s=6)
    turns(site, 43, kind)
    site.run(10, every_s=6)
    assert told(site) == [(41, 42, 43)]
    assert site.transport.heard[0].at_ms == T0 + TOGETHER_MS
    for no in (41, 42, 43):
        assert site.book.states(no) == {("qc", 0): S.ACCEPTED}
        assert str(no) in site.transport.heard[0].text.body


def test_a_bay_alone_goes_after_a_minute_and_the_next_is_a_text_of_its_own() -> None:
    site = Site(setup=for_one())
    turns(site, 41)
    site.run(1.5)
    turns(site, 42)
    site.run(5)
    assert told(site) == [(41,), (42,)]


def test_other_kinds_are_texts_of_their_own_and_withdrawals_wait_for_nobody() -> None:
    site = Site(setup=for_one())
    turns(site, 41)
    turns(site, 42, MessageKind.SIGN_OFF_WANTED, WALK)
    for no in (43, 44):
        site.say(MessageKind.WITHDRAWAL, no, GateState.WITHDRAWN)
    site.run()
    assert told(site) == [(43,), (44,)], "at once, each for itself"
    site.run(2)
    assert told(site)[2:] == [(41,), (42,)]


def test_a_bay_whose_gate_has_moved_is_left_out() -> None:
    site = Site(setup=for_one())
    for no in (41, 42, 43):
        turns(site, no)
    site.run()
    stands(site, 42, GateState.WITHDRAWN)
    site.run(5)
    assert told(site) == [(41, 43)]
    assert site.book.states(42) == {("qc", 0): S.SUPERSEDED}


@pytest.mark.row("A5")
def test_one_gate_that_moves_while_the_text_is_sent_gives_it_up_and_each_is_judged_by_itself() -> None:
    site = Site(setup=for_one())
    turns(site, 41)
    turns(site, 42)
    site.transport.during = lambda _number: stands(site, 42, GateState.WITHDRAWN)
    site.run(1)
    assert [e["outcome"] for e in site.logged(S.UNSURE)] == ["killed: no longer true"] * 2
    site.transport.during = None
    site.run(5)
    assert told(site) == [(41,)]
    assert "repeat" in site.transport.heard[0].text.body
    assert site.book.states(42) == {("qc", 0): S.SUPERSEDED}


@pytest.mark.row("A3")
def test_a_text_whose_answer_is_lost_is_repeated_as_it_was_and_nothing_new_joins_it() -> None:
    site = Site("lost", setup=for_one())
    turns(site, 41)
    turns(site, 42)
    site.run(1)
    turns(site, 43)
    site.run(5)
    assert told(site) == [(41, 42), (41, 42), (43,)]
    assert "repeat" not in site.transport.heard[2].text.body


def test_all_of_a_text_are_claimed_in_one_transaction_under_one_lease() -> None:
    site = Site(setup=for_one())
    turns(site, 41)
    turns(site, 42)
    leases: list[set[str | None]] = []
    site.transport.during = lambda _number: leases.append(
        {d.lease_token for d in site.book.rows.deliveries.values() if d.state is S.CALLING}
    )
    site.run(1)
    assert [len(tokens) for tokens in leases] == [1]
    assert None not in leases[0]
    calling = [e.at_ms for e in site.book.rows.log if e.body.get("state") == "calling"]
    assert calling == [T0 + MINUTE_MS] * 2


@pytest.mark.row("A8")
def test_a_service_that_dies_while_a_text_is_sent_leaves_each_of_its_messages_unsure() -> None:
    site = Site(setup=for_one())
    turns(site, 41)
    turns(site, 42)
    site.run()
    site.transport.at = _dies
    with pytest.raises(KeyboardInterrupt):
        site.run(1)
    site.transport.at = lambda _where: None
    site.restart()
    assert len(site.logged(S.UNSURE)) == 2
    site.run(5)
    assert told(site) == [(41, 42)]
    assert "repeat" in site.transport.heard[0].text.body


def _dies(_where: str) -> None:
    raise KeyboardInterrupt


@pytest.mark.row("A2")
def test_a_refusal_of_the_text_is_a_refusal_of_each() -> None:
    site = Site("never", setup=for_one())
    turns(site, 41)
    turns(site, 42)
    site.run(3)
    assert [site.book.states(no)["qc", 0] for no in (41, 42)] == [S.REFUSED] * 2


def test_one_that_waits_after_a_failure_is_not_hurried_by_another() -> None:
    site = Site("fail", "fail", setup=for_one())
    turns(site, 41)
    site.run(1.5)
    assert site.book.states(41) == {("qc", 0): S.WAITING}
    turns(site, 42)
    site.run(1)
    assert [h.numbers for h in site.transport.heard] == [(42,)]
    site.run(3)
    assert told(site) == [(42,), (41,)]
