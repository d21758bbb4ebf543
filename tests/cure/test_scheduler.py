from __future__ import annotations

import time
from threading import Event, Lock

import pytest

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
        assert ticked.wait(5)
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
    Event().wait(0.4)
    scheduler.stop()
    assert overlapped == []
    assert done[0] >= 3


def test_one_that_was_never_started_is_stopped_quietly() -> None:
    TickScheduler(lambda: None, 1.0).stop()
