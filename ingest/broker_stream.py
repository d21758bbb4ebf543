"""How long the embedded broker keeps what it took: asked of it in its own language, which it speaks to this machine.

By itself it forgets a message when everybody has acknowledged it, and writes each one that it forgets down, synced to
the disk like a new one. Kept until they are old, messages cost one sync each instead of two, and to be acknowledged
they need not wait for the disk behind those that are still coming in.
"""

from __future__ import annotations

import json
import socket
from typing import IO, Any, Final

from shared.errors import BrokerError
from shared.models.base import Json

STREAM: Final = "$MQTT_msgs"
"""In which the server keeps what is published at QoS 1."""
KEPT_DAYS: Final = 15
"""A reading is refused as too old after 14 (`ingest.screening`)."""
KEPT_BYTES: Final = 1 << 30
"""About five million readings; beyond it the oldest are given up."""
_CONFIG: Final[dict[str, Json]] = {
    "name": STREAM,
    "subjects": ["$MQTT.msgs.>"],
    "retention": "limits",
    "discard": "old",
    "max_age": KEPT_DAYS * 86_400 * 10**9,
    "max_bytes": KEPT_BYTES,
    "storage": "file",
    "num_replicas": 1,
}
_NO_SUCH_STREAM: Final = 10_059
_TAKEN: Final = 10_058
_INBOX: Final = "_INBOX.slabhour"
_LONGEST_S: Final = 60.0


def keep_until_old(port: int, user: str | None = None, password: str | None = None) -> None:
    """Make the server keep messages until they are old, whether it has kept any yet or not.

    Args:
        port: at which it speaks its own language to this machine.
        user: who asks; None: nobody signs in.
        password: of the user.

    Raises:
        BrokerError: it does not answer, or will not.
    """
    try:
        with socket.create_connection(("127.0.0.1", port), _LONGEST_S) as connection, connection.makefile("rb") as said:
            said.readline()
            who = {} if user is None else {"user": user, "pass": password}
            hello = json.dumps({"verbose": False, "pedantic": False, **who})
            connection.sendall(f"CONNECT {hello}\r\nSUB {_INBOX} 1\r\n".encode())
            # A logger that comes back at once may have it made between the two.
            for what, unless in (("UPDATE", _NO_SUCH_STREAM), ("CREATE", _TAKEN), ("UPDATE", None)):
                error = _asked(connection, said, f"$JS.API.STREAM.{what}.{STREAM}").get("error")
                if error is None:
                    return
                if error.get("err_code") != unless:
                    raise BrokerError(f"the embedded broker does not keep messages as it should: {error}")
    except (OSError, ValueError) as error:
        raise BrokerError(f"the embedded broker does not say how it keeps messages: {error}") from error


def _asked(connection: socket.socket, said: IO[bytes], subject: str) -> dict[str, Any]:
    body = json.dumps(_CONFIG).encode()
    connection.sendall(f"PUB {subject} {_INBOX} {len(body)}\r\n".encode() + body + b"\r\n")
    while line := said.readline():
        if line.startswith(b"MSG "):
            answer: dict[str, Any] = json.loads(said.read(int(line.split()[-1]) + 2))
            return answer
        if line.startswith(b"-ERR"):
            raise ValueError(line.decode(errors="replace").strip())
        if line.startswith(b"PING"):
            connection.sendall(b"PONG\r\n")
    raise ValueError("it ended the connection")
