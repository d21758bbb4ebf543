"""A web server that answers as a test orders, in place of an InfluxDB."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass(frozen=True)
class Answer:
    """What a server is ordered to say."""

    status: int = 204
    body: bytes = b""
    retry_after: str = ""
    hang: bool = False


@dataclass(frozen=True)
class Asked:
    """A request as it came in, and the status that it got."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes
    status: int


class Ordered(ThreadingHTTPServer):
    """Says its answers one after the other, the last one for ever; a line with an order of its own gets that."""

    daemon_threads = True

    def __init__(self, answers: Sequence[Answer]) -> None:
        super().__init__(("127.0.0.1", 0), _OrderedHandler)
        self.answers = list(answers)
        self.unless: dict[bytes, Answer] = {}
        self.queries: Answer | None = None
        self.paths: dict[str, Answer] = {}
        """By method and path without what is asked, such as "GET /ping"."""
        self.requests: list[Asked] = []

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.server_port}"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A client that hung up is what some tests are about."""

    def answer(self, what: str, body: bytes) -> Answer:
        """Return what is ordered."""
        for line, own in self.unless.items():
            if line in body.split(b"\n"):
                return own
        if what in self.paths:
            return self.paths[what]
        if self.queries is not None and what.endswith(" /query"):
            return self.queries
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]


class _OrderedHandler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    wbufsize = -1
    server: Ordered

    def do_GET(self) -> None:
        self.do_POST()

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        said = self.server.answer(f"{self.command} {self.path.partition('?')[0]}", body)
        asked = Asked(self.command, self.path, dict(self.headers.items()), body, said.status)
        self.server.requests.append(asked)
        if said.hang:
            threading.Event().wait(1.0)
            self.close_connection = True
            return
        self.send_response(said.status)
        if said.retry_after:
            self.send_header("Retry-After", said.retry_after)
        if self.path == "/ping":
            self.send_header("X-Influxdb-Version", "v2.7.10")
        if said.status != 204:
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(said.body)))
        self.end_headers()
        self.wfile.write(said.body if said.status != 204 else b"")

    def log_message(self, *args: Any) -> None:
        """Say nothing."""


@contextmanager
def ordered(
    *answers: Answer,
    unless: Mapping[bytes, Answer] | None = None,
    queries: Answer | None = None,
    paths: Mapping[str, Answer] | None = None,
) -> Iterator[Ordered]:
    """Lend a server that says what it is ordered to."""
    with Ordered(answers) as running:
        running.unless, running.queries, running.paths = dict(unless or {}), queries, dict(paths or {})
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield running
        finally:
            running.shutdown()
            thread.join()
