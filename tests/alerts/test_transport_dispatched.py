"""The whole way: a dispatcher with threads, its children, and a server that they send to."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from alerts_support import Site
from mail_support import Sent, at_server, at_web
from server_support import Mailbox, mail_server, web_server

from alerts.dispatcher import Dispatcher
from alerts.transport import ChildTransport
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind

PLANTED = "planted-secret"


@pytest.mark.row("A4", "A5")
def test_a_withdrawal_in_the_middle_of_a_slow_release_arrives_within_seconds_and_last(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        sent = Sent(at_server(port, tmp_path), deadline_s=600)
        sent.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        sent.until(mailbox.arrived.is_set)
        mailbox.order = "accept"
        began = time.monotonic()
        sent.say(MessageKind.WITHDRAWAL, 42, GateState.WITHDRAWN)
        sent.until(lambda: sent.book.states(42) == {("crew", 0): DeliveryState.ACCEPTED})
        took = time.monotonic() - began
        sent.until(lambda: sent.book.states(41) == {("crew", 0): DeliveryState.SUPERSEDED})
        sent.dispatcher.close()
    assert took < 60
    assert b"KEEP FORMS ON" in mailbox.mails[-1]


@pytest.mark.row("A2")
def test_a_refused_recipient_ends_refused(tmp_path: Path) -> None:
    with mail_server(Mailbox(at_rcpt="550 no such user")) as port:
        sent = Sent(at_server(port, tmp_path))
        sent.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        sent.until(lambda: sent.book.states(41) == {("crew", 0): DeliveryState.REFUSED})
        sent.dispatcher.close()
    assert [d.outcome for d in sent.book.rows.deliveries.values()] == ["recipient refused: 550"]


@pytest.mark.row("A3")
def test_a_mail_whose_answer_was_lost_is_unsure_and_waits_for_its_repeat(tmp_path: Path) -> None:
    with mail_server(Mailbox("drop")) as port:
        sent = Sent(at_server(port, tmp_path))
        sent.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        sent.until(lambda: sent.book.states(41) == {("crew", 0): DeliveryState.WAITING})
        sent.dispatcher.close()
    states = [e.body["state"] for e in sent.book.rows.log]
    assert states == ["calling", "unsure", "waiting"]
    assert sent.book.rows.deliveries[1].was_unsure


@pytest.mark.row("A17")
def test_no_log_of_a_failing_attempt_holds_a_secret_or_an_address(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with web_server() as web, caplog.at_level("DEBUG"):
        setup = at_web(web, tmp_path, f"/drop?token={PLANTED}")
        (tmp_path / "hook").write_text(PLANTED, encoding="utf-8")
        site = Site(setup=setup)
        site.dispatcher = Dispatcher(setup, site.book, site.clock, ChildTransport(setup, 5))
        site.withdraw()
        site.run()
        assert len(web.requests) == 1
    assert PLANTED not in caplog.text + repr(site.book.rows.log)
