"""Forecasts in a process of their own: the same ones, and a batch that fails is told."""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from threading import Event
from typing import Any

import pytest
from cure_support import END_MS, make_case
from forecast_support import work

from cure.forecast import Forecast
from cure.foresee import Asked, Foreseen, foresee
from cure.foresight import EVERY_MS, LOOKS_APART_MS, STANDS_MS, InTurn
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
        assert beside.answers() is None
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


def test_a_site_that_is_sped_up_foresees_as_often_as_it_has_real_time_for() -> None:
    quick, slow = pace(600.0, InTurn()), pace(2.0, InTurn())
    assert (quick.every_ms, quick.looks_apart_ms) == (EACH_S * 600_000, LOOKS_S * 600_000)
    assert (slow.every_ms, slow.looks_apart_ms) == (EVERY_MS, LOOKS_APART_MS)
    # Even the fastest has a new forecast before the old one says nothing any more.
    fastest = pace(FASTEST, InTurn())
    assert FASTEST > 600.0
    assert fastest.every_ms + fastest.looks_apart_ms <= STANDS_MS
