"""A chart as text: what it says, where its lines lie, and that nothing from outside gets into its markup."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from charts_support import lines, picture, places, words
from hypothesis import given, settings
from hypothesis import strategies as st

from cure.dashboard.ink import DASHES, LETTER, NARROW, SIZES, WIDE
from cure.dashboard.layers import Band, Chart, Layer, Level, Line, Panel, Point, Second, Shade, Strip, Upright
from cure.dashboard.scales import Mark, hours_of, numbers
from cure.dashboard.svgchart import alone, both, steps, svgchart

NASTY = "a<b>&\"'</text><script>alert(1)</script>"


def chart(*layers: Layer, strips: tuple[Strip, ...] = (), **changes: Any) -> Chart:
    panel = Panel("°C", layers, 0.0, 10.0, strips=strips)
    return Chart(**{"key": "t", "title": "Title", "across": numbers(0.0, 10.0), "panels": (panel,), **changes})


def line(name: str, *y: float, **changes: Any) -> Line:
    return Line(name, np.linspace(0.0, 10.0, len(y)), np.array(y), **changes)


def test_a_line_is_read_back_from_its_path_to_a_tenth() -> None:
    svg = svgchart(chart(line("a", 0.0, 5.0, 10.0)))
    left, right, top, bottom = 52, 960 - 160, 24, 276
    assert lines(svg)["a"] == [[(left, bottom), ((left + right) / 2, (top + bottom) / 2), (right, top)]]


def test_what_is_no_number_breaks_the_line() -> None:
    svg = svgchart(chart(line("a", 1.0, 2.0, np.nan, 3.0, np.nan)))
    first, second = lines(svg)["a"]
    assert len(first) == 2
    # A single reading is a dot: a step of nothing with a round end.
    assert second[0] == second[1]
    assert "nan" not in svg.casefold().replace("nano", "")


def test_a_line_of_nothing_has_neither_path_nor_name() -> None:
    svg = svgchart(chart(line("nobody", np.nan, np.nan)))
    assert lines(svg) == {}
    assert "nobody" not in words(svg)


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.sampled_from(SIZES))
def test_exact_extremes_are_in_the_picture_whatever_is_thinned(seed: int, size: Any) -> None:
    rng = np.random.default_rng(seed)
    y = rng.normal(5.0, 0.5, 10_000)
    y[rng.integers(10_000)], y[rng.integers(10_000)] = -4.0, 13.0
    svg = svgchart(chart(line("a", *y)), size)
    scale = next(str(g.get("data-y")) for g in picture(svg).iter() if g.get("data-y"))
    top, bottom, high, low = map(float, scale.split(","))
    drawn = [p[1] for stretch in lines(svg)["a"] for p in stretch]
    for value, found in ((y.min(), max(drawn)), (y.max(), min(drawn))):
        assert found == pytest.approx(bottom - (value - low) / (high - low) * (bottom - top), abs=0.06)
    assert sum(map(len, lines(svg)["a"])) <= size.width


@given(st.lists(st.floats(0, 10), min_size=1, max_size=18), st.sampled_from(SIZES))
def test_the_names_at_the_ends_never_lie_one_over_the_other(ends: list[float], size: Any) -> None:
    svg = svgchart(chart(*(line(f"sensor {n}", 5.0, end, ink=n) for n, end in enumerate(ends))), size)
    right = size.width - size.right
    ys = sorted(float(t.get("y", "nan")) for t in picture(svg).iter() if t.get("x") == f"{right + 18:g}")
    assert len(ys) == len(ends)
    assert all(b - a >= 13.9 for a, b in pairwise(ys))
    assert all(20 <= y <= float(str(picture(svg).get("viewBox")).split()[3]) for y in ys)


@given(st.lists(st.floats(0, 10), min_size=1, max_size=8))
def test_the_words_of_the_levels_never_lie_one_over_the_other(values: list[float]) -> None:
    svg = svgchart(chart(*(Level(f"level {n}", v) for n, v in enumerate(values))))
    ys = sorted(float(t.get("y", "nan")) for t in picture(svg).iter() if t.get("class") == "t")
    assert len(ys) == len(values)
    assert all(b - a >= 13.9 for a, b in pairwise(ys))


def test_a_long_name_is_cut_to_its_room_and_whole_in_its_title() -> None:
    name = "a-logger-with-a-long-name.12 last-placed end"
    for size in SIZES:
        svg = svgchart(chart(line(name, 1.0, 2.0)), size)
        cut = next(word for word in words(svg) if word.endswith("…"))
        assert len(cut) * LETTER <= size.right - 18
        assert name in [str(t.text) for t in picture(svg).iter() if t.tag.endswith("}title")]


def test_every_name_from_outside_is_escaped() -> None:
    layers = (
        line(NASTY, 1.0, 2.0),
        Band(NASTY, np.arange(2.0), np.zeros(2), np.ones(2)),
        Level(NASTY, 5.0),
        Point(NASTY, 1.0, 1.0),
        Upright(NASTY, 3.0),
        Shade(NASTY, "cold", [(1.0, 2.0)]),
    )
    strips = (Strip(NASTY, [(1.0, 2.0)]), Strip(NASTY, [(1.0, 2.0)], hatched=True, titles=[NASTY]))
    own = numbers(0.0, 10.0, NASTY, lambda _: [Mark(1.0, NASTY)])
    changes = {"key": NASTY, "title": NASTY, "across": own, "second": Second(NASTY, (Mark(1.0, NASTY),))}
    svg = svgchart(chart(*layers, strips=strips, **changes))
    assert {element.tag.split("}")[1] for element in picture(svg).iter()} <= {
        "svg", "title", "g", "path", "text", "pattern", "rect",
    }  # fmt: skip
    assert NASTY in [str(t.text) for t in picture(svg).iter()]


def test_a_page_that_allows_only_its_own_files_shows_it() -> None:
    hatched = Strip("gaps", [(1.0, 2.0)], hatched=True, titles=["a gap"])
    svg = svgchart(chart(line("a", 1.0, 2.0), strips=(hatched,)))
    assert " style=" not in svg
    assert "<style" not in svg
    assert "<script" not in svg
    assert not re.search(r"\son\w+=", svg)
    # The hatching is in the same picture.
    assert re.findall(r"url\(([^)]*)\)", svg) == ["#t-wide-h"]
    assert 'id="t-wide-h"' in svg


def test_one_that_stands_alone_has_its_looks_with_it() -> None:
    svg = alone(svgchart(chart(line("a", 1.0, 2.0))))
    assert picture(svg)[0].tag.endswith("style")
    assert "@media" not in svg


def test_both_sizes_have_ids_of_their_own() -> None:
    found = re.findall(r'<title id="([^"]+)"', both(chart(line("a", 1.0, 2.0)), SIZES))
    assert found == ["t-wide", "t-narrow"]


def test_an_id_has_no_blank_and_the_picture_is_named_by_it() -> None:
    root = picture(svgchart(chart(key="mix 1, version <2>")))
    assert root.get("aria-labelledby") == root[0].get("id") == "mix-1--version--2--wide"


def test_lines_differ_by_dash_and_mark_beside_ink() -> None:
    svg = svgchart(chart(*(line(f"s{n}", 1.0, 2.0, ink=n) for n in range(len(DASHES)))))
    drawn = [p for p in picture(svg).iter() if p.get("data-name")]
    marks = [p.get("d") for p in picture(svg).iter() if str(p.get("class")).startswith("e ")]
    assert len({p.get("stroke-dasharray") for p in drawn}) == len(DASHES)
    assert len(set(marks)) == len(DASHES)


def test_air_and_forecast_have_a_form_of_their_own() -> None:
    svg = svgchart(chart(line("air", 1.0, 2.0, kind="air"), line("later", 2.0, 3.0, kind="forecast")))
    assert {p.get("class") for p in picture(svg).iter() if p.get("data-name")} == {"a air", "a s0 f"}


def test_a_result_has_its_bar_and_a_bad_one_its_fill() -> None:
    points = (Point("three", 5.0, 6.0, 5.0, 7.0, form="diamond"), Point("one", 2.0, 2.0, bad=True))
    root = picture(svgchart(chart(*points)))
    bars = [p for p in root.iter() if p.get("class") == "r"]
    marks = {p[0].text: p for p in root.iter() if str(p.get("class")).startswith("p")}
    assert len(bars) == 1
    assert marks["three"].get("class") == "p"
    assert marks["one"].get("class") == "p bad"
    assert marks["three"].get("d") != marks["one"].get("d")


def test_strips_lie_below_the_panel_and_cover_their_spans() -> None:
    strips = (Strip("counts", [(0.0, 5.0)]), Strip("gaps", [(5.0, 5.001)], hatched=True, titles=["a gap"]))
    root = picture(svgchart(chart(line("a", 1.0, 2.0), strips=strips)))
    ribbon = next(str(p.get("d")) for p in root.iter() if p.get("class") == "w")
    assert re.match(r"M52\.0 280h374\.0v8h-374\.0z$", ribbon)
    gap = next(p for p in root.iter() if p.get("class") == "h")
    assert float(str(gap.get("y"))) > 280 + 8
    # However short it is, it is seen.
    assert float(str(gap.get("width"))) >= 0.5


def test_what_lies_outside_the_axis_is_not_drawn_and_what_nobody_could_tell_apart_is_one_box() -> None:
    outside = [(-5.0, -1.0), (11.0, 12.0)]
    strips = (
        Strip("counts", [*outside[:1], (1.0, 2.0), (2.0001, 3.0), (5.0, 6.0), *outside[1:]]),
        Strip("gaps", outside, hatched=True, titles=["before", "after"]),
    )
    svg = svgchart(chart(line("a", 1.0, 2.0), strips=strips))
    ribbon = next(str(p.get("d")) for p in picture(svg).iter() if p.get("class") == "w")
    assert ribbon.count("M") == 2
    assert [p for p in picture(svg).iter() if p.get("class") == "h"] == []


def test_marks_of_the_second_scale_that_lie_too_near_are_left_out() -> None:
    marks = tuple(Mark(at, f"{at:g} h") for at in (1.0, 1.1, 5.0))
    said = words(svgchart(chart(line("a", 1.0, 2.0), second=Second("age", marks))))
    assert "1 h" in said
    assert "5 h" in said
    assert "1.1 h" not in said


def test_what_a_script_needs_to_read_values_is_written_down() -> None:
    axis = hours_of("Europe/Paris", 1_764_000_000_000, 1_764_086_400_000)
    root = picture(svgchart(chart(line("a", 1.0, 2.0), across=axis), NARROW))
    assert root.get("data-x") == "44,296,1764000000000,1764086400000"
    assert root.get("data-kind") == "time"
    assert root.get("data-zone") == "Europe/Paris"
    group = next(g for g in root.iter() if g.get("data-y"))
    assert group.get("data-y") == "24,246,10,0"
    assert group.get("data-unit") == "°C"


@given(st.lists(st.tuples(st.floats(0, 960), st.floats(0, 300)), min_size=1, max_size=50))
def test_steps_add_up_without_an_error_that_grows(points: list[tuple[float, float]]) -> None:
    x, y = (np.array(v) for v in zip(*points, strict=True))
    (back,) = places(steps(x, y))
    assert back[0] == (round(float(x[0]), 1), round(float(y[0]), 1)) or np.allclose(back[0], (x[0], y[0]), atol=0.051)
    assert np.allclose(back[-1], (x[-1], y[-1]), atol=0.051)


def test_the_wide_picture_has_more_marks_than_the_narrow_one() -> None:
    axis = hours_of("UTC", 1_764_000_000_000, 1_764_000_000_000 + 7 * 86_400_000)
    wide, narrow = (words(svgchart(chart(line("a", 1.0, 2.0), across=axis), size)) for size in (WIDE, NARROW))
    assert len(wide) > len(narrow)


def test_words_of_uprights_that_are_near_each_other_stand_in_rows_of_their_own() -> None:
    svg = svgchart(chart(*(Upright(f"hour {n}", x) for n, x in enumerate((6.0, 6.2, 9.5)))))
    rows = [float(y) for y in re.findall(r'<text class="t"[^>]* y="([\d.]+)"[^>]*>hour \d<', svg)]
    assert rows[0] == rows[2] < rows[1]
