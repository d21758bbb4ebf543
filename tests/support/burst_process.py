"""A logger that sends so many readings and waits for each to be acknowledged.

python burst_process.py HOST PORT USER WORD FIRST COUNT; reading n is n seconds old.
"""

from __future__ import annotations

import sys

from ingest_support import NOW, TOPIC, pack, warm
from paho.mqtt import publish


def main() -> None:
    """Send them; end when a broker has acknowledged them all."""
    host, port, user, word, first, count = sys.argv[1:]
    numbers = range(int(first), int(first) + int(count))
    messages = [(TOPIC, pack(warm(20.0 + n % 40 / 10, NOW - n * 1000)), 1, False) for n in numbers]
    auth = {"username": user, "password": word}
    publish.multiple(messages, hostname=host, port=int(port), auth=auth)  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
