"""One tick, not one job a pour: every second of site time the rounds look for pours with news or due.

The scheduler's own word that it runs is never believed: `stale_s` says when a tick last ended, and the watchdog judges
by that alone. (APScheduler's thread can die while `.running` stays true.)

APScheduler plans by the wall clock. Set back by two hours it would not tick for two hours; set from 1970 to now it
would list every tick missed since, and run out of memory. So the next tick is planned from the clock as it is now.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Final

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.job import Job
from apscheduler.jobstores.memory import MemoryJobStore
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

LOG: Final = logging.getLogger(__name__)


class _FromNow(BaseTrigger):  # type: ignore[misc]  # apscheduler ships no types
    """Fires an interval after the clock as it is, however often it should have fired before."""

    def __init__(self, every_s: float) -> None:
        self._every = timedelta(seconds=every_s)

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        del previous
        return now + self._every


class _Jobs(MemoryJobStore):  # type: ignore[misc]
    """Finds a job due that lies further ahead than its interval: the clock was put back."""

    def __init__(self, every_s: float) -> None:
        super().__init__()
        self._every = timedelta(seconds=every_s)

    def get_due_jobs(self, now: datetime) -> list[Job]:
        for job in self.get_all_jobs():
            if job.next_run_time > now + self._every:
                job.next_run_time = now
                self.update_job(job)
        due: list[Job] = super().get_due_jobs(now)
        return due


class TickScheduler:
    """Calls `tick` every `every_s` real seconds, one at a time, late ticks once."""

    def __init__(self, tick: Callable[[], object], every_s: float) -> None:
        self._tick = tick
        self._ended = time.monotonic()
        self._started = False
        self._scheduler = BackgroundScheduler(
            jobstores={"default": _Jobs(every_s)},
            executors={"default": ThreadPoolExecutor(1)},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
            timezone=UTC,
        )
        # A tick that is skipped because one still runs is by design; the watchdog judges ticks that do not end.
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._scheduler.add_listener(self._told, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        self._scheduler.add_job(self._run, _FromNow(every_s), id="tick")

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
