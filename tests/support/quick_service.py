"""A whole service whose site time runs fast and goes on by itself over restarts: a process to be killed.

python quick_service.py SITE.toml BASE_MS BASE_MONOTONIC_S RATE [BOOT]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from deploy.serve import running, until_told_to_stop
from shared.models.base import Ms
from shared.sitefile import load


class FastClock:
    """Site time from this machine's steady clock, which all its processes share; after a power cut another `boot`."""

    def __init__(self, base_ms: Ms, base_s: float, rate: float, boot: str = "fast") -> None:
        self._base_ms, self._base_s, self._rate, self._boot = base_ms, base_s, rate, boot

    def now(self) -> Ms:
        return self._base_ms + int((time.monotonic() - self._base_s) * self._rate * 1000.0)

    def boot(self) -> tuple[str, int]:
        return self._boot, self.now() - self._base_ms

    def synchronised(self) -> bool:
        return True


if __name__ == "__main__":
    site, base_ms, base_s, rate = sys.argv[1], int(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4])
    clock = FastClock(base_ms, base_s, rate, *sys.argv[5:])
    with until_told_to_stop() as stop, running(load(Path(site)), clock, rate=rate):
        stop.wait()
