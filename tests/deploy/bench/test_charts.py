"""The charts of a bay page stay as small as a phone on a bad network needs them."""

from __future__ import annotations

import gzip

from cure.dashboard.ink import SIZES
from cure.dashboard.svgchart import both
from deploy.bench.charts import LIMIT_KB, READINGS, SENSORS, page


def test_three_charts_in_both_sizes_of_fifty_thousand_readings_weigh_at_most_30_kb() -> None:
    charts = page()
    assert (len(charts), SENSORS * READINGS) == (3, 50_000)
    text = "".join(both(chart, SIZES) for chart in charts)
    assert len(gzip.compress(text.encode(), 6)) / 1000.0 <= LIMIT_KB
