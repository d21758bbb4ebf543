"""Who may speak to the embedded broker, from where, and on which topics: its users, their permissions, TLS."""

from __future__ import annotations

import json
import secrets
import ssl
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from ingest.listed import Listed, read_listed
from shared.models.base import LoggerId

LOOPBACK: Final = "127.0.0.1"
OWN_USER: Final = "slabhour"
_USERS: Final = Listed(
    "user",
    r"\S{12,128}",
    "a name of a-z, 0-9 and -, a blank, a password of 12 to 128 characters",
    "each name once, and not the service's own",
    frozenset({OWN_USER}),
)
_EVERYWHERE: Final = "0.0.0.0"  # noqa: S104  compared with, never bound without TLS and users


@dataclass(frozen=True, slots=True)
class Access:
    """How the embedded broker is reached. The default: by any process of this machine, and by no other."""

    listen: str = LOOPBACK
    cert_file: Path | None = None
    key_file: Path | None = None
    users: Mapping[LoggerId, str] = field(default_factory=dict, repr=False)
    """Loggers, or gateways, with their passwords; none: nobody signs in."""
    filters: Sequence[str] = ()
    """Of the topics that are read, with `{logger}` where a logger's name stands."""
    own_password: str | None = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    """Of the service itself: another at each start."""

    @property
    def host(self) -> str:
        """Where this machine itself reaches it."""
        return LOOPBACK if self.listen == _EVERYWHERE else self.listen

    def own_context(self) -> ssl.SSLContext | None:
        """Return how the service speaks TLS with its own broker: it trusts this one certificate; None: no TLS.

        The certificate is the site's, for a name by which loggers reach this machine, not for the loopback address.
        """
        if self.cert_file is None:
            return None
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.check_hostname = False
        context.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
        context.load_verify_locations(self.cert_file)
        return context

    def subjects(self, user: LoggerId) -> list[str]:
        """Return what a user may publish on: the topics of its own name, and those that name no logger."""
        named = (f.replace("{logger}", user).replace("{channel}", "+") for f in self.filters)
        return [topic.replace("+", "*").replace("/", ".") for topic in named]

    def config(self) -> str:
        """Return the server's `authorization` block; empty: nobody signs in."""
        if not self.users:
            return ""
        lines = [f"  {{ user: {json.dumps(OWN_USER)}, password: {json.dumps(self.own_password)} }}"]
        for user, password in sorted(self.users.items()):
            allowed = f'permissions: {{ publish: {json.dumps(self.subjects(user))}, subscribe: {{ deny: ">" }} }}'
            lines.append(f"  {{ user: {json.dumps(user)}, password: {json.dumps(password)}, {allowed} }}")
        return "\n".join(["authorization {", "users = [", *lines, "]", "}", ""])

    def tls_config(self) -> str:
        """Return the server's `tls` block; empty: none."""
        if self.cert_file is None or self.key_file is None:
            return ""
        return f"  tls {{ cert_file: {json.dumps(str(self.cert_file))}, key_file: {json.dumps(str(self.key_file))} }}\n"


def read_users(text: str, file: str) -> dict[LoggerId, str]:
    """Return who may sign in: a line each, name and password apart by blanks; `#` begins a remark.

    Raises:
        SetupError: every line that is none, and every name twice; no password is repeated in it.
    """
    return read_listed(text, file, _USERS)
