"""People and how they are reached."""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum
from typing import Annotated, Final, Literal
from urllib.parse import urlsplit

from pydantic import Field, StringConstraints

from shared.models.base import Id, Line, RecipientId, Record, Shift


class Role(StrEnum):
    """What a person may do. Admin manages people and cannot sign."""

    VIEWER = "viewer"
    CREW = "crew"
    SUPERINTENDENT = "superintendent"
    QC = "qc"
    ENGINEER = "engineer"
    INSTALLER = "installer"
    ADMIN = "admin"


class EmailAddress(Record):
    """A recipient's e-mail."""

    kind: Literal["email"]
    to: Annotated[str, StringConstraints(pattern=r"^[^@\s]+@[^@\s]+$", max_length=254)]


class InboxFile(Record):
    """A file of JSON lines in the data folder: what the demo shows, and a way to read messages without a server."""

    kind: Literal["inbox"]
    file: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}$")] = "inbox.jsonl"


class WebhookUrl(Record):
    """A signed HTTP POST."""

    kind: Literal["webhook"]
    url: Annotated[str, StringConstraints(pattern=r"^https?://[^\s]+$", max_length=500)]
    secret_file: Line


class ReachUrl(Record):
    """Anything that apprise reaches: SMS gateways, push, chat."""

    kind: Literal["reach"]
    url_file: Line
    """File with the apprise URL, which is a secret."""
    short: bool = True
    """Send the short text only."""


Address = Annotated[EmailAddress | InboxFile | WebhookUrl | ReachUrl, Field(discriminator="kind")]


class RecipientSettings(Record):
    """[[recipient]]: a person who acts, is told, or both."""

    id: Id
    role: Role
    language: Literal["en", "fr", "es"] = "en"
    shift: Shift | None = None
    channels: tuple[Address, ...] = ()

    @property
    def recipient_id(self) -> RecipientId:
        """The id as its own type."""
        return RecipientId(self.id)


class EmailServer(Record):
    """[channel.email]"""

    host: Line
    port: Annotated[int, Field(ge=1, le=65535)] = 25
    sender: Annotated[str, StringConstraints(pattern=r"^[^@\s]+@[^@\s]+$", max_length=254)]
    security: Literal["none", "starttls", "tls"] = "none"
    user: Line | None = None
    password_file: Line | None = None
    deadline_s: Annotated[int, Field(ge=2, le=120)] = 20


class ChannelsSettings(Record):
    """[channel]"""

    email: EmailServer | None = None
    webhook_hosts: tuple[Line, ...] = ()
    """Hosts that webhooks may go to, "name" or "name:port"; a webhook to any other is refused."""


_PORTS: Final = {"http": 80, "https": 443}


def is_allowed(url: str, hosts: Collection[str]) -> bool:
    """Return whether a webhook may go to a URL: a "name" in `hosts` means the scheme's own port, "name:port" that."""
    try:
        parts = urlsplit(url)
        usual, host = _PORTS[parts.scheme], (parts.hostname or "").lower()
        port = parts.port or usual
    except (KeyError, ValueError):
        return False
    named = {name.lower() for name in hosts}
    return f"{host}:{port}" in named or (port == usual and host in named)
