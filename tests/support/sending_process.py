"""A process that sends one mail through a child, until somebody kills it. Its argument is JSON: port and folder."""

from __future__ import annotations

import json
import sys

from alerts_support import alerts_setup
from server_support import TEXT

from alerts.transport import Attempt, ChildTransport
from shared.models.base import RecipientId
from shared.models.people import EmailAddress

if __name__ == "__main__":
    job = json.loads(sys.argv[1])
    server = {"host": "127.0.0.1", "port": job["port"], "sender": "slab@millrace.example"}
    setup = alerts_setup(job["folder"], channel={"email": server})
    to = EmailAddress(kind="email", to="crew@millrace.example")
    ChildTransport(setup, 20).send(Attempt(TEXT, to, (42,), RecipientId("crew"), 0, 0), lambda: True)
