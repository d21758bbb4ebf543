"""A mail server and a web server on this machine that do what a test orders, and write down what they got."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, LoginPassword
from mqtt_support import free_port

from shared.models.messages import Text

TEXT = Text(
    "KEEP FORMS ON, do not strip - bay 2-b1 - no. 42",
    "KEEP FORMS ON\nat 5 °C = 41 °F\n.dot\n" + "long " * 60 + "\n",
    "KEEP FORMS ON no. 42",
)


@dataclass
class Mailbox:
    """An aiosmtpd handler: `order` says what becomes of a mail."""

    order: str = "accept"
    """accept, or a reply to DATA such as "451 later", or "drop", "keep and drop" or "slow" after DATA."""
    at_rcpt: str = ""
    mails: list[bytes] = field(default_factory=list)
    recipients: list[list[str]] = field(default_factory=list)
    arrived: threading.Event = field(default_factory=threading.Event)
    let_go: threading.Event = field(default_factory=threading.Event)

    async def handle_RCPT(  # noqa: N802 - aiosmtpd's name
        self, _server: SMTP, _session: Any, envelope: Any, address: str, _options: Any
    ) -> str:
        if self.at_rcpt:
            return self.at_rcpt
        envelope.rcpt_tos.append(address)
        return "250 ok"

    async def handle_DATA(self, server: SMTP, _session: Any, envelope: Any) -> str:  # noqa: N802 - aiosmtpd's name
        self.arrived.set()
        if self.order == "slow":
            while not self.let_go.is_set():
                await asyncio.sleep(0.02)
        if self.order == "keep and drop":
            self._keep(envelope)
        if self.order in {"drop", "keep and drop"}:
            assert isinstance(server.transport, asyncio.Transport)
            server.transport.abort()
            return "250 never heard"
        if self.order not in {"accept", "slow"}:
            return self.order
        self._keep(envelope)
        return "250 kept"

    def _keep(self, envelope: Any) -> None:
        self.mails.append(envelope.original_content)
        self.recipients.append(list(envelope.rcpt_tos))


@contextmanager
def mail_server(mailbox: Mailbox, secret: str | None = None, port: int | None = None) -> Iterator[int]:
    """Lend the port of a running mail server; with a secret it wants a user to log in."""

    def known(server: Any, session: Any, envelope: Any, mechanism: str, data: LoginPassword) -> AuthResult:
        good = secret is not None and data.password == secret.encode()
        return AuthResult(success=good, handled=good)

    controller = Controller(
        mailbox,
        hostname="127.0.0.1",
        port=port or free_port(),
        authenticator=known if secret else None,
        auth_require_tls=False,
    )
    controller.start()
    try:
        yield controller.port
    finally:
        mailbox.let_go.set()
        controller.stop()


@contextmanager
def talker(*lines: bytes, every_s: float = 0.3) -> Iterator[int]:
    """Lend the port of a server that says lines for ever, slowly, whatever it is told."""
    over = threading.Event()

    def talk(server: socket.socket) -> None:
        server.settimeout(0.05)
        while not over.is_set():
            try:
                client, _ = server.accept()
            except TimeoutError:
                continue
            with client:
                n = 0
                while not over.wait(every_s):
                    try:
                        client.sendall(lines[min(n, len(lines) - 1)])
                    except OSError:
                        break
                    n += 1

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=talk, args=(server,))
        thread.start()
        try:
            yield int(server.getsockname()[1])
        finally:
            over.set()
            thread.join()


@dataclass
class Request:
    """A POST as it came in."""

    path: str
    headers: dict[str, str]
    body: bytes
    order: str
    """The path whose answer it got."""


class Web(ThreadingHTTPServer):
    """Answers by path, and keeps what came."""

    daemon_threads = False

    def __init__(self, port: int = 0) -> None:
        super().__init__(("127.0.0.1", port), _Handler)
        self.requests: list[Request] = []
        self.order = "/ok"
        """What a POST to "/ordered" gets: the answer of another path."""
        self.let_go = threading.Event()

    def url(self, path: str) -> str:
        """Return the address of a path."""
        return f"http://127.0.0.1:{self.server_port}{path}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that hung up is what some tests are about."""


class _Handler(BaseHTTPRequestHandler):
    ANSWERS: ClassVar[dict[str, tuple[int, str, bytes]]] = {
        "/ok": (200, "application/json", b'{"accepted": true}'),
        "/silent-yes": (200, "text/html", b""),
        "/other": (200, "application/json", b'{"id": 7}'),
        "/text": (202, "text/plain", b"queued"),
        "/declined": (200, "application/json", b'{"accepted": false}'),
        "/empty": (204, "", b""),
        "/null-error": (200, "application/json", b'{"error": null}'),
        "/error": (200, "application/json", b'{"error": "no credit"}'),
        "/page": (200, "text/html; charset=utf-8", b"<html>please sign in</html>"),
        "/redirect": (302, "text/html", b""),
        "/moved": (308, "", b""),
        "/bad": (400, "application/json", b"{}"),
        "/gone": (410, "", b""),
        "/busy": (429, "", b""),
        "/broken": (500, "", b""),
        "/away": (503, "", b""),
        "/huge": (200, "text/plain", b"x" * 70_000),
    }

    server: Web

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        # "/ok/more" gets what "/ok" gets.
        path = "/" + self.path.partition("?")[0].split("/")[1]
        path = self.server.order if path == "/ordered" else path
        self.server.requests.append(Request(self.path, dict(self.headers.items()), body, path))
        if path == "/slow":
            self.server.let_go.wait(20)
        if path in {"/slow", "/drop"}:
            self.close_connection = True
            return
        status, kind, said = self.ANSWERS[path]
        self.send_response(status)
        if status in {302, 308}:
            self.send_header("Location", self.server.url("/ok"))
        if kind:
            self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(said)))
        self.end_headers()
        self.wfile.write(said)

    def log_message(self, *args: Any) -> None:
        """Say nothing."""


@contextmanager
def web_server(port: int = 0) -> Iterator[Web]:
    """Lend a running web server, on a free port unless one is given."""
    with Web(port) as web:
        thread = threading.Thread(target=web.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield web
        finally:
            web.let_go.set()
            web.shutdown()
            thread.join()
