"""A real web server that fails in the middle of a withdrawal: what it holds at the end is right by its own count."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from mail_support import Sent, at_web
from server_support import Web, web_server

from shared.models.messages import DeliveryState, MessageKind

S = DeliveryState
RATE = 60.0
"""A minute of backoff is a second."""
RELEASE, WITHDRAWAL = 41, 42
TAKES = frozenset({"/ok", "/silent-yes", "/other", "/huge", "/drop", "/slow"})
"""Orders after which the receiver has the message, whatever it answered; after the others it has not."""


def held(web: Web) -> list[int]:
    """Return the numbers that the receiver took, in order."""
    return [json.loads(r.body)["number"] for r in web.requests if r.order in TAKES]


def is_right(sent: Sent, web: Web) -> None:
    """Hold the promises against the receiver's own ledger."""
    holds = held(web)
    assert holds, "nothing has arrived"
    assert holds[-1] == WITHDRAWAL, sent.outcomes()
    assert not any(RELEASE in holds[n:] for n, no in enumerate(holds) if no == WITHDRAWAL), "a release after it"
    for number in (RELEASE, WITHDRAWAL):
        accepted = sum((no, state) == (number, "accepted") for no, state, _ in sent.outcomes())
        assert holds.count(number) <= accepted + sent.unsure(number), sent.outcomes()
    keys = {json.loads(r.body)["number"]: r.headers["Idempotency-Key"] for r in web.requests}
    assert all(r.headers["Idempotency-Key"] == keys[json.loads(r.body)["number"]] for r in web.requests)
    assert sent.book.states(WITHDRAWAL) == {("crew", 0): S.ACCEPTED}


FAULTS = (
    *("/ok", "/silent-yes", "/error", "/declined", "/page", "/redirect", "/bad", "/busy", "/broken"),
    *("/other", "/huge", "/drop"),
)
"""One of each way to fail; `channels/test_webhook.py` knows more of each."""


@pytest.mark.row("A1", "A2", "A3", "A5", "A6", "A10")
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("since", ["the release", "the withdrawal"])
def test_a_fault_that_ends_leaves_the_withdrawal_as_the_last_thing_held(tmp_path: Path, fault: str, since: str) -> None:
    with web_server() as web:
        sent = Sent(at_web(web, tmp_path, "/ordered"), deadline_s=3, rate=RATE)
        web.order = fault if since == "the release" else "/ok"
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(lambda: len(sent.outcomes()) > 1)
        web.order = fault
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until(lambda: sum(no == WITHDRAWAL for no, _, _ in sent.outcomes()) > 1)
        web.order = "/ok"
        sent.until_at_rest(WITHDRAWAL)
        is_right(sent, web)


@pytest.mark.row("A4", "A5", "A6")
def test_a_server_slower_than_the_deadline_leaves_the_withdrawal_as_the_last_thing_held(tmp_path: Path) -> None:
    with web_server() as web:
        sent = Sent(at_web(web, tmp_path, "/ordered"), deadline_s=1, rate=RATE)
        web.order = "/slow"
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(lambda: sent.unsure(RELEASE) > 0)
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until(lambda: sent.unsure(WITHDRAWAL) > 0)
        web.order = "/ok"
        web.let_go.set()
        sent.until_at_rest(WITHDRAWAL)
        is_right(sent, web)


@pytest.mark.row("A1", "A5", "A6")
def test_a_server_that_is_down_and_comes_up_gets_the_withdrawal_and_no_release(tmp_path: Path) -> None:
    with web_server() as web:
        sent = Sent(at_web(web, tmp_path, "/ordered"), deadline_s=3, rate=RATE)
        web.order = "/ok"
    sent.say(MessageKind.RELEASED, RELEASE)
    sent.until(lambda: (RELEASE, "waiting") in {(no, state) for no, state, _ in sent.outcomes()})
    sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
    sent.until(lambda: sum(no == WITHDRAWAL for no, _, _ in sent.outcomes()) >= 4)
    with web_server(web.server_port) as again:
        again.order = "/ok"
        sent.until_at_rest(WITHDRAWAL)
        is_right(sent, again)
        assert RELEASE not in held(again)


@pytest.mark.row("A5")
def test_a_release_that_is_being_sent_is_given_up_when_its_withdrawal_is_written(tmp_path: Path) -> None:
    with web_server() as web:
        sent = Sent(at_web(web, tmp_path, "/ordered"), deadline_s=20)
        web.order = "/slow"
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(lambda: bool(web.requests))
        web.order = "/ok"
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until_at_rest(WITHDRAWAL)
        assert (RELEASE, "unsure", "killed: no longer true") in sent.outcomes()
        is_right(sent, web)
