"""Bad but usual weeks on site: 5 % of packets lost, one logger in 20 dies, a corrupt packet a day, outages of 2 h.

4 of them; `FAULT_SCALE=50` runs 200; the table of many: `python tests/support/sim_run.py weeks --seeds 1:201`.
"""

from __future__ import annotations

from statistics import median, quantiles

from sim_run import SCALE, many, table

SEEDS = range(1, max(2, round(4 * SCALE)) + 1)


def test_bad_weeks_release_nothing_unsafe_lose_few_hours_and_say_little() -> None:
    found = list(many("weeks", SEEDS))
    lost = [hours for came in found for hours in came.lost_h]
    assert [what for came in found for what in came.broken] == []
    assert sum(came.unsafe for came in found) == 0
    assert median(lost) == 0.0, table(found)
    assert quantiles(lost, n=10, method="inclusive")[8] <= 2.0, table(found)
    assert median(came.to_superintendent_a_day for came in found) <= 6.0, table(found)
