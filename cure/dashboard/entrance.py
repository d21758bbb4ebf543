"""Stands before every page: who asks, whether they may, and what is said when something goes wrong."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from cure.dashboard.answers import answer, empty, finished, see_other
from cure.dashboard.asked import MOST_BYTES, MOST_BYTES_LONG, Asked, Parts, TooLongError, form_of
from cure.dashboard.choosing import language_of, reader_of
from cure.dashboard.photos import MOST_BYTES as MOST_PHOTO_BYTES
from cure.dashboard.rendering import environment, problem, words
from cure.dashboard.rules import FRAGMENTS, LONG, PHOTOS, ROLES, RULES, SHUTS, Comer, may
from cure.dashboard.visitors import Visitors, is_form_of, is_ours
from shared.catalogue import voice_of
from shared.errors import ActRefusedError, StoreError

LOG: Final = logging.getLogger(__name__)
Handler = Callable[[Asked], Response]
Endpoint = Callable[[Request], Awaitable[Response]]
Form = Mapping[str, tuple[str, ...]]


class Entrance:
    """Makes what a route calls out of what answers it."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._visitors = Visitors(parts)

    def endpoint(self, method: str, route: str, handler: Handler) -> Endpoint:
        """Return what a route calls; handlers ask stores, so they run in a thread of their own."""

        async def called(request: Request) -> Response:
            accepted = request.headers.get("accept-encoding", "")
            try:
                form = await form_of(request, _most_bytes(route)) if method == "POST" else {}
            except TooLongError:
                return finished(empty(413), accepted)
            # Compressed in the same thread: all the others wait for the one that listens.
            return await run_in_threadpool(
                lambda: finished(self._answered(request, (method, route), form, handler), accepted)
            )

        return called

    def _answered(self, request: Request, rule: tuple[str, str], form: Form, handler: Handler) -> Response:
        try:
            asked = self._asked(request, rule, form)
        except StoreError as error:
            LOG.error("no page can be made: %s", error)
            return _nothing_known(request, str(error))
        try:
            return _allowed(asked, request.headers.get("origin"), handler)
        except StoreError as error:
            LOG.error("%s %s: %s", *rule, error)
            return problem(asked, "store-down", status=503, why=str(error))
        except ActRefusedError as error:
            return problem(asked, "refused", status=409, why=asked.reader.known(str(error)))
        except Exception:
            LOG.exception("%s %s failed", *rule)
            return problem(asked, "broken", status=500)

    def _asked(self, request: Request, rule: tuple[str, str], form: Form) -> Asked:
        now, site = self._parts.clock.now(), self._parts.board.site()
        address = "" if request.client is None else request.client.host
        host, cookies = request.headers.get("host", ""), request.cookies
        visitor = self._visitors.visitor(cookies, site, address, host, now, counts=rule[1] not in FRAGMENTS)
        accepted = request.headers.get("accept-language", "")
        return Asked(
            method=rule[0],
            route=rule[1],
            here=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
            path=request.path_params,
            query=request.query_params,
            form=form,
            cookies=cookies,
            address=address,
            host=host,
            secure=request.url.scheme == "https",
            tag=request.headers.get("if-none-match"),
            now=now,
            site=site,
            visitor=visitor,
            reader=reader_of(self._parts.evidence, site, visitor, cookies, accepted),
            demo=self._parts.demo,
        )


def _most_bytes(route: str) -> int:
    if route in PHOTOS:
        return MOST_PHOTO_BYTES + MOST_BYTES
    return MOST_BYTES_LONG if route in LONG else MOST_BYTES


def _allowed(asked: Asked, origin: str | None, handler: Handler) -> Response:
    shuts = asked.route in SHUTS
    if asked.method == "POST" and not is_ours(origin, asked.host) and not (shuts and origin is None):
        return problem(asked, "foreign-form", status=403)
    if not may(asked.method, asked.route, asked.visitor.comer):
        return _turned_away(asked)
    if asked.method == "POST" and not shuts and not is_form_of(asked.visitor, asked.one("csrf")):
        return problem(asked, "old-form", status=403)
    return handler(asked)


def _turned_away(asked: Asked) -> Response:
    visitor = asked.visitor
    if asked.route in FRAGMENTS:
        return empty(401 if visitor.comer == Comer.NOBODY else 403)
    if visitor.person is None and asked.demo:
        return problem(asked, "demo-elsewhere", status=403)
    if visitor.person is None:
        onward = quote(asked.here, safe="/") if asked.method == "GET" else "/"
        return see_other(f"/sign-in?next={onward}")
    takes = RULES[asked.method, asked.route] & ROLES
    roles = ", ".join(asked.reader.say(f"role-{role}") for role in sorted(takes))
    people = ", ".join(r.id for r in asked.site.recipient if r.role in takes) or asked.reader.say("nobody-has-it")
    return problem(asked, "not-allowed", status=403, roles=roles, people=people)


def _nothing_known(request: Request, why: str) -> Response:
    """Return a page for when not even the site's name can be read."""
    language = language_of(None, {}, request.headers.get("accept-language", ""))
    say = voice_of(words(), language).say
    text = environment().get_template("nothing_known.html").render(say=say, language=language, why=why)
    return answer(text, status=503)
