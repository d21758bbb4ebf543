"""A process that sends one mail through a child, until somebody kills it. Its argument is JSON: port and folder."""

from __future__ import annotations

import json
import sys

from alerts_support import alerts_setup
from server_support import TEXT

from alerts.transport import ChildTransport
from shared.models.setup import EmailAddress

if __name__ == "__main__":
    job = json.loads(sys.argv[1])
    server = {"host": "127.0.0.1", "port": job["port"], "sender": "slab@millrace.example"}
    setup = alerts_setup(job["folder"], channel={"email": server})
    ChildTransport(setup, 20).send(TEXT, EmailAddress(kind="email", to="crew@millrace.example"), 42, lambda: True)
