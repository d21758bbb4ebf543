"""Channel "email": SMTP, one recipient a call, the outcome told apart by the step at which it failed."""

from __future__ import annotations

import smtplib
import ssl
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import formatdate
from pathlib import Path
from typing import Any, Final

from alerts.channels import Answer, Job, accepted, never, not_now, unsure

_STEP_SHARE: Final = 0.8
"""Of the deadline: one step's timeout, so that a hanging server is reported before the child is killed."""


class _RefusedError(Exception):
    """The server said no."""

    def __init__(self, answer: Answer) -> None:
        super().__init__()
        self.answer = answer


def send(job: Job) -> Answer:
    """Try once. Nothing has been accepted before the final dot; after it, silence means unsure."""
    server: dict[str, Any] = job["server"]
    if not server:
        return never("no mail server is set up")
    if not job["to"]["to"].isascii():
        return never("the address has letters that this mail channel cannot write")
    try:
        secret = _secret(server)
    except OSError as error:
        return not_now(f"the password file cannot be read: {error.strerror}")
    data = mail(job).as_bytes(policy=SMTP)
    try:
        smtp = _connected(server, job["deadline_s"] * _STEP_SHARE)
    except (OSError, smtplib.SMTPException) as error:
        return not_now(f"no connection to the mail server: {_why(error)}")
    try:
        return _converse(smtp, server, secret, job["to"]["to"], data)
    finally:
        # Not quit(): waiting for a farewell could turn an accepted mail into one that was killed at its deadline.
        smtp.close()


def mail(job: Job) -> EmailMessage:
    """Return the mail. Its Message-ID is the same for every attempt, so that a repeat is the same mail."""
    to, sender = job["to"]["to"], job["server"]["sender"]
    message = EmailMessage(policy=SMTP)
    message["From"] = sender
    message["To"] = to
    message["Subject"] = job["text"]["subject"]
    message["Date"] = formatdate(localtime=False)
    message["Message-ID"] = f"<slabhour.{job['site']}.{job['key']}@{sender.rpartition('@')[2]}>"
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(job["text"]["body"])
    if job["html"] is not None:
        message.add_alternative(job["html"], subtype="html")
    return message


def _secret(server: dict[str, Any]) -> str | None:
    if not server.get("user"):
        return None
    return Path(server.get("password_file") or "").read_text(encoding="utf-8").strip()


def _connected(server: dict[str, Any], timeout_s: float) -> smtplib.SMTP:
    host, port = server["host"], server["port"]
    # Named after the sender: smtplib would ask the name service for this machine's own name, and may wait for it.
    name = server["sender"].rpartition("@")[2]
    if server["security"] == "tls":
        return smtplib.SMTP_SSL(host, port, name, timeout=timeout_s, context=ssl.create_default_context())
    return smtplib.SMTP(host, port, name, timeout=timeout_s)


def _converse(smtp: smtplib.SMTP, server: dict[str, Any], secret: str | None, to: str, data: bytes) -> Answer:
    try:
        _log_in(smtp, server, secret)
        _expect(smtp.mail(server["sender"]), "sender")
        _expect(smtp.rcpt(to), "recipient")
        code, said = smtp.docmd("DATA")
        if code != 354:
            _expect((code, said), "data")
            return not_now("data: an answer out of order")
    except _RefusedError as refused:
        return refused.answer
    except (OSError, smtplib.SMTPException) as error:
        return not_now(f"the mail server broke off: {_why(error)}")
    return _deliver(smtp, data)


def _log_in(smtp: smtplib.SMTP, server: dict[str, Any], secret: str | None) -> None:
    """Greet, encrypt and authenticate. A no here is about the set-up, which can be mended: never "for good"."""
    smtp.ehlo_or_helo_if_needed()
    if server["security"] == "starttls":
        smtp.starttls(context=ssl.create_default_context())
        smtp.ehlo()
    if secret is not None:
        smtp.login(server["user"], secret)


def _expect(reply: tuple[int, bytes], step: str) -> None:
    code = reply[0]
    if 200 <= code < 300:
        return
    raise _RefusedError((never if 500 <= code < 600 else not_now)(f"{step} refused: {code}"))


def _deliver(smtp: smtplib.SMTP, data: bytes) -> Answer:
    stuffed = b"\r\n".join(b"." + line if line.startswith(b".") else line for line in data.split(b"\r\n"))
    ending = b".\r\n" if stuffed.endswith(b"\r\n") else b"\r\n.\r\n"
    try:
        smtp.send(stuffed + ending)
        _expect(smtp.getreply(), "mail")
    except _RefusedError as refused:
        return refused.answer
    except (OSError, smtplib.SMTPException) as error:
        return unsure(f"no answer after the mail was handed over: {_why(error)}")
    return accepted("accepted by the mail server")


def _why(error: Exception) -> str:
    """Return the kind of failure; its text might quote an address, a user or a secret."""
    if isinstance(error, smtplib.SMTPResponseException):
        return f"{type(error).__name__} {error.smtp_code}"
    return type(error).__name__
