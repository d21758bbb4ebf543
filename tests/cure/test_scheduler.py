from __future__ import annotations

import time
from datetime import datetime, timedelta, tzinfo
from threading import Event, Lock

import pytest
from apscheduler.schedulers import base
from ingest_support import until

from cure.scheduler import TickScheduler


@pytest.mark.row("J1", "J10")
def test_a_tick_that_raises_does_not_end_the_ticking() -> None:
    ticked, count = Event(), [0]

    def tick() -> None:
        count[0] += 1
        if count[0] == 1:
            raise RuntimeError("once")
        ticked.set()

    scheduler = TickScheduler(tick, 0.02)
    scheduler.start()
    try:
        assert ticked.wait(60)
    finally:
        scheduler.stop()


@pytest.mark.row("J3")
def test_a_tick_that_hangs_makes_the_scheduler_stale_whatever_it_says_of_itself() -> None:
    go = Event()
    scheduler = TickScheduler(lambda: go.wait(10), 0.02)
    scheduler.start()
    try:
        before = scheduler.stale_s()
        Event().wait(0.3)
        assert scheduler.stale_s() >= before + 0.25
    finally:
        go.set()
        scheduler.stop()


@pytest.mark.row("J8")
def test_ticks_never_overlap() -> None:
    running, overlapped, done = Lock(), [], [0]

    def tick() -> None:
        if not running.acquire(blocking=False):
            overlapped.append(time.monotonic())
            return
        Event().wait(0.05)
        done[0] += 1
        running.release()

    scheduler = TickScheduler(tick, 0.01)
    scheduler.start()
    until(lambda: done[0] >= 3)
    scheduler.stop()
    assert overlapped == []


def test_one_that_was_never_started_is_stopped_quietly() -> None:
    TickScheduler(lambda: None, 1.0).stop()


class WallClock(datetime):
    """The scheduler's wall clock, which somebody sets."""

    moved = timedelta(0)

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> WallClock:
        real = datetime.now(tz) + WallClock.moved  # noqa: TID251  the very clock that is set here
        return cls.fromtimestamp(real.timestamp(), tz)


@pytest.mark.row("C7", "C8")
@pytest.mark.parametrize(
    "jump", [timedelta(hours=-2), timedelta(days=10), timedelta(days=56 * 365)], ids=["back", "ahead", "from 1970"]
)
def test_ticks_go_on_whatever_hour_the_wall_clock_is_set_to(jump: timedelta, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(base, "datetime", WallClock)
    monkeypatch.setattr(WallClock, "moved", timedelta(days=-56 * 365) if jump.days > 300 else timedelta(0))
    ticks: list[float] = []
    scheduler = TickScheduler(lambda: ticks.append(time.monotonic()), 0.02)
    scheduler.start()
    try:
        until(lambda: len(ticks) >= 3)
        before, begun = len(ticks), time.monotonic()
        monkeypatch.setattr(WallClock, "moved", WallClock.moved + jump)
        until(lambda: len(ticks) >= before + 3)
        Event().wait(0.1)
    finally:
        scheduler.stop()
    # No tick is made up for, however slow the machine.
    assert len(ticks) - before <= (time.monotonic() - begun) / 0.02 + 2
