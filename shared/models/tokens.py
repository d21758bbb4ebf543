"""How other software comes in: tokens with scopes, and what was answered to a request with a key of its own.

A token is shown once, when it is made; what is kept is its digest.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.models.base import Json, Ms


class Scope(StrEnum):
    """What a token opens. Its person's role must allow it too."""

    READ = "read"
    ACT = "act"
    """What the person may do with a tap; STOP takes any token."""
    SIGN = "sign"
    """Signing; takes the person's password and a new code each time too."""
    METRICS = "metrics"
    CALENDAR = "calendar"
    """The calendar feed alone: this token stands in an address, so it opens nothing else."""


ALONE: Final = frozenset({Scope.CALENDAR, Scope.METRICS})
"""Scopes that stand in addresses or in the settings of other servers: a token has one of these, or none of them."""


@dataclass(frozen=True, slots=True)
class Token:
    """A way in for other software, in the name of a person."""

    no: int
    digest: str
    name: str
    person: str
    scopes: frozenset[Scope]
    by: str
    since_ms: Ms
    until_ms: Ms | None = None
    """None: until somebody ends it."""
    ended_ms: Ms | None = None

    def holds(self, now: Ms) -> bool:
        """Return whether it is in force."""
        return self.ended_ms is None and (self.until_ms is None or now < self.until_ms)


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """What became of a request that had a key: the same key is never carried out again."""

    asked: str
    """Digest of what was asked; secrets are not part of it."""
    at_ms: Ms
    status: int | None = None
    """None: begun, and not known how it ended."""
    body: Json = None
