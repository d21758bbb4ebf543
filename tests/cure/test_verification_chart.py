"""The chart draws every set and every limit, and nothing outside its frames."""

from __future__ import annotations

import math
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.report_parts import INK, LEFT, RED, RIGHT
from cure.verification_chart import HEIGHT, RATIOS, SUMS, chart

RATIO = st.one_of(st.floats(0.0, 3.0), st.just(math.nan), st.just(math.inf))


def drawn(ratios: list[float], sums: list[float]) -> ET.Element:
    return ET.fromstring(chart("c32-f, version <1>", ratios, sums))  # noqa: S314 - our own text


def dots(picture: ET.Element) -> list[tuple[float, float, str]]:
    found = picture.findall("{*}circle")
    return [(float(c.get("cx", "nan")), float(c.get("cy", "nan")), str(c.get("stroke"))) for c in found]


def test_each_set_has_its_dot_in_both_plots_and_what_is_out_of_limits_is_red() -> None:
    found = dots(drawn([1.0, 0.949, 1.151, 0.95], [0.0, -0.026, 0.0, -0.101]))
    assert [colour for _, _, colour in found] == [INK, RED, RED, INK, INK, INK, INK, RED]
    assert [x for x, _, _ in found[:4]] == [x for x, _, _ in found[4:]]
    above = [y for _, y, _ in found[:4]]
    assert above[2] < above[0] < above[3] < above[1]


def test_every_limit_has_its_line_and_its_mark() -> None:
    picture = drawn([1.0], [0.0])
    marks = [t.text for t in picture.findall("{*}text")]
    assert [m for m in ("85", "90", "95", "100", "115", "-10", "0") if m not in marks] == []
    levels = [p for p in picture.findall("{*}polyline") if len(str(p.get("points")).split()) == 2]
    assert len(levels) == 7


@given(st.lists(st.tuples(RATIO, st.floats(-5.0, 0.0)), max_size=60))
def test_nothing_lies_outside_its_frame(sets: list[tuple[float, float]]) -> None:
    picture = drawn([r for r, _ in sets], [s for _, s in sets])
    known = sum(math.isfinite(r) for r, _ in sets)
    found = dots(picture)
    assert len(found) == known + len(sets)
    for n, (x, y, _) in enumerate(found):
        top, bottom = RATIOS if n < known else SUMS
        assert LEFT < x < RIGHT
        assert top <= y <= bottom
    assert "nan" not in ET.tostring(picture, encoding="unicode")


@pytest.mark.parametrize("sets", [0, 1, 15, 16, 200])
def test_the_marks_below_never_crowd(sets: int) -> None:
    numbers = [t for t in drawn([1.0] * sets, [0.0] * sets).findall("{*}text") if t.get("y") == f"{SUMS[1] + 16:.1f}"]
    assert len(numbers) <= 15
    assert SUMS[1] + 16 < HEIGHT
