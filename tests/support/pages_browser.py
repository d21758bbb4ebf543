"""A browser without a screen, for the pages without a socket; and a server of the test's own, for one with a screen."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import httpx
import uvicorn
from ports_support import free_port
from starlette.types import ASGIApp


class Browser:
    """A browser without a screen: keeps cookies, says where its forms were, goes where it is sent only when told."""

    def __init__(self, app: ASGIApp, *, address: str = "192.0.2.7", host: str = "site.test", **headers: str) -> None:
        carried = {"Origin": f"http://{host}", "Accept-Language": "en"}
        carried |= {name.replace("_", "-"): value for name, value in headers.items()}
        transport = httpx.ASGITransport(app, client=(address, 40000))
        self._client = httpx.AsyncClient(transport=transport, base_url=f"http://{host}", headers=carried)
        self.cookies = self._client.cookies

    def get(self, path: str, **headers: str) -> httpx.Response:
        """Ask for a page."""
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        return asyncio.run(self._client.get(path, headers=named))

    def post(self, path: str, form: Mapping[str, Any] | None = None, **headers: str) -> httpx.Response:
        """Send a form; a value of bytes is a file."""
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        files = {name: ("picked", value) for name, value in (form or {}).items() if isinstance(value, bytes)}
        data = {name: value for name, value in (form or {}).items() if name not in files}
        return asyncio.run(self._client.post(path, data=data, files=files or None, headers=named))


@contextmanager
def served(app: ASGIApp) -> Iterator[str]:
    """Serve an app from a thread on a free port; lend its address."""
    port = free_port()
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning", lifespan="off"))
    thread = threading.Thread(target=server.run, name="pages", daemon=True)
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive()
            thread.join(0.02)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(10)
