"""Readings by HTTP: a POST is answered once its message is durable, stored or refused with a reason, or with 503.

What comes goes the way of all messages: the same decoders, screening, intake and the one writer. A logger that has no
answer sends the same body again, and it is stored once.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from threading import BoundedSemaphore
from typing import Any, Final

from fastapi import APIRouter, Request, Response, Security
from fastapi.responses import JSONResponse
from fastapi.security import HTTPBearer
from pydantic import BaseModel
from starlette.requests import ClientDisconnect

from ingest.intake import Intake
from ingest.logins import Logins
from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoded, Decoder, Fault, Told
from ingest.payloads.strict_json import LIMIT_BYTES
from ingest.sheet import Taken
from ingest.topics import Route, Way, routes
from ingest.writer import Queued, Writer
from shared.models.base import LoggerId, SiteId
from shared.models.payloads import SenmlTopic, TopicSettings
from shared.models.readings import Reason

ANSWER_WITHIN_S: Final = 10.0
"""Then the sender is told to come again; the message stays in line, and is stored once however often it comes."""
RETRY_AFTER_S: Final = 30
MOST_IN_LINE: Final = 1000
"""Of those that came by HTTP: a fifth of what the writer holds, so that a broker's always find room."""
MOST_REASONS: Final = 10
"""In an answer; the book keeps every one."""
_SENML: Final = ("senml+json", "senml+cbor")

_log = logging.getLogger(__name__)


class Why(BaseModel):
    """One thing that was refused."""

    reason: str
    detail: str
    sensor: str | None


class Answer(BaseModel):
    """What became of a message. Nothing of it needs to be sent again."""

    stored: int
    """Temperatures stored, now or when the same came before."""
    waiting: int
    """Temperatures without an hour, which count when the next one comes."""
    refused: int
    """Records, or the message as a whole, written down with the reason; the same will be refused again."""
    reasons: list[Why]
    """The first of them."""


class NotTaken(BaseModel):
    """Why nothing was taken."""

    detail: str


@dataclass(frozen=True, slots=True)
class _Kind:
    """How what comes to a path may be read."""

    told: Told
    decoders: Mapping[str, Decoder]
    """By media type."""
    untimed: bool = False


class _RefusalError(Exception):
    """Nothing is taken; the sender is told why."""

    def __init__(self, status: int, detail: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(detail)
        self.status, self.detail, self.headers = status, detail, headers

    def response(self) -> Response:
        """Return it as an answer."""
        return JSONResponse(NotTaken(detail=self.detail).model_dump(), self.status, self.headers)


def _too_big(_told: Told, _payload: bytes) -> Decoded:
    return Decoded(faults=(Fault(Reason.TOO_BIG, f"more than {LIMIT_BYTES} bytes"),))


def _senml(logger: LoggerId) -> _Kind:
    """Return how a logger's own path is read: SenML says everything itself, the media type which of the two it is."""
    decoders: dict[str, Decoder] = {}
    for name in _SENML:
        topic = SenmlTopic.model_validate({"filter": "r/{logger}", "format": name})
        decoders |= dict.fromkeys(FORMATS[name].media, FORMATS[name].make(topic))
    return _Kind(Told(logger), decoders)


def _of_topic(listed: Sequence[Route], topic: str) -> _Kind | None:
    for route in listed:
        told = route.told(topic)
        if told is not None:
            found = FORMATS[route.format]
            return _Kind(told, dict.fromkeys(found.media, route.decoder), found.untimed)
    return None


def _way(request: Request, kind: _Kind) -> Way:
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media not in kind.decoders:
        allowed = ", ".join(kind.decoders)
        raise _RefusalError(415, f"the Content-Type here is one of: {allowed}", {"Accept-Post": allowed})
    if request.headers.get("content-encoding", "identity").strip().lower() != "identity":
        raise _RefusalError(
            415, "a message is taken as it is, without a Content-Encoding", {"Accept-Encoding": "identity"}
        )
    return Way(kind.told, kind.decoders[media])


async def _body(request: Request) -> bytes:
    """Return the body, or as much of one that is too big as shows that it is."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LIMIT_BYTES:
            return body[: LIMIT_BYTES + 1]
    return body


class Posts:
    """Hands what is posted to the writer, and waits for its word."""

    def __init__(self, intake: Intake, writer: Writer, logins: Logins) -> None:
        self._intake = intake
        self._writer = writer
        self._logins = logins
        self._room = BoundedSemaphore(MOST_IN_LINE)

    async def answer(self, request: Request, kind: _Kind | None) -> Response:
        """Return the answer to what was posted; `kind` None: to a path that is read in no way."""
        try:
            self._signed_in(request, kind)
            if kind is None:
                raise _RefusalError(404, "no [[topic]] of the site file takes this topic")
            return await self._taken(request, kind)
        except _RefusalError as refusal:
            return refusal.response()
        except ClientDisconnect:
            # Nobody is there to read it.
            return Response(status_code=400)

    def _signed_in(self, request: Request, kind: _Kind | None) -> None:
        """Refuse what nobody of the file sends, and what somebody sends for another logger, if the path names one.

        As at the embedded broker: who may sign in at all may send what names no logger.
        """
        who = self._logins.of(request.headers.get("authorization"))
        if not who:
            challenge = {"WWW-Authenticate": 'Bearer realm="slabhour", Basic realm="slabhour"'}
            raise _RefusalError(401, "needs Authorization: Bearer, and the logger's password", challenge)
        if kind is not None and kind.told.logger is not None and kind.told.logger not in who:
            raise _RefusalError(403, "this password is another logger's")

    async def _taken(self, request: Request, kind: _Kind) -> Response:
        way = _way(request, kind)
        body = await _body(request)
        too_big = len(body) > LIMIT_BYTES
        if too_big:
            way = Way(kind.told, _too_big)
        found = await self._durable(request.url.path, body, way)
        if found is None:
            raise _later(kind)
        return JSONResponse(_answer(found).model_dump(), 413 if too_big else 200)

    async def _durable(self, path: str, body: bytes, way: Way) -> Taken | None:
        """Return what became of a message once it is durable; None: it may not be, for all that can be said."""
        loop = asyncio.get_running_loop()
        done: asyncio.Future[Taken] = loop.create_future()

        def settle(taken: Taken) -> None:
            if not done.done():
                done.set_result(taken)

        def stored(taken: Taken) -> None:
            self._room.release()
            try:
                loop.call_soon_threadsafe(settle, taken)
            except RuntimeError:
                _log.warning("the web server has ended before the answer to a message that is stored: it comes again")

        # A store that fails is tried again with what waits already; more of it would only be more to forget.
        if self._writer.trouble is not None or not self._writer.alive() or not self._room.acquire(blocking=False):
            return None
        message = replace(self._intake.incoming(path, body), way=way)
        if not self._writer.offer(Queued(message, stored), 0.0):
            self._room.release()
            return None
        try:
            return await asyncio.wait_for(done, ANSWER_WITHIN_S)
        except TimeoutError:
            return None


def _later(kind: _Kind) -> _RefusalError:
    if kind.untimed:
        # Later it would be an old temperature at a new hour.
        return _RefusalError(503, "not stored; it has no hour of its own: do not send it again, send the next one")
    return _RefusalError(503, "not stored yet: send the same again", {"Retry-After": str(RETRY_AFTER_S)})


def _answer(taken: Taken) -> Answer:
    said = [Why(reason=f.reason, detail=f.detail, sensor=f.sensor) for f in taken.faults[:MOST_REASONS]]
    return Answer(stored=len(taken.rows), waiting=taken.waiting, refused=len(taken.faults), reasons=said)


_ANSWERS: Final[dict[int | str, dict[str, Any]]] = {
    200: {"model": Answer, "description": "durable: stored, or refused with the reason"},
    413: {"model": Answer, "description": f"more than {LIMIT_BYTES} bytes; written down as refused"},
    **{
        status: {"model": NotTaken, "description": description}
        for status, description in (
            (401, "no password of a logger"),
            (403, "another logger's password"),
            (404, "no topic of the site"),
            (415, "another media type, or a content encoding"),
            (503, "not stored: send the same again"),
        )
    },
}


def _described(media: Sequence[str]) -> dict[str, Any]:
    text = {"schema": {"type": "string"}}
    return {"requestBody": {"required": True, "content": dict.fromkeys(media, text)}}


def router(
    site_id: SiteId, topics: Sequence[TopicSettings], intake: Intake, writer: Writer, logins: Logins
) -> APIRouter:
    """Return the way in: `/r/<logger>` for SenML, `/t/<topic>` for what the site's [[topic]]s say of that topic.

    Args:
        site_id: the site.
        topics: of the site file.
        intake: stamps what comes.
        writer: the one that stores.
        logins: who may send.
    """
    posts, listed = Posts(intake, writer, logins), routes(site_id, topics)
    # Only tells the description of the interface; `Posts` looks for itself.
    made = APIRouter(responses=_ANSWERS, dependencies=[Security(HTTPBearer(auto_error=False))])
    senml = sorted({media for name in _SENML for media in FORMATS[name].media})
    every = sorted({media for found in FORMATS.values() for media in found.media})

    @made.post("/r/{logger}", openapi_extra=_described(senml))
    async def of_a_logger(logger: str, request: Request) -> Response:
        """Take the SenML of a logger."""
        return await posts.answer(request, _senml(LoggerId(logger)))

    @made.post("/t/{topic:path}", openapi_extra=_described(every))
    async def of_a_topic(topic: str, request: Request) -> Response:
        """Take what a logger would publish on a topic."""
        return await posts.answer(request, _of_topic(listed, topic))

    return made
