from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from cure_support import CONCRETE, END_MS, make_case, recorded, series
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import AIR, EDGE

from cure.condition_plot import POINTS, plot
from cure.condition_seen import Observed, observed
from shared.models.base import HOUR_MS, SensorId
from shared.models.readings import Series


def looked(readings: dict[SensorId, Series], hours: float) -> Observed:
    return observed(make_case(), readings, [], END_MS + round(hours * HOUR_MS), elapsed_ms=round(hours * HOUR_MS))


def drawn(svg: str) -> list[list[tuple[float, float]]]:
    """Return the points of each line."""
    found = re.findall(r'<polyline points="([^"]*)"', svg)
    return [[(float(x), float(y)) for x, y in (p.split(",") for p in line.split())] for line in found]


def test_each_sensor_and_the_air_have_a_line_and_a_name() -> None:
    svg = plot(looked({s: recorded(25.0 - i, 20, from_h=-1) for i, s in enumerate((*CONCRETE, AIR))}, 20))
    ET.fromstring(svg)  # noqa: S314 - our own text
    assert len(drawn(svg)) == 4
    for name in ("lg-01.1 exposed edge", "lg-01.2 interior", "lg-02.1 last-placed end", ">air<"):
        assert name in svg


def test_a_hole_is_not_drawn_over() -> None:
    svg = plot(looked({EDGE: recorded(25.0, 20, from_h=-1, but=(5, 9))}, 20))
    first, second = drawn(svg)
    assert second[0][0] - first[-1][0] > 100.0


def test_limits_are_drawn_where_they_lie_near() -> None:
    warm = plot(looked({EDGE: recorded(lambda h: 20.0 + h, 20, from_h=-1)}, 20))
    assert "freezing" not in warm
    assert "hottest" not in warm
    cold = plot(looked({EDGE: recorded(lambda h: 15.0 - h, 20, from_h=-1)}, 20))
    assert "freezing, before 3.5 MPa 0.5 °C" in cold
    assert "kept in the cold 13 °C" in cold


@settings(max_examples=30)
@given(st.integers(40, 4000), st.data())
def test_the_coldest_and_the_hottest_reading_are_always_drawn_and_a_long_record_stays_small(
    n: int, data: st.DataObject
) -> None:
    cold, hot = data.draw(st.integers(0, n - 1)), data.draw(st.integers(0, n - 1))
    c = [20.0 + (i % 7) * 0.01 for i in range(n)]
    c[hot] = 33.0
    c[cold] = -4.0
    times = [END_MS + i * 900_000 for i in range(n)]
    svg = plot(looked({EDGE: series(times, c)}, n / 4))
    points = [p for line in drawn(svg) for p in line if len(line) > 2]
    assert len(points) <= POINTS + 4
    # Up is 2 degC of margin from each extreme: 20 px and 370 px are the frame.
    lowest, highest = max(y for _, y in points), min(y for _, y in points)
    span = (max(c) - min(c)) + 4.0
    assert abs(lowest - (370 - 2.0 * 350 / span)) < 0.2
    assert abs(highest - (20 + 2.0 * 350 / span)) < 0.2


def test_without_readings_there_is_a_sentence() -> None:
    assert plot(looked({}, 5)) == "<p>no readings yet</p>"
