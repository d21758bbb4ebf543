"""Who may come in: for the admin, who lets people in and cannot sign."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from starlette.responses import Response

from cure.dashboard import door
from cure.dashboard.answers import see_other
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.public import public_address
from cure.dashboard.rendering import page
from cure.dashboard.welcome_pages import code_svg
from shared.errors import ActRefusedError
from shared.models.accounts import OWN_ROLES, role_of
from shared.models.base import ID_PATTERN
from shared.models.people import Role


@dataclass(frozen=True, slots=True)
class Person:
    """One line of the page."""

    id: str
    role: Role | None
    since: str
    """When the account was made; "": there is none."""
    second_factor: bool
    ended: bool


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/people"): lambda asked: _people(parts, asked),
        ("POST", "/people/invite"): lambda asked: _invite(parts, asked),
        ("POST", "/people/end"): lambda asked: _end(parts, asked),
    }


def base_of(asked: Asked) -> str:
    """Return the address with which links that somebody else opens begin."""
    return public_address(asked.site, f"{'https' if asked.secure else 'http'}://{asked.host}")


def needs_code(parts: Parts, asked: Asked) -> str:
    """Return why the second factor of whoever asks does not do; "": it does. In the demo there is none."""
    if asked.visitor.demo:
        return ""
    account = None if asked.visitor.person is None else parts.people.account(asked.visitor.person)
    if account is None or not door.use_code(parts.people, account, asked.one("code"), asked.now):
        return asked.reader.say("wrong-code")
    return ""


def prove(parts: Parts, asked: Asked) -> None:
    """Use the code up of whoever asks: the last before the act, so that none is used up for nothing.

    Raises:
        ActRefusedError: it does not do.
    """
    if wrong := needs_code(parts, asked):
        raise ActRefusedError(wrong)


def _people(parts: Parts, asked: Asked, *, link: str = "", invited: str = "", wrong: str = "") -> Response:
    accounts = {a.id: a for a in parts.people.accounts()}
    people = [
        Person(
            a.id,
            role_of(asked.site, a),
            asked.reader.whole_hour(a.since_ms),
            a.secret is not None,
            role_of(asked.site, a) is None,
        )
        for a in accounts.values()
    ]
    people += [Person(r.id, r.role, "", False, False) for r in asked.site.recipient if r.id not in accounts]
    return page(
        asked,
        "people.html",
        status=422 if wrong else 200,
        people=sorted(people, key=lambda p: p.id),
        own_roles=OWN_ROLES,
        link=link,
        code=code_svg(link) if link else "",
        invited=invited,
        wrong=wrong,
    )


def _invite(parts: Parts, asked: Asked) -> Response:
    person, role = asked.one("person").lower(), asked.one("role")
    recipient = asked.site.person(person)
    if not re.match(ID_PATTERN, person) or (recipient is None and role not in OWN_ROLES):
        return _people(parts, asked, wrong=asked.reader.say("wrong-person"))
    if wrong := needs_code(parts, asked):
        return _people(parts, asked, wrong=wrong)
    given = None if recipient is not None else Role(role)
    token = door.invite(parts.people, person, given, str(asked.visitor.person), asked.now)
    return _people(parts, asked, link=f"{base_of(asked)}/welcome/{token}", invited=person)


def _end(parts: Parts, asked: Asked) -> Response:
    person, by = asked.one("person"), str(asked.visitor.person)
    if person == by:
        return _people(parts, asked, wrong=asked.reader.say("wrong-self"))
    if wrong := needs_code(parts, asked):
        return _people(parts, asked, wrong=wrong)
    parts.people.end_account(person, asked.now, door.logged(asked.now, by, "ended", person=person))
    return see_other("/people")
