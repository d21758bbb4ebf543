"""Where a broker is and how to sign in."""

from __future__ import annotations

import ssl
from dataclasses import dataclass, field, replace
from typing import Self
from urllib.parse import urlsplit

from paho.mqtt import client as mqtt

_NO_WORD = ""
"""Of a key: one that wants a word is an error, not a question at a terminal that nobody sees."""


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
    """For a broker of our own, instead of all files."""
    name_end: str = field(default="", repr=False)
    """Of the name under which the broker keeps messages for the service: nobody else who signs in may guess it."""
    cert_file: str | None = None
    """By which a broker that asks for a certificate knows the service; goes with `key_file`."""
    key_file: str | None = None

    @classmethod
    def from_url(
        cls, url: str, user: str | None = None, password: str | None = None, ca_file: str | None = None
    ) -> Self:
        """Return the address in an `mqtt://` or `mqtts://` URL that the site file has checked."""
        parts = urlsplit(url)
        tls = parts.scheme == "mqtts"
        return cls(parts.hostname or "", parts.port or (8883 if tls else 1883), user, password, tls, ca_file)

    def nobody(self) -> Self:
        """Return the same place for somebody who has nothing to show."""
        return replace(self, user=None, password=None, cert_file=None, key_file=None)

    def tls_context(self) -> ssl.SSLContext | None:
        """Return how TLS is spoken there; None: it is not. Raises `OSError`: a file of it cannot be used."""
        if self.context is not None or not self.tls:
            return self.context
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        try:
            if self.ca_file is None:
                context.load_default_certs()
            else:
                context.load_verify_locations(self.ca_file)
            if self.cert_file is not None:
                context.load_cert_chain(self.cert_file, self.key_file, _NO_WORD)
        except OSError as error:
            files = ", ".join(file for file in (self.ca_file, self.cert_file, self.key_file) if file is not None)
            raise OSError(f"{files} cannot be used: {error}") from error
        return context

    def sign_in(self, client: mqtt.Client) -> None:
        """Make a client ready to connect here. Raises `OSError`: a file of its TLS cannot be used."""
        if self.user is not None:
            client.username_pw_set(self.user, self.password)
        if (context := self.tls_context()) is not None:
            client.tls_set_context(context)
