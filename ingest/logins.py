"""Which logger a request comes from: what `Authorization` says, held against the site's file of loggers. Pure."""

from __future__ import annotations

import binascii
from base64 import b64decode
from collections.abc import Collection, Mapping
from hashlib import sha256
from hmac import compare_digest

from shared.models.base import LoggerId


class Logins:
    """Loggers, or gateways, with their passwords: the same as sign in at the embedded broker."""

    def __init__(self, users: Mapping[LoggerId, str]) -> None:
        # Of equal length, so that a comparison tells nothing of how much was right.
        self._digests = {name: sha256(password.encode()).digest() for name, password in users.items()}

    def __len__(self) -> int:
        return len(self._digests)

    def of(self, authorization: str | None) -> Collection[LoggerId]:
        """Return who says this: the bearer of a password, or name and password; empty: nobody of the file.

        Two loggers with one password are both meant by its bearer.
        """
        scheme, _, said = (authorization or "").partition(" ")
        if scheme.lower() == "bearer":
            return self._with(said.strip())
        if scheme.lower() == "basic":
            name, _, password = _decoded(said.strip()).partition(":")
            return self._with(password) & {LoggerId(name)}
        return frozenset()

    def _with(self, password: str) -> frozenset[LoggerId]:
        found = sha256(password.encode("utf-8", "backslashreplace")).digest()
        # All of them, whichever it is: the time taken names nobody.
        equal = [(name, compare_digest(found, digest)) for name, digest in self._digests.items()]
        return frozenset(name for name, same in equal if same)


def _decoded(said: str) -> str:
    try:
        return b64decode(said, validate=True).decode("utf-8")
    except (binascii.Error, ValueError):
        return ""
