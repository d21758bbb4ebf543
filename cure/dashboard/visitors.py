"""Who asks: by session, by a device's key, or - in the demo, at the machine itself - by choice."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from typing import Final
from urllib.parse import urlsplit

from cure.dashboard.asked import Parts, Visitor
from cure.dashboard.door import device_of, digest_of
from cure.dashboard.idle import Idle
from shared.models.accounts import role_of
from shared.models.base import Ms
from shared.models.people import Role
from shared.models.setup import SiteFile

SESSION: Final = "slabhour_session"
DEVICE: Final = "slabhour_device"
ACTING: Final = "slabhour_acting"
"""In the demo: whom the visitor acts for."""
LANGUAGE: Final = "slabhour_language"
UNITS: Final = "slabhour_units"
NOBODY: Final = Visitor()
_HERE: Final = frozenset({"localhost", "127.0.0.1", "::1"})


@dataclass(frozen=True, slots=True)
class Visitors:
    """Knows whoever asks."""

    parts: Parts
    _idle: Idle = field(default_factory=Idle)
    _of_demo: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    def visitor(
        self, cookies: Mapping[str, str], site: SiteFile, address: str, host: str, now: Ms, *, counts: bool = True
    ) -> Visitor:
        """Return who asks; `counts`: whether a person does, and not a page by itself."""
        if self.parts.demo and is_here(address, host):
            return self._in_demo(cookies, site)
        found = self._by_session(cookies.get(SESSION, ""), site, now, counts=counts)
        if found is not None:
            return found
        device = device_of(self.parts.people, cookies[DEVICE]) if cookies.get(DEVICE) else None
        return NOBODY if device is None else Visitor(device=device.name)

    def _by_session(self, token: str, site: SiteFile, now: Ms, *, counts: bool) -> Visitor | None:
        session = self.parts.people.session(digest_of(token), now) if token else None
        if session is not None and self._idle.is_over(session.digest, now, counts=counts):
            self.parts.people.end_session(session.digest)
            return None
        account = None if session is None else self.parts.people.account(session.person)
        role = None if account is None else role_of(site, account)
        if session is None or role is None:
            return None
        return Visitor(session.person, role, csrf=session.csrf)

    def _in_demo(self, cookies: Mapping[str, str], site: SiteFile) -> Visitor:
        chosen = site.person(cookies.get(ACTING, ""))
        first = next((r for r in site.recipient if r.role is Role.SUPERINTENDENT), site.recipient[0])
        person = first if chosen is None else chosen
        return Visitor(person.id, person.role, csrf=self._of_demo, demo=True)


def is_here(address: str, host: str) -> bool:
    """Return whether a browser on this machine asked by the machine's own name.

    The name too: a page of a stranger's can make a browser here ask us by a name of the stranger's.
    """
    try:
        return ip_address(address).is_loopback and urlsplit(f"//{host}").hostname in _HERE
    except ValueError:
        return False


def is_ours(origin: str | None, host: str) -> bool:
    """Return whether a form was on a page of ours: the browser says where it was."""
    if origin is None or not host:
        return False
    try:
        return urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


def is_form_of(visitor: Visitor, given: str) -> bool:
    """Return whether a form carries what the visitor's forms carry; one without a name has nothing to protect."""
    if visitor.person is None:
        return True
    return bool(visitor.csrf) and hmac.compare_digest(visitor.csrf.encode(), given.encode())
