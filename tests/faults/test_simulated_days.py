"""Simulated days of a whole site with random faults. A seed again: `python tests/support/sim_run.py days --seed N`.

200 seeds of 3 days and 5 of 30; `FAULT_SCALE=5` runs five times as many.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim_run import Came


def test_no_seed_of_three_days_breaks_an_invariant(three_days: Sequence[Came]) -> None:
    assert [what for came in three_days for what in came.broken] == []
    assert sum(came.releases for came in three_days) >= len(three_days), "too little was released to say anything"
    assert sum(came.died for came in three_days) >= len(three_days), "too little died to say anything"


def test_no_seed_of_thirty_days_breaks_an_invariant(thirty_days: Sequence[Came]) -> None:
    assert [what for came in thirty_days for what in came.broken] == []
    assert sum(came.releases for came in thirty_days) >= 10 * len(thirty_days)
