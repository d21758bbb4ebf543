from __future__ import annotations

import email
import socket
from email import policy
from pathlib import Path
from typing import Any

import pytest
from mqtt_support import free_port
from server_support import TEXT, Mailbox, mail_server, talker

from alerts.channels import Answer
from alerts.channels.email import mail, send

PLANTED = "planted-secret"


def job(port: int, *, deadline_s: float = 5, to: str = "crew@millrace.example", number: int = 42, **server: Any) -> Any:
    return {
        "to": {"kind": "email", "to": to},
        "server": {
            "host": "127.0.0.1",
            "port": port,
            "sender": "slab@millrace.example",
            "security": "none",
            **server,
        },
        "text": {"subject": TEXT.subject, "body": TEXT.body, "short": TEXT.short},
        "html": None,
        "number": number,
        "key": f"{number}.{to.partition('@')[0]}.0",
        "site": "millrace",
        "deadline_s": deadline_s,
    }


def sent(mailbox: Mailbox, **changes: Any) -> Answer:
    with mail_server(mailbox) as port:
        return send(job(port, **changes))


def test_a_mail_arrives_whole_at_one_recipient() -> None:
    mailbox = Mailbox()
    assert sent(mailbox) == Answer("accepted", "accepted by the mail server")
    assert mailbox.recipients == [["crew@millrace.example"]]
    got = email.message_from_bytes(mailbox.mails[0], policy=policy.default)
    assert (got["From"], got["To"]) == ("slab@millrace.example", "crew@millrace.example")
    assert got["Subject"] == TEXT.subject
    assert got["MIME-Version"] == "1.0"
    assert mailbox.mails[0].count(b"\n") == mailbox.mails[0].count(b"\r\n")
    assert got["Auto-Submitted"] == "auto-generated"
    assert got["Date"] is not None
    assert got.get_content().replace("\r\n", "\n") == TEXT.body, "a line that begins with a dot stays"


def test_a_mail_with_html_says_the_plain_text_first() -> None:
    whole = mail({**job(25), "html": "<p>KEEP FORMS ON</p>"})
    assert whole.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in whole.iter_parts()] == ["text/plain", "text/html"]
    assert whole.get_body(("plain",)).get_content() == TEXT.body  # type: ignore[union-attr]  # there is one
    assert mail(job(25)).get_content_type() == "text/plain"


@pytest.mark.row("A3")
def test_a_repeat_has_the_same_message_id_and_another_number_or_recipient_has_not() -> None:
    first, again = mail(job(25))["Message-ID"], mail(job(25))["Message-ID"]
    assert first == again
    assert str(first).startswith("<slabhour.millrace.42.")
    assert len({first, mail(job(25, number=43))["Message-ID"], mail(job(25, to="qc@x.example"))["Message-ID"]}) == 3


@pytest.mark.parametrize(
    ("reply", "kind"), [("451 later", "not now"), ("421 closing", "not now"), ("550 no such user", "never")]
)
@pytest.mark.row("A1", "A2")
def test_a_refused_recipient_is_known_not_to_have_got_it(reply: str, kind: str) -> None:
    mailbox = Mailbox(at_rcpt=reply)
    assert sent(mailbox).kind == kind
    assert mailbox.mails == []


@pytest.mark.parametrize(("reply", "kind"), [("452 full", "not now"), ("554 refused", "never")])
def test_a_refused_mail_is_known_not_to_have_been_taken(reply: str, kind: str) -> None:
    assert sent(Mailbox(reply)) == Answer(kind, f"mail refused: {reply[:3]}")


@pytest.mark.row("A3")
def test_a_connection_that_breaks_after_the_mail_was_handed_over_leaves_the_outcome_unknown() -> None:
    assert sent(Mailbox("drop")).kind == "unsure"


@pytest.mark.row("A4")
def test_a_server_that_does_not_answer_after_the_mail_leaves_the_outcome_unknown() -> None:
    said = sent(Mailbox("slow"), deadline_s=0.5)
    assert said == Answer("unsure", "no answer after the mail was handed over: SMTPServerDisconnected")


def test_a_server_that_is_not_there_or_says_nothing_has_not_taken_it() -> None:
    assert send(job(free_port())) == Answer("not now", "no connection to the mail server: ConnectionRefusedError")
    with socket.create_server(("127.0.0.1", 0)) as silent:
        said = send(job(silent.getsockname()[1], deadline_s=0.3))
    assert said == Answer("not now", "no connection to the mail server: SMTPServerDisconnected")


@pytest.mark.parametrize("greeting", [b"554 no\r\n", b"nonsense\r\n", b"421 busy\r\n"])
def test_a_server_that_greets_with_a_no_may_be_asked_again(greeting: bytes) -> None:
    with talker(greeting, every_s=0.01) as port:
        assert send(job(port)).kind == "not now"


def test_logging_in_takes_the_secret_from_its_file(tmp_path: Path) -> None:
    (tmp_path / "password").write_text(PLANTED + "\n", encoding="utf-8")
    mailbox = Mailbox()
    with mail_server(mailbox, PLANTED) as port:
        assert send(job(port, user="slab", password_file=str(tmp_path / "password"))).kind == "accepted"
    assert len(mailbox.mails) == 1


@pytest.mark.row("A17")
def test_a_wrong_password_may_be_mended_and_is_never_repeated(tmp_path: Path) -> None:
    (tmp_path / "password").write_text(PLANTED, encoding="utf-8")
    with mail_server(Mailbox(), "another") as port:
        said = send(job(port, user="slab", password_file=str(tmp_path / "password")))
    assert said.kind == "not now"
    assert PLANTED not in said.text
    assert "535" in said.text


@pytest.mark.parametrize("file", [None, "not-there"])
def test_a_password_file_that_cannot_be_read_may_be_mended(file: str | None) -> None:
    assert send(job(free_port(), user="slab", password_file=file)).kind == "not now"


def test_encryption_that_was_asked_for_is_never_left_out() -> None:
    mailbox = Mailbox()
    for security in ("starttls", "tls"):
        said = sent(mailbox, security=security)
        assert said.kind == "not now", said
    assert mailbox.mails == []


def test_without_a_server_or_with_an_address_that_cannot_be_written_there_is_no_use_in_trying() -> None:
    assert send({**job(25), "server": {}}).kind == "never"
    assert send(job(25, to="crëw@millrace.example")).kind == "never"
