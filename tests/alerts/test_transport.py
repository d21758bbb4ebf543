from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from alerts_book import MemoryBook
from alerts_support import Site, alerts_setup, make_gate, make_told
from server_support import TEXT, Mailbox, mail_server, talker, web_server

from alerts.dispatcher import Dispatcher
from alerts.transport import ChildTransport, outcome_of
from shared.clock import SystemClock
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind, Outcome, OutcomeKind
from shared.models.setup import Address, EmailAddress, InboxFile, Setup, WebhookUrl

HOOK, PASSWORD = "hook", "password"
PLANTED = "planted-secret"
CREW = EmailAddress(kind="email", to="crew@millrace.example")


def at_server(port: int, folder: Path, **server: Any) -> Setup:
    return alerts_setup(
        str(folder),
        recipient=[
            {"id": "crew", "role": "crew", "shift": "00:00-00:00", "channels": [CREW.model_dump()]},
        ],
        channel={"email": {"host": "127.0.0.1", "port": port, "sender": "slab@millrace.example", **server}},
    )


def always() -> bool:
    return True


def once(setup: Setup, address: Address, *, deadline_s: float = 5, still_true: Callable[[], bool] = always) -> Outcome:
    return ChildTransport(setup, deadline_s).send(TEXT, address, 42, still_true)


def test_a_child_sends_a_mail_and_says_so(tmp_path: Path) -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        said = once(at_server(port, tmp_path), CREW)
    assert said == Outcome(OutcomeKind.ACCEPTED, "accepted by the mail server")
    assert len(mailbox.mails) == 1


def test_a_child_writes_into_the_inbox_of_the_data_folder(tmp_path: Path) -> None:
    (tmp_path / "var").mkdir()
    said = once(alerts_setup(str(tmp_path)), InboxFile(kind="inbox"))
    assert said.kind is OutcomeKind.ACCEPTED
    line = (tmp_path / "var" / "inbox.jsonl").read_text(encoding="utf-8")
    assert json.loads(line)["subject"] == TEXT.subject


def test_a_child_reads_the_webhooks_secret_beside_the_site_file(tmp_path: Path) -> None:
    (tmp_path / "hook").write_text(PLANTED, encoding="utf-8")
    with web_server() as web:
        said = once(alerts_setup(str(tmp_path)), WebhookUrl(kind="webhook", url=web.url("/ok"), secret_file=HOOK))
        assert said == Outcome(OutcomeKind.ACCEPTED, "answered 200")
        assert "Slabhour-Signature" in web.requests[0].headers


@pytest.mark.row("A4")
def test_an_attempt_that_never_ends_is_killed_at_its_deadline_and_unsure(tmp_path: Path) -> None:
    with talker(b"220-wait\r\n") as port:
        began = time.monotonic()
        said = once(at_server(port, tmp_path), CREW, deadline_s=1)
        took = time.monotonic() - began
    assert said == Outcome(OutcomeKind.UNSURE, "killed at its deadline")
    assert 1 <= took < 3


@pytest.mark.row("A4", "A5")
def test_an_attempt_is_killed_soon_after_its_message_is_no_longer_true(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        began = time.monotonic()
        said = once(at_server(port, tmp_path), CREW, deadline_s=20, still_true=lambda: not mailbox.arrived.is_set())
        took = time.monotonic() - began
    assert said == Outcome(OutcomeKind.UNSURE, "killed: no longer true")
    assert took < 5


def test_what_is_not_true_from_the_start_is_not_begun(tmp_path: Path) -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        said = once(at_server(port, tmp_path), CREW, still_true=lambda: False)
    assert said.kind is OutcomeKind.NOT_NOW
    assert not mailbox.arrived.is_set()


def test_a_watch_that_breaks_does_not_leave_its_child_running(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")

    def breaks() -> bool:
        if mailbox.arrived.is_set():
            raise RuntimeError("a bug")
        return True

    with mail_server(mailbox) as port:
        with pytest.raises(RuntimeError):
            once(at_server(port, tmp_path), CREW, deadline_s=20, still_true=breaks)
        assert children_of(os.getpid()) == []


def children_of(pid: int) -> list[str]:
    return Path(f"/proc/{pid}/task/{threading.main_thread().native_id}/children").read_text(encoding="ascii").split()


@pytest.mark.parametrize(
    "line", ["", "{", "[]", "null", "{}", '{"kind": "perhaps", "text": ""}', '{"kind": "accepted"}']
)
def test_an_answer_that_is_not_whole_leaves_the_outcome_unknown(line: str) -> None:
    assert outcome_of(line) == Outcome(OutcomeKind.UNSURE, "the sender died")


def test_a_sender_that_cannot_be_started_has_not_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", str(tmp_path / "no-python"))
    assert once(alerts_setup(str(tmp_path)), InboxFile(kind="inbox")).kind is OutcomeKind.NOT_NOW


def test_the_deadline_is_that_of_the_mail_server_or_twenty_seconds(tmp_path: Path) -> None:
    assert ChildTransport(at_server(25, tmp_path, deadline_s=7)).deadline_s == 7
    assert ChildTransport(alerts_setup()).deadline_s == 20


@pytest.mark.row("A17")
def test_a_secret_is_in_no_command_line_and_in_no_answer(tmp_path: Path) -> None:
    (tmp_path / "password").write_text(PLANTED, encoding="utf-8")
    seen: list[str] = []

    def look() -> bool:
        for child in children_of(os.getpid()):
            files = (Path(f"/proc/{child}/{part}") for part in ("cmdline", "environ"))
            seen.extend(file.read_bytes().decode("utf-8", "replace") for file in files)
        return len(seen) < 4

    with talker(b"220-wait\r\n") as port:
        setup = at_server(port, tmp_path, user="slab", password_file=PASSWORD)
        said = once(setup, CREW, deadline_s=5, still_true=look)
    assert any("alerts.sender" in s for s in seen)
    assert PLANTED not in "".join(seen) + said.text


@pytest.mark.row("A4", "H2")
def test_a_sender_ends_with_a_service_that_is_killed(tmp_path: Path) -> None:
    """Else it could deliver a release after the withdrawal that the next start sends."""
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        job = {"port": port, "folder": str(tmp_path)}
        service = subprocess.Popen([sys.executable, "-m", "sending_process", json.dumps(job)], env=with_support())
        try:
            assert mailbox.arrived.wait(10)
            (child,) = Path(f"/proc/{service.pid}/task/{service.pid}/children").read_text(encoding="ascii").split()
        finally:
            service.send_signal(signal.SIGKILL)
            service.wait()
        assert gone(int(child))
        mailbox.let_go.set()


def with_support() -> dict[str, str]:
    paths = [str(Path(__file__).parents[1] / "support"), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths))}


def gone(pid: int) -> bool:
    """Wait until a process that is not our child has ended."""
    for _ in range(200):
        try:
            state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
        except FileNotFoundError:
            return True
        if state == "Z":
            return True
        threading.Event().wait(0.02)
    return False


# The whole way: a dispatcher with threads, children, and a mail server -----------------------------------------------


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
