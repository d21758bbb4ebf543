"""A sequence of pours as a chart: a row for each, with what it waits for."""

from __future__ import annotations

import math

import numpy as np
from planner_support import JUDGED, MONDAY_MS, answering, pour, weather

from cure.chain_chart import chain_chart
from cure.dashboard.layers import Line
from cure.dashboard.svgchart import svgchart
from cure.planner import moved
from cure.turnaround import Next, Site, chain
from shared.models.base import DAY_MS, HOUR_MS, STRIP, BayId

ZONE = "America/Halifax"


def test_each_pour_has_a_row_and_what_never_comes_is_not_drawn() -> None:
    over = weather(10.0, 16.0)
    links = [
        Next(BayId(f"b{n}"), moved(pour(over, name=f"b{n}"), MONDAY_MS + n * DAY_MS), JUDGED, STRIP) for n in range(3)
    ]
    site = Site(("A",), 5.0, "07:00-17:00", ZONE)
    foresee = answering(lambda work: [math.inf] if work.pour == "b1" else [24.0])
    drawn = chain_chart(chain(links, site, foresee=foresee), ZONE)
    [panel] = drawn.panels
    assert panel.marks is not None
    assert [mark.label for mark in panel.marks] == ["b0, A", "b1, A", "b2, A"]
    lines = {layer.name: layer for layer in panel.layers if isinstance(layer, Line)}
    # b0 is ready Tuesday at 10:00; b1 waits for its set from 8:00 to 15:00, is never ready, and b2 never starts.
    waits, cures = lines["waits"], lines["under its forms"]
    assert (*waits.x[:2], waits.y[0]) == (MONDAY_MS + DAY_MS, MONDAY_MS + DAY_MS + 7 * HOUR_MS, 2.0)
    assert list(cures.y[~np.isnan(cures.y)]) == [3.0, 3.0]
    svg = svgchart(drawn)
    assert "b2, A" in svg
    assert "not released" in svg
