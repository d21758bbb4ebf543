"""A process that writes readings for ever, to be killed: `python writing_process.py KIND FOLDER URL`.

It prints the number of each batch that the store has acknowledged.
"""

from __future__ import annotations

import sys
from pathlib import Path

from readings_support import setup_in

from shared.models.base import SensorId
from shared.models.readings import Reading
from shared.store import open_readings


def main() -> None:
    """Write batch after batch."""
    kind, folder, url = sys.argv[1], Path(sys.argv[2]), sys.argv[3]
    store = open_readings(setup_in(kind, folder, url), folder)
    for batch in range(10_000):
        store.merge([Reading(SensorId(f"lg-{n % 20:02}.1"), batch * 1_000 + n, batch, 0) for n in range(200)])
        sys.stdout.write(f"{batch}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
