"""Site time. The one place that reads the machine's clocks.

Site time is what ages, gates, expiry and periods run on. Real time (keepalive, deadlines of children, the watchdog)
is `time.monotonic`, read where it is used.
"""

from __future__ import annotations

import ctypes
import time
from pathlib import Path
from threading import Lock
from typing import Final

from shared.elapsed import Look
from shared.models.base import Ms
from shared.ports import Clock

_TIME_ERROR: Final = 5
"""adjtimex(2): the kernel's clock is not synchronised."""


def _boot() -> tuple[str, int]:
    boot_id = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    return boot_id, time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000


_AT_ONCE_MS: Final = 1_000
_TRIES: Final = 100


def look(clock: Clock) -> Look:
    """Return what the clocks say at one moment: a process that was held up between two of them looks again."""
    for _ in range(_TRIES):
        before, wall_ms, synchronised = clock.boot(), clock.now(), clock.synchronised()
        boot, boot_ms = clock.boot()
        if before[0] == boot and boot_ms - before[1] <= _AT_ONCE_MS:
            break
    return Look(wall_ms, boot, boot_ms, synchronised)


class SystemClock:
    """The machine's own clock."""

    def now(self) -> Ms:
        return time.time_ns() // 1_000_000

    def boot(self) -> tuple[str, int]:
        return _boot()

    def synchronised(self) -> bool:
        # A zeroed struct timex asks and sets nothing; 512 bytes are more than any ABI's struct.
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(512))
        return bool(0 <= state < _TIME_ERROR)


class SimulatedClock:
    """Time that moves only when told to: tests and replay."""

    def __init__(self, now: Ms, *, synchronised: bool = True) -> None:
        self._now = now
        self._start = now
        self.is_synchronised = synchronised

    def set(self, now: Ms) -> None:
        """Move to `now`; time never runs back."""
        self._now = max(self._now, now)

    def now(self) -> Ms:
        return self._now

    def boot(self) -> tuple[str, int]:
        return f"simulated-{self._start}", self._now - self._start

    def synchronised(self) -> bool:
        return self.is_synchronised


class SpedUpClock:
    """The demo's clock: `rate` site seconds a real second, moved by `step`.

    A step counts at most 0.1 s of real time, so that a machine that stalls stalls the site with it instead of
    jumping over an hour of it.
    """

    LONGEST_STEP_S: Final = 0.1

    def __init__(self, start: Ms, rate: float) -> None:
        self._site = float(start)
        self._start = start
        self._rate = rate
        self._last = time.monotonic()
        self._lock = Lock()

    def step(self, *, passing: bool = True) -> None:
        """Let the real time since the last step pass on site; not `passing`: the site stands still meanwhile."""
        with self._lock:
            real = time.monotonic()
            if passing:
                self._site += min(real - self._last, self.LONGEST_STEP_S) * self._rate * 1000.0
            self._last = real

    def now(self) -> Ms:
        return int(self._site)

    def boot(self) -> tuple[str, int]:
        return "sped-up", self.now() - self._start

    def synchronised(self) -> bool:
        return True
