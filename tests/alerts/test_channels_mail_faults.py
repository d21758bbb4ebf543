"""A real mail server that fails in the middle of a withdrawal: what its own mailbox holds at the end is right."""

from __future__ import annotations

import email
import time
from collections.abc import Callable
from email import policy
from pathlib import Path

import pytest
from mail_support import Sent, at_server
from mqtt_support import free_port
from server_support import Mailbox, mail_server

from shared.models.messages import DeliveryState, MessageKind

S = DeliveryState
RATE = 60.0
"""A minute of backoff is a second; the deadline stays longer than any wait for an answer."""
DEADLINE_S = 3.0
RELEASE, WITHDRAWAL = 41, 42


def held(mailbox: Mailbox) -> list[int]:
    """Return the numbers of the mails that the server keeps, in the order in which it took them."""
    subjects = (email.message_from_bytes(mail, policy=policy.default)["Subject"] for mail in mailbox.mails)
    return [
        next(no for no in (RELEASE, WITHDRAWAL) if str(no) in subject.rpartition("no. ")[2]) for subject in subjects
    ]


def is_right(sent: Sent, holds: list[int]) -> None:
    """Hold the promises against the server's own ledger."""
    assert holds, "nothing has arrived"
    assert holds[-1] == WITHDRAWAL, sent.outcomes()
    for number in (RELEASE, WITHDRAWAL):
        repeats = sum(1 for no, state, _ in sent.outcomes() if (no, state) == (number, "accepted"))
        assert holds.count(number) <= max(1, repeats) + sent.unsure(number), sent.outcomes()
    assert not any(RELEASE in holds[n:] for n, no in enumerate(holds) if no == WITHDRAWAL), "a release after it"
    assert sent.book.states(WITHDRAWAL) == {("crew", 0): S.ACCEPTED}


def mended(mailbox: Mailbox) -> None:
    mailbox.order, mailbox.at_rcpt = "accept", ""
    mailbox.let_go.set()


def ordered(order: str) -> Callable[[Mailbox], None]:
    def fault(mailbox: Mailbox) -> None:
        mailbox.order = order

    return fault


def at_rcpt(reply: str) -> Callable[[Mailbox], None]:
    def fault(mailbox: Mailbox) -> None:
        mailbox.at_rcpt = reply

    return fault


FAULTS: dict[str, Callable[[Mailbox], None]] = {
    "nothing": ordered("accept"),
    "the recipient is refused for good": at_rcpt("550 no such user"),
    "the recipient is refused for now": at_rcpt("451 try later"),
    "the mail is refused for good": ordered("554 no"),
    "the mail is refused for now": ordered("451 try later"),
    "the connection drops after DATA": ordered("drop"),
    "the mail is kept and then the connection drops": ordered("keep and drop"),
}


@pytest.mark.row("A1", "A2", "A3", "A5", "A6")
@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
@pytest.mark.parametrize("since", ["the release", "the withdrawal"])
def test_a_fault_that_ends_leaves_the_withdrawal_as_the_last_thing_held(
    tmp_path: Path, fault: Callable[[Mailbox], None], since: str
) -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        sent = Sent(at_server(port, tmp_path), deadline_s=DEADLINE_S, rate=RATE)
        if since == "the release":
            fault(mailbox)
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(lambda: len(sent.outcomes()) > 1)
        fault(mailbox)
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until(lambda: sum(no == WITHDRAWAL for no, _, _ in sent.outcomes()) > 1)
        mended(mailbox)
        sent.until_at_rest(WITHDRAWAL)
    is_right(sent, held(mailbox))


@pytest.mark.row("A4", "A5", "A6")
def test_a_server_slower_than_the_deadline_leaves_the_withdrawal_as_the_last_thing_held(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        sent = Sent(at_server(port, tmp_path), deadline_s=1.0, rate=RATE)
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(mailbox.arrived.is_set)
        sent.until(lambda: sent.unsure(RELEASE) > 0)
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until(lambda: sent.unsure(WITHDRAWAL) > 0)
        mended(mailbox)
        sent.until_at_rest(WITHDRAWAL)
    # A server that is slow has the mail all the same, and keeps it after the sender is gone.
    is_right(sent, held(mailbox))


@pytest.mark.row("A4", "A5")
def test_a_release_that_is_being_sent_is_given_up_when_its_withdrawal_is_written(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        sent = Sent(at_server(port, tmp_path), deadline_s=600, rate=1.0)
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(mailbox.arrived.is_set)
        mailbox.order = "accept"
        began = time.monotonic()
        sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
        sent.until_at_rest(WITHDRAWAL)
        assert time.monotonic() - began < 60
        assert (RELEASE, "unsure", "killed: no longer true") in sent.outcomes()
        is_right(sent, held(mailbox))


@pytest.mark.row("A1", "A5", "A6")
def test_a_server_that_is_down_and_comes_up_gets_the_withdrawal_and_no_release(tmp_path: Path) -> None:
    port, mailbox = free_port(), Mailbox()
    sent = Sent(at_server(port, tmp_path), deadline_s=DEADLINE_S, rate=RATE)
    sent.say(MessageKind.RELEASED, RELEASE)
    sent.until(lambda: (RELEASE, "waiting") in {(no, state) for no, state, _ in sent.outcomes()})
    sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
    sent.until(lambda: sum(no == WITHDRAWAL for no, _, _ in sent.outcomes()) >= 4)
    with mail_server(mailbox, port=port):
        sent.until_at_rest(WITHDRAWAL)
        is_right(sent, held(mailbox))
    assert RELEASE not in held(mailbox)
    assert sent.book.states(RELEASE) == {("crew", 0): S.SUPERSEDED}


@pytest.mark.row("A1", "A6")
def test_a_server_that_goes_down_after_the_release_was_taken_gets_the_withdrawal_when_it_is_up(tmp_path: Path) -> None:
    port, mailbox = free_port(), Mailbox()
    sent = Sent(at_server(port, tmp_path), deadline_s=DEADLINE_S, rate=RATE)
    with mail_server(mailbox, port=port):
        sent.say(MessageKind.RELEASED, RELEASE)
        sent.until(lambda: sent.book.states(RELEASE) == {("crew", 0): S.ACCEPTED})
    sent.say(MessageKind.WITHDRAWAL, WITHDRAWAL)
    sent.until(lambda: sum(no == WITHDRAWAL for no, _, _ in sent.outcomes()) >= 4)
    with mail_server(mailbox, port=port):
        sent.until_at_rest(WITHDRAWAL)
    is_right(sent, held(mailbox))
    assert held(mailbox)[0] == RELEASE
