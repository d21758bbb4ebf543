"""Asks a web application without a socket, and one behind a socket byte by byte."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import httpx
from starlette.types import ASGIApp

from deploy.web_server import LOOPBACK, WebAddress, WebServer


def ask(app: ASGIApp, method: str, path: str, **request: Any) -> httpx.Response:
    """Return the answer of an application; `request` as httpx takes it (headers, content, ...)."""

    async def asked() -> httpx.Response:
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://site.example") as client:
            return await client.request(method, path, **request)

    return asyncio.run(asked())


@contextmanager
def serving(app: ASGIApp, address: WebAddress | None = None) -> Iterator[WebServer]:
    """Run a web server of an application."""
    with closing(WebServer(WebAddress() if address is None else address, app)) as server:
        server.start()
        yield server


def dial(server: WebServer) -> socket.socket:
    """Return a bare connection to a web server."""
    return socket.create_connection((LOOPBACK, server.address.port), timeout=20.0)


def answered(connection: socket.socket) -> bytes:
    """Return all that comes until the server hangs up."""
    said = b""
    try:
        while part := connection.recv(65_536):
            said += part
    except ConnectionResetError:
        pass
    return said


def get(server: WebServer, path: str = "/alive") -> bytes:
    """Return the whole answer to a GET on a connection of its own."""
    with dial(server) as connection:
        connection.sendall(f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n".encode())
        return answered(connection)
