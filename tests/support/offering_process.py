"""A service's writer and intake on a file, to be killed: `python offering_process.py FOLDER NOW_MS`.

It prints the numbers of the readings that it has acknowledged, one a line.
"""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

from ingest_support import SITE, TOPIC, MemoryBook, pack, placements, warm
from store_support import make_setup

from ingest.intake import Intake
from ingest.message import Incoming
from ingest.writer import Queued, Writer
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS
from shared.store import open_readings


def main() -> None:
    """Offer readings for ever, again from the first on."""
    folder, now = Path(sys.argv[1]), int(sys.argv[2])
    intake = Intake(SITE, open_readings(make_setup(), folder), MemoryBook(placements()), SimulatedClock(now))

    def acknowledged(number: int, _: object) -> None:
        sys.stdout.write(f"{number}\n")
        sys.stdout.flush()

    writer = Writer(intake.take, lambda: None)
    writer.start()
    for number in range(36_000):
        celsius = (20_000 - number % 1_000) / 1000
        message = Incoming(TOPIC, pack(warm(celsius, now - HOUR_MS + number * 100)), now)
        while not writer.offer(Queued(message, partial(acknowledged, number)), 1.0):
            pass


if __name__ == "__main__":
    main()
