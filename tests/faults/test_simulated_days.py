"""Simulated days of a whole site with random faults. A seed again: `python tests/support/sim_run.py days --seed N`.

10 seeds of 3 days, in which each plan and each count of signatures has its own, and one of 15, after which pours were
closed and bays poured again; `FAULT_SCALE=20` runs 200 of 3 days and 20 of 30.
"""

from __future__ import annotations

import pytest
from scale import SCALE
from sim_run import days

pytestmark = pytest.mark.long

AT_ONCE = 10
"""Seeds a test, so that each has releases and deaths to count."""
LONG = 15.0 if SCALE < 2 else 30.0
"""Days."""


@pytest.mark.parametrize("first", range(1, 1 + round(10 * SCALE), AT_ONCE))
def test_no_seed_of_three_days_breaks_an_invariant(first: int) -> None:
    found = [days(seed) for seed in range(first, first + AT_ONCE)]
    assert [what for came in found for what in came.broken] == []
    assert sum(came.releases for came in found) >= AT_ONCE, "too little was released to say anything"
    assert sum(came.died for came in found) >= AT_ONCE, "too little died to say anything"


@pytest.mark.parametrize("seed", range(1001, 1001 + max(1, round(SCALE))))
def test_no_seed_of_many_days_breaks_an_invariant(seed: int) -> None:
    came = days(seed, length=LONG)
    assert came.broken == []
    assert came.releases >= LONG / 3
