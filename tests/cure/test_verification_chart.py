"""The chart draws every set and every limit, and nothing outside its frames."""

from __future__ import annotations

import math
import re
from typing import NamedTuple
from xml.etree import ElementTree as ET

import pytest
from charts_support import picture
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.frame import Frame, frames
from cure.dashboard.ink import WIDE
from cure.dashboard.svgchart import svgchart
from cure.verification_chart import MOST_MARKS, chart

RATIO = st.one_of(st.floats(0.0, 3.0), st.just(math.nan), st.just(math.inf))
NAME = "c32-f, version <1>"


def drawn(ratios: list[float], sums: list[float]) -> ET.Element:
    return picture(svgchart(chart(NAME, ratios, sums)))


class Dot(NamedTuple):
    x: float
    y: float
    bad: bool


def dots(root: ET.Element) -> list[Dot]:
    found = []
    for p in root.iter():
        if str(p.get("class")).split()[0] == "p":
            x, y = map(float, re.findall(r"-?[\d.]+", str(p.get("transform"))))
            found.append(Dot(x, y, "bad" in str(p.get("class"))))
    return found


def placed(ratios: list[float], sums: list[float]) -> tuple[Frame, Frame]:
    above, below = frames(chart(NAME, ratios, sums), WIDE)
    return above, below


def test_each_set_has_its_dot_in_both_plots_and_what_is_out_of_limits_is_filled() -> None:
    found = dots(drawn([1.0, 0.949, 1.151, 0.95], [0.0, -0.026, 0.0, -0.101]))
    assert [dot.bad for dot in found] == [False, True, True, False, False, False, False, True]
    assert [dot.x for dot in found[:4]] == [dot.x for dot in found[4:]]
    above = [dot.y for dot in found[:4]]
    assert above[2] < above[0] < above[3] < above[1]


def test_every_limit_has_its_line_and_its_mark() -> None:
    root = drawn([1.0], [0.0])
    marks = [t.text for t in root.iter() if t.tag.endswith("}text")]
    assert [m for m in ("85", "90", "95", "100", "115", "-10", "0") if m not in marks] == []
    assert len([p for p in root.iter() if p.get("class") in {"l", "z"}]) == 7


@given(st.lists(st.tuples(RATIO, st.floats(-5.0, 0.0)), max_size=60))
def test_nothing_lies_outside_its_frame(sets: list[tuple[float, float]]) -> None:
    ratios, sums = [r for r, _ in sets], [s for _, s in sets]
    root, of = drawn(ratios, sums), placed(ratios, sums)
    known = sum(math.isfinite(r) for r in ratios)
    found = dots(root)
    assert len(found) == known + len(sets)
    for n, dot in enumerate(found):
        frame = of[0] if n < known else of[1]
        assert frame.left < dot.x < frame.right
        assert frame.top <= dot.y <= frame.bottom
    assert "nan" not in ET.tostring(root, encoding="unicode")


@pytest.mark.parametrize("sets", [0, 1, 15, 16, 200])
def test_the_marks_below_never_crowd(sets: int) -> None:
    _, below = placed([1.0] * sets, [0.0] * sets)
    assert len(below.marks) <= MOST_MARKS
