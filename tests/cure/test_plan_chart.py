"""A planned pour as a chart."""

from __future__ import annotations

import pytest
from planner_support import JUDGED, MONDAY_MS, pour, weather

from cure.dashboard.layers import Upright
from cure.dashboard.svgchart import svgchart
from cure.plan_chart import plan_chart
from cure.planned import foreseen
from cure.planner import Protection, Question, Tried, tried
from shared.models.base import HOUR_MS, STRIP
from shared.units import System


@pytest.fixture(scope="module")
def case() -> Tried:
    """Lend a pour in mild days."""
    asked = Question(JUDGED, STRIP, MONDAY_MS + 30 * HOUR_MS)
    work = pour(weather(6.0, 14.0))
    return tried([(work, Protection(0.35))], asked, lambda works, by: foreseen(works, by, members=20))[0]


@pytest.mark.parametrize(
    ("first", "units", "limits"),
    [("SI", ["°C", "MPa"], ("5.0 °C", "3.5 MPa")), ("US", ["°F", "psi"], ("41.0 °F", "508 psi"))],
)
def test_it_has_a_band_of_temperature_and_one_of_strength_and_the_hours(
    case: Tried, first: System, units: list[str], limits: tuple[str, str]
) -> None:
    chart = plan_chart(case, JUDGED.requirements[STRIP], "America/Halifax", first=first)
    assert [panel.unit for panel in chart.panels] == units
    svg = svgchart(chart)
    assert svg.count('class="b"') == 2
    assert all(limit in svg for limit in limits)
    assert case.expected is not None
    hours = [layer.x for layer in chart.panels[0].layers if isinstance(layer, Upright)]
    assert hours == [case.expected.at(chance) for chance in (0.1, 0.5, 0.9)]
    # It goes on half a day after what is asked of, and says no word of a release.
    assert chart.across.last >= MONDAY_MS + 38 * HOUR_MS
    assert "released" not in svg
