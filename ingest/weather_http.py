"""Weather by HTTP: a PUT is answered once it is kept, or refused with the reason."""

from __future__ import annotations

from hashlib import sha256
from hmac import compare_digest
from typing import Any, Final

from fastapi import APIRouter, Request, Response, Security
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse
from fastapi.security import HTTPBearer
from pydantic import BaseModel
from starlette.requests import ClientDisconnect

from ingest.weather import LIMIT_BYTES, Unusable
from ingest.weather_intake import WeatherIntake
from shared.errors import StoreError

PATH: Final = "/weather"
MEDIA: Final = {"application/json": False, "text/csv": True}
"""Each with whether it is a CSV."""
RETRY_AFTER_S: Final = 60


class Taken(BaseModel):
    """What was kept."""

    hours: int
    """Whole hours of which it says something."""
    left_out: list[str]
    """What of it was not believed; the first of them."""


class NotTaken(BaseModel):
    """Why nothing was kept."""

    detail: str


def _refused(status: int, detail: str, **headers: str) -> Response:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return JSONResponse(NotTaken(detail=detail).model_dump(), status, named)


class _Door:
    """Knows the token by its digest alone."""

    def __init__(self, token: str) -> None:
        self._digest = sha256(token.encode()).digest()

    def opens(self, authorization: str | None) -> bool:
        scheme, _, said = (authorization or "").partition(" ")
        found = sha256(said.strip().encode("utf-8", "backslashreplace")).digest()
        return compare_digest(found, self._digest) and scheme.lower() == "bearer"


async def _body(request: Request) -> bytes:
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LIMIT_BYTES:
            break
    return body


async def _answer(request: Request, intake: WeatherIntake) -> Response:
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media not in MEDIA:
        return _refused(415, f"the Content-Type here is one of: {', '.join(MEDIA)}")
    try:
        body = await _body(request)
    except ClientDisconnect:
        # Nobody is there to read it.
        return Response(status_code=400)
    if len(body) > LIMIT_BYTES:
        return _refused(413, f"more than {LIMIT_BYTES} bytes")
    try:
        found = await run_in_threadpool(intake.take, body, is_csv=MEDIA[media])
    except StoreError:
        return _refused(503, "not kept: send the same again", Retry_After=str(RETRY_AFTER_S))
    if isinstance(found, Unusable):
        return _refused(422, found.why)
    return JSONResponse(Taken(hours=len(found.hours), left_out=list(found.left_out)).model_dump())


_ANSWERS: Final[dict[int | str, dict[str, Any]]] = {
    200: {"model": Taken, "description": "kept"},
    **{
        status: {"model": NotTaken, "description": description}
        for status, description in (
            (401, "not the token"),
            (413, f"more than {LIMIT_BYTES} bytes"),
            (415, "another media type"),
            (422, "it cannot be used, and why"),
            (503, "not kept: send the same again"),
        )
    },
}
_TAKES: Final[dict[str, Any]] = {
    "requestBody": {"required": True, "content": {media: {"schema": {"type": "string"}} for media in MEDIA}}
}


def router(intake: WeatherIntake, token: str) -> APIRouter:
    """Return the way in for whoever has the token."""
    door = _Door(token)
    # Only tells the description of the interface; `_Door` looks for itself.
    made = APIRouter(responses=_ANSWERS, dependencies=[Security(HTTPBearer(auto_error=False))])

    @made.put(PATH, openapi_extra=_TAKES)
    async def put(request: Request) -> Response:
        """Take the weather of the hours to come, for the whole site."""
        if not door.opens(request.headers.get("authorization")):
            challenge = 'Bearer realm="slabhour"'
            return _refused(
                401, "needs Authorization: Bearer, and the token of the weather", WWW_Authenticate=challenge
            )
        return await _answer(request, intake)

    return made
