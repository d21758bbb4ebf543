"""An embedded broker in a process that will be killed: `python broker_process.py FOLDER PORT` prints the child's id."""

from __future__ import annotations

import sys
from pathlib import Path

from ingest.broker import EmbeddedBroker


def main() -> None:
    """Run the broker until standard input ends."""
    with EmbeddedBroker(Path(sys.argv[1]), int(sys.argv[2])) as broker:
        sys.stdout.write(f"{broker.pid}\n")
        sys.stdout.flush()
        sys.stdin.read()


if __name__ == "__main__":
    main()
