"""The web server: one socket, one thread, an application. What strangers can hold open in it is bounded."""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from deploy.pem import pem_files
from shared.errors import WebError
from shared.models.setup import Setup
from shared.web_headers import HEADERS

LOG: Final = logging.getLogger(__name__)
LOOPBACK: Final = "127.0.0.1"
MOST_CONNECTIONS: Final = 256
"""At once, those still agreeing on a cipher included: a process has some thousand files, and the stores need theirs."""
ARRIVES_WITHIN_S: Final = 20.0
"""A request, from its connection's first moment (or its own first byte) to the last byte of its body."""
LAST_ANSWERS_S: Final = 5
START_S: Final = 15.0


@dataclass(frozen=True, slots=True)
class WebAddress:
    """Where the web server is reached, and by which certificate."""

    host: str = LOOPBACK
    port: int = 0
    cert_file: Path | None = None
    key_file: Path | None = None

    @property
    def url(self) -> str:
        """As a browser takes it."""
        return f"{'http' if self.cert_file is None else 'https'}://{self.host}:{self.port}"


def web_address(setup: Setup) -> WebAddress:
    """Return where the site file wants the web server. Raises `SetupError` when a file of it is not there."""
    web = setup.site.web
    return WebAddress(web.listen or LOOPBACK, web.port, *pem_files(setup, "web", web))


def tls_context(address: WebAddress) -> ssl.SSLContext | None:
    """Return how the server speaks TLS; None: it does not. Raises `WebError`: certificate and key do not fit."""
    if address.cert_file is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(address.cert_file, address.key_file)
    except (OSError, ssl.SSLError) as error:
        said = f"[web] cert_file {address.cert_file} and key_file {address.key_file} cannot be used"
        raise WebError(f"{said}: {error}") from error
    return context


class _Door(socket.socket):
    """A listening socket that hangs up at once on whoever is one too many."""

    def __init__(self, address: WebAddress) -> None:
        super().__init__(socket.AF_INET, socket.SOCK_STREAM)
        self._inside: list[socket.socket] = []
        # A port that only waits out its old connections is free.
        self.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self.bind((address.host, address.port))
        except OSError as error:
            self.close()
            said = f"port {address.port} at {address.host} is not free for the web pages ({error.strerror})"
            raise WebError(f"{said}; set another in [web]") from error

    def accept(self) -> tuple[socket.socket, Any]:
        connection, peer = super().accept()
        self._inside = [one for one in self._inside if one.fileno() != -1]
        if len(self._inside) >= MOST_CONNECTIONS:
            connection.close()
            # The event loop takes this for one that went away by itself.
            raise ConnectionAbortedError
        self._inside.append(connection)
        return connection, peer


class PatientProtocol(H11Protocol):
    """HTTP/1.1 whose patience ends: a request has a time to arrive whole, however it drips."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn narrows it
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        self._leave_off()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """Answer what is no request, with the headers that every answer bears."""
        headers = {"Content-Type": "text/plain; charset=utf-8", "Connection": "close", **HEADERS}
        response = h11.Response(status_code=400, headers=list(headers.items()), reason=b"Bad Request")
        for event in (response, h11.Data(data=msg.encode("ascii")), h11.EndOfMessage()):
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()

    def _watch(self) -> None:
        if self.conn.their_state not in {h11.IDLE, h11.SEND_BODY}:
            self._leave_off()
        elif self._late is None:
            self._late = self.loop.call_later(ARRIVES_WITHIN_S, self.transport.abort)

    def _leave_off(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None


class _Turning(uvicorn.Server):
    turned = 0.0

    async def on_tick(self, counter: int) -> bool:
        self.turned = time.monotonic()
        return await super().on_tick(counter)


class WebServer:
    """Serves an application in a thread of its own. The port is taken when it is made, and given back by `close`."""

    def __init__(self, address: WebAddress, app: Any = None) -> None:
        """`app`: an ASGI application, or None: it is set before the start.

        Raises `WebError`: the port is not free, or certificate and key do not fit.
        """
        self.app = app
        context = tls_context(address)
        config = uvicorn.Config(
            self._answer,
            interface="asgi3",
            http=PatientProtocol,
            ws="none",
            loop="asyncio",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            # Only a server on this machine can stand in front of one that listens to this machine alone.
            proxy_headers=address.host == LOOPBACK,
            forwarded_allow_ips=LOOPBACK,
            timeout_graceful_shutdown=LAST_ANSWERS_S,
            backlog=MOST_CONNECTIONS,
            ssl_context_factory=None if context is None else lambda _config, _default: context,
        )
        self._door = _Door(address)
        self._server = _Turning(config)
        self._thread = threading.Thread(target=self._server.run, args=([self._door],), name="web", daemon=True)
        port: int = self._door.getsockname()[1]
        self.address: Final = WebAddress(address.host, port, address.cert_file, address.key_file)

    def start(self) -> None:
        """Begin, and return when it answers."""
        self._server.turned = time.monotonic()
        self._thread.start()
        pause, deadline = threading.Event(), time.monotonic() + START_S
        while not self._server.started:
            if not self._thread.is_alive() or time.monotonic() > deadline:
                raise WebError(f"the web server at {self.address.url} did not start; its log says why")
            pause.wait(0.01)

    def close(self) -> None:
        """Take no more requests, answer those that are there, end, and give the port back; once more does nothing."""
        self._server.should_exit = True
        if self._thread.ident is not None:
            self._thread.join(LAST_ANSWERS_S + 2.0)
            if self._thread.is_alive():
                LOG.error("the web server did not end; it is given up")
                self._server.force_exit = True
        self._door.close()

    async def _answer(self, scope: Any, receive: Any, send: Any) -> None:
        await self.app(scope, receive, send)

    def stale_s(self) -> float:
        """Return the real seconds since its loop last turned; infinite when its thread has ended."""
        return time.monotonic() - self._server.turned if self._thread.is_alive() else float("inf")
