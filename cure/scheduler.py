"""One tick, not one job a pour: every second of site time the rounds look for pours with news or due.

The scheduler's own word that it runs is never believed: `stale_s` says when a tick last ended, and the watchdog judges
by that alone. (APScheduler's thread can die while `.running` stays true.)
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import UTC
from typing import Final

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.memory import MemoryJobStore
from apscheduler.schedulers.background import BackgroundScheduler

LOG: Final = logging.getLogger(__name__)


class TickScheduler:
    """Calls `tick` every `every_s` real seconds, one at a time, late ticks once."""

    def __init__(self, tick: Callable[[], object], every_s: float) -> None:
        self._tick = tick
        self._ended = time.monotonic()
        self._started = False
        self._scheduler = BackgroundScheduler(
            jobstores={"default": MemoryJobStore()},
            executors={"default": ThreadPoolExecutor(1)},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
            timezone=UTC,
        )
        # A tick that is skipped because one still runs is by design; the watchdog judges ticks that do not end.
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._scheduler.add_listener(self._told, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        self._scheduler.add_job(self._run, "interval", seconds=every_s, id="tick")

    def _run(self) -> None:
        self._tick()
        self._ended = time.monotonic()

    @staticmethod
    def _told(event: JobExecutionEvent) -> None:
        LOG.error("tick failed or was missed: %s", event.exception)

    def start(self) -> None:
        """Begin to tick."""
        self._ended = time.monotonic()
        self._scheduler.start()
        self._started = True

    def stop(self) -> None:
        """Wait for the tick that is running, then end; nothing to do when it was never started."""
        if self._started:
            self._scheduler.shutdown(wait=True)

    def stale_s(self) -> float:
        """Return the real seconds since a tick last ended."""
        return time.monotonic() - self._ended
