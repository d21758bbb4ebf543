"""Where a broker is and how to sign in."""

from __future__ import annotations

import ssl
from dataclasses import dataclass, field
from typing import Self
from urllib.parse import urlsplit

from paho.mqtt import client as mqtt


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """Where the broker is and how to sign in."""

    host: str
    port: int
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: bool = False
    ca_file: str | None = None
    """None: the machine's own authorities."""
    context: ssl.SSLContext | None = field(default=None, repr=False)
    """For a broker of our own, instead of both."""
    name_end: str = field(default="", repr=False)
    """Of the name under which the broker keeps messages for the service: nobody else who signs in may guess it."""

    @classmethod
    def from_url(
        cls, url: str, user: str | None = None, password: str | None = None, ca_file: str | None = None
    ) -> Self:
        """Return the address in an `mqtt://` or `mqtts://` URL that the site file has checked."""
        parts = urlsplit(url)
        tls = parts.scheme == "mqtts"
        return cls(parts.hostname or "", parts.port or (8883 if tls else 1883), user, password, tls, ca_file)

    def sign_in(self, client: mqtt.Client) -> None:
        """Make a client ready to connect here."""
        if self.user is not None:
            client.username_pw_set(self.user, self.password)
        if self.context is not None:
            client.tls_set_context(self.context)
        elif self.tls:
            client.tls_set(ca_certs=self.ca_file)
