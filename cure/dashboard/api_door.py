"""The door for other software: a token in `Authorization: Bearer`, its scope and its person's role; problems as RFC
9457 has them. Cookies open nothing here, so no form of a stranger's page does either.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Coroutine, Iterator, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Annotated, Any, Final

from fastapi import Depends, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from fastapi.security import HTTPBearer
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive

from cure.dashboard.answers import finished
from cure.dashboard.api_models import ProblemAnswer
from cure.dashboard.asked import MOST_BYTES, MOST_BYTES_LONG, Parts, Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.door import digest_of
from cure.dashboard.pace import Pace
from cure.dashboard.photos import MOST_BYTES as MOST_PICTURE
from cure.dashboard.reader import Reader
from cure.dashboard.rules import API, API_RULES, API_SHUTS, opens
from cure.tokens import role_now
from shared.errors import ActRefusedError, RecordError, StoreError
from shared.models.base import Ms
from shared.models.people import Role
from shared.models.setup import SiteFile
from shared.models.tokens import Token
from shared.ports import Readings, TokenBook

LOG: Final = logging.getLogger(__name__)
BEARER: Final = HTTPBearer(auto_error=False, description="a token of `slabhour token make`")
KIND: Final = "application/problem+json"
ANSWERS: Final[Mapping[int | str, dict[str, Any]]] = {
    status: {
        "content": {KIND: {"schema": ProblemAnswer.model_json_schema()}},
        "description": HTTPStatus(status).phrase,
    }
    for status in (400, 401, 403, 404, 409, 413, 422, 429, 500, 501, 503)
}
"""What a route may answer besides what was asked for."""


BODIES: Final = {
    f"{API}/mixes/{{mix}}/calibrate": MOST_BYTES_LONG,
    f"{API}/mixes/{{mix}}/put-in-force": MOST_BYTES_LONG,
    f"{API}/acts/ticket": MOST_PICTURE * 4 // 3 + MOST_BYTES,
}
"""Routes that take more than `MOST_BYTES`: tables of cylinders, and a picture."""


@dataclass(frozen=True, slots=True)
class ApiParts:
    """What the interface is made of besides the pages' parts: given by whoever wires."""

    parts: Parts
    tokens: TokenBook
    readings: Readings
    table: Callable[[str, Ms, Ms, tuple[str, ...]], Iterator[str]]
    """Name, from, to, bays: the lines of a CSV."""
    table_file: Callable[[str, Ms, Ms, tuple[str, ...]], Iterator[bytes]]
    """The same as a file, by the name with its ending. Raises `MissingExtraError`, `TooManyRowsError`."""
    record: Callable[[int, str], bytes]
    """A record's PDF by its number and the address of the pages. Raises `RecordError`."""
    metrics: Callable[[Ms], bytes]
    caution: str
    pace: Pace = field(default_factory=Pace)


class ProblemError(Exception):
    """What is asked cannot be answered."""

    def __init__(self, status: int, detail: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(detail)
        self.status, self.detail, self.headers = status, detail, headers


@dataclass(frozen=True, slots=True)
class Caller:
    """Whose software asks."""

    token: Token
    role: Role
    now: Ms
    site: SiteFile
    address: str
    reader: Reader

    @property
    def person(self) -> str:
        """In whose name it asks."""
        return self.token.person


def caller_of(api: ApiParts, request: Request, secret: str, route: tuple[str, str]) -> Caller:
    """Return who asks. Raises `ProblemError` for whoever may not ask for that route."""
    parts = api.parts
    token = api.tokens.token(digest_of(secret)) if secret else None
    now, site = parts.clock.now(), parts.board.site()
    role = None if token is None or not token.holds(now) else role_now(parts.people, site, token.person)
    if token is None or role is None:
        raise ProblemError(401, "a token that is in force is needed", {"WWW-Authenticate": "Bearer"})
    if not opens(*route, token.scopes, role):
        rule = API_RULES[route]
        needs = f"scope {rule.scope}" if rule.scope is not None else "a token that opens more than one feed"
        raise ProblemError(403, f"this takes {needs}, and one of the roles: {', '.join(sorted(rule.roles))}")
    # Of STOP nobody has too many: it only shuts.
    if route not in API_SHUTS and (wait_ms := api.pace.wait_ms(token.person, now)):
        raise ProblemError(429, "too many requests in a minute", {"Retry-After": str(-(-wait_ms // 1000))})
    address = "" if request.client is None else request.client.host
    accepted = request.headers.get("accept-language", "")
    return Caller(
        token, role, now, site, address, reader_of(parts.evidence, site, Visitor(token.person, role), {}, accepted)
    )


def caller_in(request: Request) -> Caller:
    """Return who asks, as the route's guard has found."""
    caller: Caller = request.state.caller
    return caller


CallerIn = Annotated[Caller, Depends(caller_in)]


def problem(status: int, detail: str, headers: Mapping[str, str] | None = None, **more: Any) -> Response:
    """Return what is wrong as an answer."""
    body = {"type": "about:blank", "title": HTTPStatus(status).phrase, "status": status, "detail": detail, **more}
    return JSONResponse(body, status, dict(headers or {}), media_type=KIND)


def _told(error: Exception) -> Response:
    match error:
        case ProblemError():
            return problem(error.status, error.detail, error.headers)
        case RequestValidationError():
            faults = [{"where": ".".join(map(str, e["loc"])), "what": e["msg"]} for e in error.errors()]
            return problem(422, "; ".join(f"{f['where']}: {f['what']}" for f in faults), errors=faults)
        case ActRefusedError():
            return problem(409, str(error))
        case RecordError():
            return problem(404, str(error))
        case HTTPException():
            return problem(error.status_code, str(error.detail), error.headers)
        case StoreError():
            LOG.error("the interface cannot answer: %s", error)
            return problem(503, str(error), {"Retry-After": "30"})
    LOG.error("the interface failed", exc_info=error)
    return problem(500, "the service could not do it; its log says why")


def _bounded(request: Request) -> Receive:
    """Return what receives a request's body, and no more of it than its route takes: the door is behind the body."""
    most, came = BODIES.get(getattr(request.scope.get("route"), "path", ""), MOST_BYTES), 0

    async def received() -> Message:
        nonlocal came
        message = await request.receive()
        came += len(message.get("body", b""))
        if came > most:
            raise HTTPException(413, f"a request of this kind has at most {most} bytes")
        return message

    return received


class ProblemRoute(APIRoute):
    """A route whose every failure is told as a problem."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler of requests."""
        inner = super().get_route_handler()

        async def handled(request: Request) -> Response:
            try:
                response = await inner(Request(request.scope, _bounded(request)))
            except Exception as error:  # noqa: BLE001 - told by its kind, and the rest is logged
                response = _told(error)
            if hasattr(response, "body") and not hasattr(response, "body_iterator"):
                response = finished(response, request.headers.get("accept-encoding", ""))
                if "vary" in response.headers:
                    response.headers["Vary"] = "Accept-Encoding, Authorization"
            return response

        return handled
