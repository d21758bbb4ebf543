"""The door: passwords, one-time links, second factors and sessions, held against the site book."""

from __future__ import annotations

import hashlib
import secrets
from threading import BoundedSemaphore
from typing import Final

import pyotp
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from shared.models.accounts import INVITATION_MS, SESSION_MS, Account, DeviceKey, Invitation, Session, role_of
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.people import Role
from shared.models.setup import SiteFile
from shared.ports import PeopleBook

SHORTEST: Final = 12
LONGEST: Final = 256
CODE_ROLES: Final = frozenset({Role.SUPERINTENDENT, Role.QC, Role.ENGINEER, Role.ADMIN})
"""Who signs, changes requirements or lets people in: all of that takes a second factor."""
STEP_S: Final = 30
_HASHER: Final = PasswordHasher()
_AT_ONCE: Final = BoundedSemaphore(2)
"""A hash takes 64 MB and a core: a crowd at the door waits."""
_NOBODY: Final = "$argon2id$v=19$m=65536,t=3,p=4$c2xhYmhvdXItbm9ib2R5$q1c3sHsdhI0IVbQmlvoRGrW0JbF9zQOwO3h9oGr6n3Q"
"""Held against a name that nobody has, so that it takes as long as any other."""


def new_token() -> str:
    """Return a secret that nobody guesses."""
    return secrets.token_urlsafe(32)


def digest_of(token: str) -> str:
    """Return what is kept of a secret that we made ourselves: it is long enough to need no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def hashed(password: str) -> str:
    """Return a password as it is kept."""
    with _AT_ONCE:
        return _HASHER.hash(password)


def is_password(account: Account | None, password: str) -> bool:
    """Return whether a password is an account's. It takes as long whether there is such an account or not."""
    kept = _NOBODY if account is None else account.hashed
    with _AT_ONCE:
        try:
            _HASHER.verify(kept, password)
        except (VerificationError, InvalidHashError):
            return False
    return account is not None


def new_secret() -> str:
    """Return the secret of a new second factor."""
    return pyotp.random_base32()


def address_of(secret: str, person: str, site: SiteFile) -> str:
    """Return what an authenticator scans."""
    return pyotp.TOTP(secret).provisioning_uri(name=person, issuer_name=f"slabhour {site.site.id}")


def step_of(secret: str, code: str, now: Ms) -> int | None:
    """Return the step of 30 s whose code this is, of the present and its neighbours; None: it is of none."""
    given = "".join(code.split())
    if len(given) != 6 or not (given.isascii() and given.isdecimal()):
        return None
    here = now // 1000 // STEP_S
    right = [step for step in (here - 1, here, here + 1) if pyotp.TOTP(secret).verify(given, for_time=step * STEP_S)]
    return max(right, default=None)


def use_code(people: PeopleBook, account: Account, code: str, now: Ms) -> bool:
    """Return whether a code is the account's, now and for the first time."""
    if account.secret is None:
        return False
    step = step_of(account.secret, code, now)
    return step is not None and people.use_code(account.id, step)


def logged(now: Ms, who: str, event: str, **body: str | None) -> LogEntry:
    """Return a log line about who may come in."""
    return LogEntry(now, who, "person", {"event": event, **body})


def invite(people: PeopleBook, person: str | None, role: Role | None, by: str, now: Ms) -> str:
    """Return the token of a new one-time link."""
    token = new_token()
    invitation = Invitation(digest_of(token), person, role, by, now, now + INVITATION_MS)
    people.invite(invitation, logged(now, by, "invited", person=person, role=role))
    return token


def first_link(people: PeopleBook, site: SiteFile, now: Ms) -> str | None:
    """Return the path of the one-time link that makes the first admin; None: there is one already.

    Whoever starts the service prints it in the terminal, after the address: only who is at the machine reads it.
    """
    if any(role_of(site, account) is Role.ADMIN for account in people.accounts()):
        return None
    return f"/welcome/{invite(people, None, Role.ADMIN, 'slabhour', now)}"


def join(people: PeopleBook, token: str, account: Account) -> bool:
    """Make the account that a one-time link is for; False: the link was used or has run out."""
    log = logged(account.since_ms, account.id, "joined", person=account.id, role=account.role)
    return people.join(digest_of(token), account, log)


def begin_session(people: PeopleBook, person: str, now: Ms) -> str:
    """Return the token of a new session."""
    token = new_token()
    people.begin_session(Session(digest_of(token), person, new_token(), now, now + SESSION_MS))
    return token


def add_device(people: PeopleBook, name: str, by: str, now: Ms) -> str:
    """Return the token of a new screen that only reads."""
    token = new_token()
    device = DeviceKey(0, digest_of(token), name, by, now)
    people.add_device(device, logged(now, by, "device added", device=name))
    return token


def device_of(people: PeopleBook, token: str) -> DeviceKey | None:
    """Return the device of a key that is in force."""
    digest = digest_of(token)
    return next((d for d in people.devices() if secrets.compare_digest(d.digest, digest)), None)
