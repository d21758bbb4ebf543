"""Simulated days of a whole site with random faults. A seed again: `python tests/support/sim_run.py days --seed N`.

50 seeds of 3 days and one of 10; `FAULT_SCALE=5` runs 250 and 5 of 30 days, and so on.
"""

from __future__ import annotations

from sim_run import SCALE, many

SEEDS = range(1, round(50 * SCALE) + 1)
LONG = range(1001, 1001 + round(SCALE))
LONG_DAYS = min(30.0, 10.0 * SCALE)


def test_no_seed_of_three_days_breaks_an_invariant() -> None:
    found = list(many("days", SEEDS))
    assert [what for came in found for what in came.broken] == []
    assert sum(came.releases for came in found) >= len(SEEDS), "too little was released to say anything"
    assert sum(came.died for came in found) >= len(SEEDS), "too little died to say anything"


def test_no_seed_of_many_days_breaks_an_invariant() -> None:
    found = list(many("days", LONG, LONG_DAYS))
    assert [what for came in found for what in came.broken] == []
    assert sum(came.releases for came in found) >= len(LONG)
