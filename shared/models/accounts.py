"""How people come in at the pages: accounts, one-time invitations, sessions, and keys of devices that only read.

Secrets that we hand out are kept as digests; a password as its argon2 hash. The secret of a second factor must be kept
as it is, so a copy of the site book is as secret as its data folder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from shared.models.base import HOUR_MS, Ms
from shared.models.people import Role
from shared.models.setup import SiteFile

OWN_ROLES: Final = (Role.VIEWER, Role.ADMIN)
"""Roles of accounts whose person is not in the site file: neither does anything to a pour."""
SESSION_MS: Final = 12 * HOUR_MS
INVITATION_MS: Final = 72 * HOUR_MS


@dataclass(frozen=True, slots=True)
class Account:
    """A person who can sign in."""

    id: str
    """As in [[recipient]] for whoever acts."""
    role: Role | None
    """None: the site file says it."""
    hashed: str
    """The password's argon2id, with its parameters."""
    secret: str | None
    """Of the second factor, base32; None: there is none, and nothing that needs one is open."""
    since_ms: Ms
    code_step: int = 0
    """The newest step of 30 s whose code was used: a code counts once."""
    ended_ms: Ms | None = None


@dataclass(frozen=True, slots=True)
class Invitation:
    """A one-time way to make, or make anew, an account."""

    digest: str
    person: str | None
    """None: whoever comes chooses the name."""
    role: Role | None
    """Of the account; None: the site file says it."""
    by: str
    since_ms: Ms
    until_ms: Ms


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that has signed in."""

    digest: str
    person: str
    csrf: str
    """What each form of it must carry."""
    since_ms: Ms
    until_ms: Ms


@dataclass(frozen=True, slots=True)
class DeviceKey:
    """A screen that reads without a person."""

    no: int
    digest: str
    name: str
    by: str
    since_ms: Ms
    ended_ms: Ms | None = None


def role_of(site: SiteFile, account: Account) -> Role | None:
    """Return what a person may do: the site file's word, else the account's own; None: nothing any more."""
    recipient = site.person(account.id)
    if account.ended_ms is not None:
        return None
    if recipient is not None:
        return recipient.role
    return account.role if account.role in OWN_ROLES else None
