"""The listener with its stores as a process of its own, to be measured: `python -m deploy.bench.listening`.

Told by a line of JSON on standard input; says `ready`; answers each line `look` with what it has come to, and ends when
its standard input does.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from alerts.transport import RecordingTransport
from deploy.bench.wire import hour_in
from deploy.logger_keys import logger_keys
from deploy.wiring import Service, build
from ingest.address import BrokerAddress
from ingest.listener import Listener
from ingest.message import Incoming
from ingest.sheet import Taken
from ingest.turns import SharedIntake
from shared.clock import SystemClock
from shared.sitefile import load

NEVER: Final = 0


class TimedIntake(SharedIntake):
    """The service's intake; writes down when each message was committed."""

    def __init__(self, service: Service, base_ms: int, count: int) -> None:
        site = service.setup.site
        ports = (service.readings, service.book.ingest, service.clock)
        super().__init__(site.site.site_id, *ports, topics=site.topic, keys=logger_keys(service.setup))
        self._base_ms = base_ms
        # Filled now, so that its pages are there before memory is looked at.
        self.committed_ns: npt.NDArray[np.int64] = np.full(count, NEVER, dtype=np.int64)
        self.committed = 0
        self.last_ns = 0
        self.batches = 0
        self.largest = 0

    def take(self, batch: Sequence[Incoming]) -> Sequence[Taken]:
        taken = super().take(batch)
        self.last_ns = time.monotonic_ns()
        for message in batch:
            n = hour_in(message.payload) - self._base_ms
            if 0 <= n < len(self.committed_ns) and self.committed_ns[n] == NEVER:
                self.committed_ns[n] = self.last_ns
                self.committed += 1
        self.batches += 1
        self.largest = max(self.largest, len(batch))
        return taken


def resident_mb() -> float:
    """Return the memory that this process holds. [MB]"""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024.0
    raise OSError("/proc/self/status does not tell")


def _look(listener: Listener, intake: TimedIntake) -> dict[str, Any]:
    done = listener.counters()
    return {
        "committed": intake.committed,
        "last_ns": intake.last_ns,
        "acknowledged": done.acknowledged,
        "received": done.received,
        "missed": done.missed,
        "connections": done.connections,
        "failures": done.store_failures,
        "batches": intake.batches,
        "largest_batch": intake.largest,
        "healthy": listener.healthy(),
        "resident_mb": resident_mb(),
        "processor_s": time.process_time(),
    }


def main() -> int:
    """Listen until standard input ends."""
    told = json.loads(sys.stdin.readline())
    setup = load(Path(told["site_file"]))
    with build(setup, clock=SystemClock(), transport=RecordingTransport()) as service:
        intake = TimedIntake(service, told["base_ms"], told["count"])
        address = BrokerAddress(told["host"], told["port"], told["user"], told["password"])
        listener = Listener(address, setup.site.site.site_id, intake)
        listener.start()
        pause = threading.Event()
        while listener.healthy() is not None:
            pause.wait(0.01)
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        for line in sys.stdin:
            if line.strip() == "save":
                np.save(told["file"], intake.committed_ns)
            sys.stdout.write(json.dumps(_look(listener, intake)) + "\n")
            sys.stdout.flush()
        listener.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
