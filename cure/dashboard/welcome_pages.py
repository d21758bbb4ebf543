"""A one-time link makes an account: name, password, and a second factor for whoever signs."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

import segno
from markupsafe import Markup
from starlette.responses import Response

from cure.dashboard import door
from cure.dashboard.asked import Asked, Parts
from cure.dashboard.rendering import page, problem
from cure.dashboard.sign_in_pages import come_in
from shared.models.accounts import OWN_ROLES, Account, Invitation
from shared.models.base import ID_PATTERN
from shared.models.people import Role
from shared.models.setup import SiteFile

BASE32: Final = re.compile(r"^[A-Z2-7]{32}$")


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    return {
        ("GET", "/welcome/{token}"): lambda asked: _form(parts, asked, door.new_secret()),
        ("POST", "/welcome/{token}"): lambda asked: _join(parts, asked),
    }


def code_svg(text: str) -> Markup:
    """Return a QR code: it lies beside the same text, so it has no name of its own."""
    drawn = segno.make(text, error="m").svg_inline(scale=5, border=2, omitsize=True)
    return Markup(drawn.replace("<svg", '<svg aria-hidden="true"', 1))  # noqa: S704 - a drawing of squares


def role_for(site: SiteFile, invitation: Invitation, person: str) -> Role | None:
    """Return the role that an invitation gives; None: it gives that person none."""
    recipient = site.person(person)
    if recipient is None:
        return invitation.role if invitation.role in OWN_ROLES else None
    return recipient.role if invitation.role in {None, recipient.role} else None


def _form(parts: Parts, asked: Asked, secret: str, wrong: tuple[str, ...] = ()) -> Response:
    invitation = parts.people.invitation(door.digest_of(asked.path["token"]), asked.now)
    if invitation is None:
        return problem(asked, "link-used", status=410)
    person = invitation.person or asked.one("person").lower()
    role = role_for(asked.site, invitation, person) or invitation.role
    return page(
        asked,
        "welcome.html",
        status=422 if wrong else 200,
        invitation=invitation,
        person=person,
        role=role,
        wrong=wrong,
        secret=secret if role in door.CODE_ROLES else "",
        code=code_svg(door.address_of(secret, person or str(role), asked.site)) if role in door.CODE_ROLES else "",
        shortest=door.SHORTEST,
    )


def _join(parts: Parts, asked: Asked) -> Response:
    token = asked.path["token"]
    invitation = parts.people.invitation(door.digest_of(token), asked.now)
    if invitation is None:
        return problem(asked, "link-used", status=410)
    person, secret = invitation.person or asked.one("person").lower(), asked.one("secret")
    role = role_for(asked.site, invitation, person)
    needs_code = role in door.CODE_ROLES
    step = door.step_of(secret, asked.one("code"), asked.now) if BASE32.match(secret) else None
    password, again = (next(iter(asked.form.get(name, ())), "") for name in ("password", "again"))
    refusals = {
        "wrong-name": not re.match(ID_PATTERN, person) or role is None,
        "wrong-short": not door.SHORTEST <= len(password) <= door.LONGEST,
        "wrong-again": password != again,
        "wrong-code": needs_code and step is None,
        "wrong-taken": invitation.person is None and parts.people.account(person) is not None,
    }
    wrong = tuple(asked.reader.say(key, shortest=door.SHORTEST) for key, refused in refusals.items() if refused)
    if wrong:
        return _form(parts, asked, secret if BASE32.match(secret) else door.new_secret(), wrong)
    in_site = asked.site.person(person) is not None
    account = Account(
        id=person,
        role=None if in_site else role,
        hashed=door.hashed(password),
        secret=secret if needs_code else None,
        since_ms=asked.now,
        code_step=step or 0 if needs_code else 0,
    )
    if not door.join(parts.people, token, account):
        return problem(asked, "link-used", status=410)
    return come_in(parts, asked, person, "/")
