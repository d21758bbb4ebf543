"""A site whose one recipient has an e-mail address at a mail server of the test."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from alerts_support import alerts_setup

from shared.models.setup import EmailAddress, Setup

CREW = EmailAddress(kind="email", to="crew@millrace.example")


def at_server(port: int, folder: Path, **server: Any) -> Setup:
    """Return a site that mails the crew through a server on a port of this machine."""
    return alerts_setup(
        str(folder),
        recipient=[
            {"id": "crew", "role": "crew", "shift": "00:00-00:00", "channels": [CREW.model_dump()]},
        ],
        channel={"email": {"host": "127.0.0.1", "port": port, "sender": "slab@millrace.example", **server}},
    )
