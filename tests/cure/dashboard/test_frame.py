"""Places of panels and of what must not lie one over the other."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.frame import frames, spread
from cure.dashboard.ink import NARROW, WIDE
from cure.dashboard.layers import Chart, Level, Line, Panel, Point, Upright
from cure.dashboard.scales import numbers


@given(st.lists(st.floats(-50, 400), max_size=15))
def test_places_are_apart_and_between_the_ends_while_there_is_room(wanted: list[float]) -> None:
    found = spread(sorted(wanted), 14, 20, 260)
    assert all(b - a >= 14 - 1e-9 for a, b in pairwise(found))
    assert all(20 - 1e-9 <= place <= 260 + 1e-9 for place in found)


def test_what_is_apart_already_stays_where_it_is() -> None:
    assert spread([30.0, 60.0, 200.0], 14, 20, 260) == [30.0, 60.0, 200.0]


def chart(*panels: Panel) -> Chart:
    return Chart("k", "t", numbers(0.0, 10.0), panels)


def test_the_scale_holds_every_value_and_what_it_must_reach() -> None:
    layers = (Line("a", np.arange(3.0), np.array([1.0, np.nan, 4.0])), Level("l", 9.0), Point("p", 1, 2, -3, 5))
    frame = frames(chart(Panel("", (*layers, Upright("now", 2)), least=-6.0)), WIDE)[0]
    assert frame.low <= -6.0
    assert frame.high >= 9.0
    assert (frame.at(frame.low), frame.at(frame.high)) == (frame.bottom, frame.top)


def test_a_panel_without_a_value_still_has_a_scale() -> None:
    frame = frames(chart(Panel("", (Line("a", np.arange(2.0), np.full(2, np.nan)),))), NARROW)[0]
    assert frame.low < frame.high


def test_panels_lie_one_below_the_other_and_a_panel_of_many_lines_is_high_enough_for_their_names() -> None:
    many = tuple(Line(f"s{n}", np.arange(2.0), np.zeros(2)) for n in range(40))
    first, second = frames(chart(Panel("", many), Panel("", ())), NARROW)
    assert second.top > first.bottom
    assert first.bottom - first.top >= 40 * 14
