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

import pytest
from alerts_support import alerts_setup
from mail_support import CREW, at_server, at_web
from server_support import TEXT, Mailbox, mail_server, talker, web_server
from store_support import T0

from alerts.transport import Attempt, ChildTransport, outcome_of
from shared.models.base import RecipientId
from shared.models.messages import Outcome, OutcomeKind
from shared.models.people import Address, InboxFile, ReachUrl, WebhookUrl
from shared.models.setup import Setup

HOOK, PASSWORD = "hook", "password"
PLANTED = "planted-secret"


def always() -> bool:
    return True


def once(setup: Setup, address: Address, *, deadline_s: float = 5, still_true: Callable[[], bool] = always) -> Outcome:
    attempt = Attempt(TEXT, address, (42,), RecipientId("crew"), 0, T0)
    return ChildTransport(setup, deadline_s).send(attempt, still_true)


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
    with web_server() as web:
        said = once(at_web(web, tmp_path), WebhookUrl(kind="webhook", url=web.url("/ok"), secret_file=HOOK))
        assert said == Outcome(OutcomeKind.ACCEPTED, "answered 200")
        assert "Slabhour-Signature" in web.requests[0].headers


@pytest.mark.row("M16")
def test_a_webhook_to_a_host_that_the_site_does_not_name_is_not_begun(tmp_path: Path) -> None:
    with web_server() as web:
        address = WebhookUrl(kind="webhook", url=web.url("/ok"), secret_file=HOOK)
        (tmp_path / HOOK).write_text(PLANTED, encoding="utf-8")
        said = once(alerts_setup(str(tmp_path)), address)
        assert said == Outcome(OutcomeKind.NEVER, "its host is not among webhook_hosts")
        assert web.requests == []


@pytest.mark.row("A17")
def test_a_child_reaches_through_apprise_and_its_url_is_in_no_command_line(tmp_path: Path) -> None:
    with web_server() as web:
        url = web.url(f"/ok/{PLANTED}").replace("http://", "json://")
        (tmp_path / "url").write_text(url, encoding="utf-8")
        seen: list[bytes] = []

        def look() -> bool:
            seen.extend(Path(f"/proc/{child}/cmdline").read_bytes() for child in senders())
            return True

        said = once(alerts_setup(str(tmp_path)), ReachUrl(kind="reach", url_file="url"), still_true=look)
        assert said == Outcome(OutcomeKind.ACCEPTED, "accepted through apprise")
        assert TEXT.short.encode() in web.requests[0].body
    assert PLANTED.encode() not in b"".join(seen)


def test_each_message_recipient_and_channel_has_a_key_of_its_own_and_the_same_for_each_attempt() -> None:
    def key(*numbers: int, who: str = "crew", channel: int = 0, at_ms: int = T0) -> str:
        return Attempt(TEXT, CREW, numbers, RecipientId(who), channel, at_ms).key

    assert key(42) == key(42, at_ms=T0 + 1)
    assert len({key(42), key(43), key(42, 43), key(42, who="qc"), key(42, channel=1)}) == 5


@pytest.mark.row("A4")
def test_an_attempt_that_never_ends_is_killed_at_its_deadline_and_unsure(tmp_path: Path) -> None:
    with talker(b"220-wait\r\n") as port:
        began = time.monotonic()
        said = once(at_server(port, tmp_path), CREW, deadline_s=1)
        took = time.monotonic() - began
    assert said == Outcome(OutcomeKind.UNSURE, "killed at its deadline")
    assert 1 <= took < 60


@pytest.mark.row("A4", "A5")
def test_an_attempt_is_killed_soon_after_its_message_is_no_longer_true(tmp_path: Path) -> None:
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        began = time.monotonic()
        said = once(at_server(port, tmp_path), CREW, deadline_s=600, still_true=lambda: not mailbox.arrived.is_set())
        took = time.monotonic() - began
    assert said == Outcome(OutcomeKind.UNSURE, "killed: no longer true")
    assert took < 60


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
        assert senders() == []


def senders() -> list[str]:
    """Return our children that send; a test session may have others."""
    listed = Path(f"/proc/{os.getpid()}/task/{threading.main_thread().native_id}/children").read_text(encoding="ascii")
    return [child for child in listed.split() if b"alerts.sender" in Path(f"/proc/{child}/cmdline").read_bytes()]


@pytest.mark.parametrize("begun", ["", "begun\n"])
@pytest.mark.parametrize("line", ["{", "[]", "null", "{}", '{"kind": "perhaps", "text": ""}', '{"kind": "accepted"}'])
def test_an_answer_that_is_not_whole_leaves_the_outcome_unknown(begun: str, line: str) -> None:
    assert outcome_of(begun + line) == Outcome(OutcomeKind.UNSURE, "the sender died")


@pytest.mark.parametrize("said", ["b", "begun", "begun\n", "begun\nbegun\n"])
@pytest.mark.row("A3", "A8")
def test_a_sender_that_may_have_begun_leaves_the_outcome_unknown(said: str) -> None:
    assert outcome_of(said) == Outcome(OutcomeKind.UNSURE, "the sender died")


def test_an_answer_stands_with_and_without_a_beginning() -> None:
    for begun in ("", "begun\n"):
        assert outcome_of(begun + '{"kind": "not now", "text": "x"}') == Outcome(OutcomeKind.NOT_NOW, "x")


def test_a_sender_that_was_killed_before_it_began_has_sent_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    slow = tmp_path / "slow-python"
    slow.write_text("#!/bin/sh\nexec sleep 30\n", encoding="utf-8")
    slow.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(slow))
    said = once(alerts_setup(str(tmp_path)), InboxFile(kind="inbox"), deadline_s=0.3)
    assert said == Outcome(OutcomeKind.NOT_NOW, "killed at its deadline, before it began")


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
        for child in senders():
            files = (Path(f"/proc/{child}/{part}") for part in ("cmdline", "environ"))
            seen.extend(file.read_bytes().decode("utf-8", "replace") for file in files)
        return len(seen) < 4

    with talker(b"220-wait\r\n") as port:
        setup = at_server(port, tmp_path, user="slab", password_file=PASSWORD)
        said = once(setup, CREW, deadline_s=5, still_true=look)
    assert any("alerts.sender" in s for s in seen)
    assert PLANTED not in "".join(seen) + said.text


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_what_ends_the_service_from_outside_does_not_end_its_attempts(tmp_path: Path, number: int) -> None:
    """Ctrl-C reaches a terminal's whole group, a host that stops a service every process of it."""
    mailbox, sent = Mailbox("slow"), threading.Event()

    def look() -> bool:
        if mailbox.arrived.is_set() and not sent.is_set():
            (child,) = senders()
            assert os.getpgid(int(child)) != os.getpgrp()
            os.kill(int(child), number)
            sent.set()
            mailbox.let_go.set()
        return True

    with mail_server(mailbox) as port:
        said = once(at_server(port, tmp_path), CREW, deadline_s=20, still_true=look)
    assert sent.is_set()
    assert said == Outcome(OutcomeKind.ACCEPTED, "accepted by the mail server")
    assert len(mailbox.mails) == 1


@pytest.mark.row("A4", "H2")
def test_a_sender_ends_with_a_service_that_is_killed(tmp_path: Path) -> None:
    """Else it could deliver a release after the withdrawal that the next start sends."""
    mailbox = Mailbox("slow")
    with mail_server(mailbox) as port:
        job = {"port": port, "folder": str(tmp_path)}
        service = subprocess.Popen([sys.executable, "-m", "sending_process", json.dumps(job)], env=with_support())
        try:
            assert mailbox.arrived.wait(60)
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
