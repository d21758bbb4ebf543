"""Signing in and out, and what somebody reads in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from starlette.responses import Response

from cure.dashboard import door, visitors
from cure.dashboard.answers import is_local_path, see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.attempts import Attempts
from cure.dashboard.choosing import SYSTEMS
from cure.dashboard.rendering import page, words
from shared.catalogue import LANGUAGES, voice_of
from shared.models.accounts import SESSION_MS, role_of
from shared.models.base import DAY_MS, MINUTE_MS

A_YEAR_MS: Final = 365 * DAY_MS


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    attempts = Attempts()
    return {
        ("GET", "/sign-in"): lambda asked: _form(asked, asked.query.get("next", "/")),
        ("POST", "/sign-in"): lambda asked: _sign_in(parts, attempts, asked),
        ("POST", "/sign-out"): lambda asked: _sign_out(parts, asked),
        ("GET", "/settings"): _settings,
        ("POST", "/settings"): _choose,
    }


def set_cookie(asked: Asked, response: Response, name: str, value: str, lasts_ms: int) -> Response:
    """Set a cookie that no script reads and that strangers' forms do not bring."""
    response.set_cookie(
        name, value, max_age=lasts_ms // 1000, httponly=True, samesite="lax", secure=asked.secure, path="/"
    )
    return response


def _form(asked: Asked, onward: str, *, person: str = "", wrong: str = "", status: int = 200) -> Response:
    open_text = not asked.secure and not visitors.is_here(asked.address, asked.host)
    onward = onward if is_local_path(onward) else "/"
    return page(asked, "sign_in.html", status=status, onward=onward, person=person, wrong=wrong, open_text=open_text)


def _sign_in(parts: Parts, attempts: Attempts, asked: Asked) -> Response:
    person, onward = asked.one("person").lower()[:64], asked.one("next")
    wait_ms = attempts.begin(person, asked.address, asked.now)
    if wait_ms > 0:
        wait = asked.reader.say("sign-in-wait", minutes=-(-wait_ms // MINUTE_MS))
        return _form(asked, onward, person=person, wrong=wait, status=429)
    account = parts.people.account(person)
    right = door.is_password(account, next(iter(asked.form.get("password", ())), "")[: door.LONGEST])
    if account is None or not right or role_of(asked.site, account) is None:
        return _form(asked, onward, person=person, wrong=asked.reader.say("sign-in-wrong"), status=403)
    attempts.succeeded(person, asked.address, asked.now)
    return come_in(parts, asked, person, onward)


def come_in(parts: Parts, asked: Asked, person: str, onward: str) -> Response:
    """Begin a session, in place of one that the browser had, and go on to a page of ours."""
    if before := asked.cookies.get(visitors.SESSION):
        parts.people.end_session(door.digest_of(before))
    token = door.begin_session(parts.people, person, asked.now)
    onward = onward if is_local_path(onward) else "/"
    return set_cookie(asked, see_other(onward), visitors.SESSION, token, SESSION_MS)


def _sign_out(parts: Parts, asked: Asked) -> Response:
    token = asked.cookies.get(visitors.SESSION, "")
    if token:
        parts.people.end_session(door.digest_of(token))
    response = see_other("/sign-in")
    response.delete_cookie(visitors.SESSION, path="/")
    return response


def _settings(asked: Asked) -> Response:
    people = list(asked.site.recipient) if asked.visitor.demo else []
    names = {language: voice_of(words(), language).say("language-name") for language in LANGUAGES}
    return page(asked, "settings.html", languages=LANGUAGES, names=names, systems=tuple(SYSTEMS), people=people)


def _choose(asked: Asked) -> Response:
    response = see_other("/")
    for name, field, allowed in (
        (visitors.LANGUAGE, "language", LANGUAGES),
        (visitors.UNITS, "units", tuple(SYSTEMS)),
        (visitors.ACTING, "acting", tuple(r.id for r in asked.site.recipient) if asked.visitor.demo else ()),
    ):
        if asked.one(field) in allowed:
            set_cookie(asked, response, name, asked.one(field), A_YEAR_MS)
    return response
