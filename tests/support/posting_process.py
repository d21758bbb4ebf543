"""A whole service that dies by itself once a reading is durable, before anybody is told of it.

python posting_process.py SITE.toml [STEP]: the step of the intake after which it dies; none: it lives. Its port is the
first line that it prints.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from deploy.serve import running, until_told_to_stop
from shared.clock import SystemClock
from shared.models.base import SensorId
from shared.sitefile import load

if __name__ == "__main__":
    with until_told_to_stop() as stop, running(load(Path(sys.argv[1])), SystemClock()) as parts:
        service = parts.service

        def die(step: str) -> None:
            """Die, unless nothing is stored yet: the service's own test message comes this way too."""
            if step in sys.argv[2:] and any(service.readings.rows(SensorId("lg-01.1"), 0, 2**62)):
                os.kill(os.getpid(), signal.SIGKILL)

        service.intake._on_step = die
        sys.stdout.write(f"{parts.web.address.port}\n")
        sys.stdout.flush()
        stop.wait()
