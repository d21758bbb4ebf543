"""The whole way: a dispatcher with threads, its children, and a server that they send to."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from alerts_book import MemoryBook
from alerts_support import Site, alerts_setup, make_gate, make_told
from mail_support import at_server
from server_support import Mailbox, mail_server, web_server

from alerts.dispatcher import Dispatcher
from alerts.transport import ChildTransport
from shared.clock import SystemClock
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind

PLANTED = "planted-secret"


class Mailing:
    """A dispatcher that sends real mails of a book in memory."""

    def __init__(self, port: int, folder: Path, deadline_s: float = 20) -> None:
        self.book = MemoryBook()
        self.clock = SystemClock()
        setup = at_server(port, folder)
        transport = ChildTransport(setup, deadline_s)
        self.dispatcher = Dispatcher(setup, self.book, self.clock, transport, workers=2)

    def say(self, kind: MessageKind, no: int, state: GateState) -> None:
        self.book.put(make_told(kind, no, at_ms=self.clock.now()), make_gate(state))

    def until(self, done: Callable[[], bool]) -> None:
        for _ in range(1000):
            self.dispatcher.run_due()
            if done():
                return
            threading.Event().wait(0.02)
        raise AssertionError("not done after twenty seconds")


@pytest.mark.row("A4", "A5")
def test_a_withdrawal_in_the_middle_of_a_slow_release_arrives_within_seconds_and_last(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        mailing = Mailing(port, tmp_path)
        mailing.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        mailing.until(mailbox.arrived.is_set)
        mailbox.order = "accept"
        began = time.monotonic()
        mailing.say(MessageKind.WITHDRAWAL, 42, GateState.WITHDRAWN)
        mailing.until(lambda: mailing.book.states(42) == {("crew", 0): DeliveryState.ACCEPTED})
        took = time.monotonic() - began
        mailing.until(lambda: mailing.book.states(41) == {("crew", 0): DeliveryState.SUPERSEDED})
        mailing.dispatcher.close()
    assert took < 5
    assert b"KEEP FORMS ON" in mailbox.mails[-1]


@pytest.mark.row("A2")
def test_a_refused_recipient_ends_refused(tmp_path: Path) -> None:
    with mail_server(Mailbox(at_rcpt="550 no such user")) as port:
        mailing = Mailing(port, tmp_path)
        mailing.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        mailing.until(lambda: mailing.book.states(41) == {("crew", 0): DeliveryState.REFUSED})
        mailing.dispatcher.close()
    assert [d.outcome for d in mailing.book.rows.deliveries.values()] == ["recipient refused: 550"]


@pytest.mark.row("A3")
def test_a_mail_whose_answer_was_lost_is_unsure_and_waits_for_its_repeat(tmp_path: Path) -> None:
    with mail_server(Mailbox("drop")) as port:
        mailing = Mailing(port, tmp_path)
        mailing.say(MessageKind.RELEASED, 41, GateState.RELEASED)
        mailing.until(lambda: mailing.book.states(41) == {("crew", 0): DeliveryState.WAITING})
        mailing.dispatcher.close()
    states = [e.body["state"] for e in mailing.book.rows.log]
    assert states == ["calling", "unsure", "waiting"]
    assert mailing.book.rows.deliveries[1].was_unsure


@pytest.mark.row("A17")
def test_no_log_of_a_failing_attempt_holds_a_secret_or_an_address(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "hook").write_text(PLANTED, encoding="utf-8")
    with web_server() as web, caplog.at_level("DEBUG"):
        hook = {"kind": "webhook", "url": web.url(f"/drop?token={PLANTED}"), "secret_file": "hook"}
        setup = alerts_setup(str(tmp_path), recipient=[{"id": "qc", "role": "qc", "channels": [hook]}])
        site = Site(setup=setup)
        site.dispatcher = Dispatcher(setup, site.book, site.clock, ChildTransport(setup, 5))
        site.withdraw()
        site.run()
        assert len(web.requests) == 1
    assert PLANTED not in caplog.text + repr(site.book.rows.log)
