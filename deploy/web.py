"""The one web application: parts are hung into it, and every answer of it bears the same headers."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from importlib import metadata
from typing import Final

from fastapi import APIRouter, FastAPI
from fastapi.responses import PlainTextResponse
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from shared.web_headers import HEADERS, OVER_TLS

Nowhere = Callable[[Request, Exception], Awaitable[Response]]
DESCRIPTION: Final = "/api/v1/openapi.json"
"""Where the interface describes itself."""


class WithHeaders:
    """Gives every answer the headers that it does not bring itself, also those to what nobody foresaw.

    Outside of the application, because its own layers of this kind are passed by when one of its parts fails.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                over_tls = OVER_TLS if scope.get("scheme") == "https" else {}
                for name, value in (*HEADERS.items(), *over_tls.items()):
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, sent)


async def _alive() -> PlainTextResponse:
    # Of the web server alone. Whether the service does its work, only its own test knows: `deploy.selftest`.
    return PlainTextResponse("alive\n")


def application(parts: Sequence[APIRouter], nowhere: Nowhere | None = None) -> ASGIApp:
    """Return the application of these parts; a path that two of them claim is the first one's; `nowhere` answers what
    nobody has.

    Pages of documentation that load their scripts from elsewhere are off: a site may have no way out.
    """
    app = FastAPI(
        title="slabhour",
        version=metadata.version("slabhour"),
        docs_url=None,
        redoc_url=None,
        openapi_url=DESCRIPTION,
        redirect_slashes=False,
    )
    app.add_api_route("/alive", _alive, response_class=PlainTextResponse)
    app.add_api_route("/alive", _alive, methods=["HEAD"], include_in_schema=False)
    for part in parts:
        app.include_router(part)
    if nowhere is not None:
        app.add_exception_handler(404, nowhere)
    return WithHeaders(app)
