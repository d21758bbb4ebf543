from __future__ import annotations

from charts_support import lines
from cure_support import CONCRETE, END_MS, make_case, recorded
from store_support import AIR, EDGE

from cure.condition_plot import plot
from cure.condition_seen import Observed, observed
from shared.models.base import HOUR_MS, SensorId
from shared.models.readings import Series


def looked(readings: dict[SensorId, Series], hours: float) -> Observed:
    return observed(make_case(), readings, [], END_MS + round(hours * HOUR_MS), elapsed_ms=round(hours * HOUR_MS))


def drawn(svg: str) -> list[list[tuple[float, float]]]:
    """Return the places of each stretch of each line."""
    return [stretch for line in lines(svg).values() for stretch in line]


def test_each_sensor_and_the_air_have_a_line_and_a_name() -> None:
    svg = plot(looked({s: recorded(25.0 - i, 20, from_h=-1) for i, s in enumerate((*CONCRETE, AIR))}, 20))
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
    assert "freezing, before 3.5 MPa 0.5 °C (32.9 °F)" in cold
    assert "kept in the cold 13.0 °C (55.4 °F)" in cold


def test_without_readings_there_is_a_sentence() -> None:
    assert plot(looked({}, 5)) == "<p>no readings yet</p>"
