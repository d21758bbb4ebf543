"""Forecasts in a process of their own: the same ones, and a batch that fails is told."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from threading import Event, get_native_id
from typing import Any

import pytest
from cure_support import END_MS, make_case
from forecast_support import work

from cure.forecast import Forecast
from cure.foresee import Asked, Foreseen, foresee
from cure.foresight import EVERY_MS, LOOKS_APART_MS, STANDS_MS, InTurn, Pace
from cure.going_on import Earned
from cure.plans import PLANS
from deploy.foreseeing_beside import EACH_S, FASTEST, LOOKS_S, Beside, pace

PATIENCE_S = 120.0


def asked() -> Asked:
    plan = PLANS["common-practice"]
    return Asked(work(), Earned(END_MS), plan, None, make_case().mix, END_MS, members=10, horizon_h=12)


def answered(beside: Beside) -> Sequence[Foreseen]:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        found = beside.answers()
        if found is not None:
            return found
        Event().wait(0.01)
    raise TimeoutError


def test_it_answers_as_in_turn_tells_what_failed_and_goes_on() -> None:
    with closing(Beside()) as beside:
        with pytest.raises(RuntimeError, match="nothing was asked"):
            beside.answers()
        beside.ask([asked()])
        (theirs,), (ours,) = answered(beside), foresee([asked()])
        assert isinstance(theirs.said, Forecast)
        assert isinstance(ours.said, Forecast)
        assert theirs.said.coldest_c.middle.tobytes() == ours.said.coldest_c.middle.tobytes()
        nobody: Any = None
        beside.ask([replace(asked(), members=nobody)])
        with pytest.raises(RuntimeError):
            answered(beside)
        beside.ask([])
        assert answered(beside) == []


def children() -> set[int]:
    """Return the numbers of this thread's processes."""
    return set(map(int, Path(f"/proc/self/task/{get_native_id()}/children").read_text(encoding="ascii").split()))


def test_one_that_dies_or_hangs_is_told_and_another_one_answers_the_next_batch() -> None:
    others = children()
    with closing(Beside(patience_s=0.2)) as beside:
        beside.ask([asked()])
        (hung,) = children() - others
        os.kill(hung, signal.SIGSTOP)
        with pytest.raises(RuntimeError, match="no forecast within"):
            answered(beside)
    assert children() <= others
    with closing(Beside()) as beside:
        beside.ask([asked()])
        (first,) = children() - others
        os.kill(first, signal.SIGKILL)
        with pytest.raises(RuntimeError, match="has ended"):
            answered(beside)
        beside.ask([])
        assert answered(beside) == []
        (second,) = children() - others
        os.kill(second, signal.SIGKILL)
        os.waitid(os.P_PID, second, os.WEXITED | os.WNOWAIT)
        # Between two batches too.
        beside.ask([asked()])
        assert len(answered(beside)) == 1
        (third,) = children() - others
        assert third != second != first
    assert children() <= others


def test_a_site_that_is_sped_up_foresees_as_often_as_it_has_real_time_for() -> None:
    quick, slow = pace(600.0, InTurn()), pace(2.0, InTurn())
    assert (quick.every_ms, quick.looks_apart_ms) == (EACH_S * 600_000, LOOKS_S * 600_000)
    assert (slow.every_ms, slow.looks_apart_ms) == (EVERY_MS, LOOKS_APART_MS)
    # Even the fastest has a new forecast before the old one says nothing any more.
    fastest = pace(FASTEST, InTurn())
    assert FASTEST > 600.0
    assert pace(1.0, beside := InTurn()) == Pace(foreseer=beside)
    assert fastest.every_ms + fastest.looks_apart_ms <= STANDS_MS
