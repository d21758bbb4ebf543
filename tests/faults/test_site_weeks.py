"""Bad but usual weeks on site: 5 % of packets lost, one logger in 20 dies, a corrupt packet a day, outages of 2 h.

2 of them; `FAULT_SCALE=100` runs 200; the table of many: `python tests/support/sim_run.py weeks --seeds 1:201`.
"""

from __future__ import annotations

from statistics import median, quantiles

import pytest
from scale import SCALE
from sim_run import table, week


@pytest.mark.long
def test_bad_weeks_release_nothing_unsafe_lose_few_hours_and_say_little() -> None:
    site_weeks = [week(seed) for seed in range(1, 1 + max(1, round(2 * SCALE)))]
    lost = [hours for came in site_weeks for hours in came.lost_h]
    assert [what for came in site_weeks for what in came.broken] == []
    assert sum(came.unsafe for came in site_weeks) == 0
    assert median(lost) == 0.0, table(site_weeks)
    assert quantiles(lost, n=10, method="inclusive")[8] <= 2.0, table(site_weeks)
    assert median(came.to_superintendent_a_day for came in site_weeks) <= 6.0, table(site_weeks)
