"""What the charts of a pour say: one picture of each kind as it must stay, and what each part of them is."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from charts_golden import FOLDER, golden
from charts_support import cold_pour, lines, picture, words
from hypothesis import given
from hypothesis import strategies as st

from cure.dashboard.chart_words import WORDS
from cure.dashboard.charts import (
    Foreseen,
    Missing,
    Sensor,
    Strength,
    Temperature,
    Window,
    strength_chart,
    temperature_chart,
)
from cure.dashboard.ink import SIZES
from cure.dashboard.layers import Band, Chart, Level, Line, Point, Shade, Upright
from cure.dashboard.svgchart import svgchart
from shared.models.base import HOUR_MS

T0 = 1_764_000_000_000
WINDOW = Window(T0, T0 + 48 * HOUR_MS, T0 + 24 * HOUR_MS, "UTC")


def strength(**changes: object) -> Strength:
    at = T0 + np.arange(25) * HOUR_MS
    grown = np.linspace(0.0, 12.0, 25)
    return replace(Strength(at, grown, 0.75 * grown, np.linspace(0.0, 20.0, 25)), **changes)  # type: ignore[arg-type]


def sensor(name: str = "lg-01.1 top", c: float = 10.0, **changes: object) -> Sensor:
    at = T0 + np.arange(97) * HOUR_MS // 4
    return replace(Sensor(name, at, np.full(97, c), 30 * 60_000), **changes)  # type: ignore[arg-type]


def layers(chart: Chart, kind: type) -> list[object]:
    return [layer for panel in chart.panels for layer in panel.layers if isinstance(layer, kind)]


@pytest.mark.parametrize("name", sorted(golden()))
def test_each_kind_of_chart_is_as_it_was_looked_at(name: str) -> None:
    assert golden()[name] == (FOLDER / f"{name}.svg").read_text(encoding="utf-8")


def test_no_picture_is_kept_of_a_kind_that_is_gone() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == set(golden())


def test_strength_has_bound_estimate_band_limits_now_and_tests() -> None:
    chart = strength_chart(strength(required=(("strip", 3.5), ("walk", 3.5), ("load", 7.0))), WINDOW)
    assert [line.name for line in layers(chart, Line) if isinstance(line, Line)] == ["lower bound", "estimate"]
    assert len(layers(chart, Band)) == 1
    assert [level.label for level in layers(chart, Level) if isinstance(level, Level)] == [
        "strip, walk 3.5 MPa (508 psi)",
        "load 7.0 MPa (1016 psi)",
    ]
    assert [u.x for u in layers(chart, Upright) if isinstance(u, Upright)] == [WINDOW.now_ms]


def test_a_limit_in_psi_is_never_rounded_down() -> None:
    us = replace(WINDOW, first="US")
    chart = strength_chart(strength(required=(("strip", 3.5),)), us)
    (level,) = layers(chart, Level)
    assert isinstance(level, Level)
    assert level.label == "strip 508 psi (3.5 MPa)"
    assert level.value == pytest.approx(507.63, abs=0.01)
    assert chart.panels[0].unit == "psi"


def test_now_is_not_drawn_where_it_is_not_shown() -> None:
    earlier = replace(WINDOW, now_ms=WINDOW.through_ms + 1)
    assert layers(strength_chart(strength(), earlier), Upright) == []


def test_only_what_lies_in_the_window_is_drawn() -> None:
    part = replace(WINDOW, from_ms=T0 + 5 * HOUR_MS, through_ms=T0 + 10 * HOUR_MS)
    for chart in (strength_chart(strength(), part), temperature_chart(Temperature((sensor(),)), part)):
        for line in layers(chart, Line):
            assert isinstance(line, Line)
            assert part.from_ms <= line.x.min() <= line.x.max() <= part.through_ms


def test_the_hour_at_which_an_equivalent_age_was_reached_is_marked() -> None:
    second = strength_chart(strength(), WINDOW).second
    assert second is not None
    assert [(mark.label, round((mark.at - T0) / HOUR_MS, 2)) for mark in second.marks] == [("6 h", 7.2), ("12 h", 14.4)]


def test_without_a_forecast_there_is_none_and_with_one_it_is_dashed_and_named() -> None:
    assert "forecast" not in svgchart(strength_chart(strength(), WINDOW))
    at, mpa = T0 + np.arange(24, 49) * HOUR_MS, np.full(25, 12.0)
    svg = svgchart(strength_chart(strength(forecast=Foreseen(at, mpa - 2, mpa, mpa + 2)), WINDOW))
    (line,) = (p for p in picture(svg).iter() if p.get("data-name") == "forecast")
    assert str(line.get("class")).endswith(" f")


def test_tests_of_one_hour_are_one_diamond_with_a_bar_and_all_values_in_words() -> None:
    view = cold_pour()
    chart = strength_chart(view.strength(view.window()), view.window())
    (point,) = layers(chart, Point)
    assert isinstance(point, Point)
    assert (point.low, point.high, point.form) == (5.2, 6.6, "diamond")
    assert point.title == "pullout, qc: 5.2 MPa (754 psi), 6.6 MPa (957 psi), 6.1 MPa (884 psi)"


def test_temperature_has_a_line_a_sensor_a_ribbon_and_the_hatching_of_gaps() -> None:
    view = cold_pour()
    svg = svgchart(temperature_chart(view.temperature(view.window()), view.window()))
    assert set(lines(svg)) == {"lg-01.1 exposed edge", "lg-01.2 interior", "lg-02.1 last-placed end", "lg-09.1 air"}
    assert len(lines(svg)["lg-01.1 exposed edge"]) == 2
    titles = [str(t.text) for t in picture(svg).iter() if t.tag.endswith("}title")]
    assert "lg-01.1: not read for 6.0 h, not credited" in titles
    assert "lg-02.1: not read for 10.0 h, not credited" in titles
    assert "the coldest zone is below 5.0 °C (41.0 °F)" in titles


def test_cold_is_shaded_only_where_it_was_cold() -> None:
    spans = ((T0 + HOUR_MS, T0 + 2 * HOUR_MS),)
    chart = temperature_chart(Temperature((sensor(c=4.0),), 5.0, cold=spans), WINDOW)
    (shade,) = layers(chart, Shade)
    assert isinstance(shade, Shade)
    assert list(shade.spans) == [*spans]
    assert layers(temperature_chart(Temperature((sensor(),), 5.0), WINDOW), Shade) == []


@given(st.floats(-15, 75))
def test_a_limit_is_drawn_where_it_lies_near_and_not_where_it_would_flatten_the_curves(c: float) -> None:
    view = Temperature((sensor(c=c),), 5.0, limits=(("freezing", 0.0), ("hottest", 70.0)))
    drawn = {lv.label.split()[0] for lv in layers(temperature_chart(view, WINDOW), Level) if isinstance(lv, Level)}
    near = {
        word for word, limit in (("counts", 5.0), ("freezing", 0.0), ("hottest", 70.0)) if c - 10 <= limit <= c + 15
    }
    assert drawn == near


def test_degrees_fahrenheit_are_drawn_and_marked_as_such() -> None:
    svg = svgchart(temperature_chart(Temperature((sensor(c=10.0),), 5.0), replace(WINDOW, first="US")))
    assert "°F" in words(svg)
    assert "counts from 41.0 °F (5.0 °C)" in words(svg)
    scale = next(str(g.get("data-y")) for g in picture(svg).iter() if g.get("data-y"))
    high, low = map(float, scale.split(",")[2:])
    assert low <= 50.0 <= high
    assert low > 20.0


def test_gaps_that_overlap_are_one_and_name_every_sensor() -> None:
    missing = (Missing(T0, T0 + HOUR_MS, "a"), Missing(T0 + HOUR_MS // 2, T0 + 3 * HOUR_MS, "b"))
    chart = temperature_chart(Temperature((sensor(),), missing=missing), WINDOW)
    (strip,) = chart.panels[0].strips
    assert list(strip.spans) == [(T0, T0 + 3 * HOUR_MS)]
    assert list(strip.titles) == ["a; b"]


def test_a_thousand_gaps_make_no_thousand_boxes() -> None:
    missing = tuple(Missing(T0 + n * 60_000, T0 + n * 60_000 + 30_000, "a") for n in range(1000))
    strip = temperature_chart(Temperature((sensor(),), missing=missing), WINDOW).panels[0].strips[0]
    assert len(strip.spans) <= 300


@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
def test_before_anything_was_read_there_is_still_a_picture(size: object) -> None:
    nothing = Strength(*(np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0)))
    for chart in (strength_chart(nothing, WINDOW), temperature_chart(Temperature(()), WINDOW)):
        assert isinstance(picture(svgchart(chart, size)), ET.Element)  # type: ignore[arg-type]


@pytest.mark.parametrize("language", sorted(WORDS))
def test_every_language_says_everything(language: str) -> None:
    said, view = WORDS[language], cold_pour()
    window = view.window(words=said)
    found = words(svgchart(strength_chart(view.strength(window), window)))
    found += words(svgchart(temperature_chart(view.temperature(window), window)))
    for word in (said.estimate, said.lower_bound, said.now, said.gaps, said.equivalent_age):
        assert word in found
    if language != "en":
        english, other = (vars_of(WORDS[name]) for name in ("en", language))
        same = {name for name in english if english[name] == other[name]}
        assert same <= {"air", "tested", "hours"}


def vars_of(said: object) -> dict[str, object]:
    return {name: getattr(said, name) for name in type(said).__slots__}  # type: ignore[attr-defined]
