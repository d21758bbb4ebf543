"""A calibration as a chart: what is drawn where, and what the band is."""

from __future__ import annotations

import numpy as np
import pytest
from charts_support import lines, picture, words
from store_support import make_calibration

from cure.bound import student_tenth
from cure.dashboard.calibration_chart import Calibrated, Cylinder, calibrated, calibration_chart
from cure.dashboard.frame import frames
from cure.dashboard.ink import WIDE
from cure.dashboard.layers import Band, Point, Shade
from cure.dashboard.svgchart import svgchart
from cure.strength import CURVES

TESTED = (("A", 24.0, 14.0), ("B", 72.0, 30.0))


def test_the_band_is_the_tenth_percentile_of_where_the_curve_lies() -> None:
    calibration = make_calibration()
    (curve,) = calibrated(calibration).curves
    form, p = CURVES[calibration.curve], calibration.parameters
    gradient = form.gradient(curve.age_h, p)
    sd = np.sqrt([g @ np.array(calibration.covariance) @ g for g in gradient])
    assert np.allclose(curve.mpa, form.strength_mpa(curve.age_h, p))
    assert np.allclose(curve.high_mpa - curve.mpa, student_tenth(9) * sd)
    assert (curve.low_mpa >= 0.0).all()


def test_residuals_lie_below_on_the_same_axis_at_the_same_ages() -> None:
    chart = calibration_chart(calibrated(make_calibration(), TESTED))
    above, below = ([layer for layer in panel.layers if isinstance(layer, Point)] for panel in chart.panels)
    assert [p.x for p in above] == [p.x for p in below] == [24.0, 72.0]
    exact = CURVES["exponential"].strength_mpa(np.array([24.0, 72.0]), make_calibration().parameters)
    assert [p.y for p in below] == pytest.approx([14.0 - exact[0], 30.0 - exact[1]])


def test_the_tested_range_is_shaded_in_both_panels() -> None:
    chart = calibration_chart(calibrated(make_calibration(), TESTED))
    shades = [layer for panel in chart.panels for layer in panel.layers if isinstance(layer, Shade)]
    assert [list(shade.spans) for shade in shades] == [[(8.0, 700.0)]] * 2


def test_without_cylinders_there_is_the_curve_alone() -> None:
    chart = calibration_chart(calibrated(make_calibration(), required_mpa=(3.5,)))
    assert len(chart.panels) == 1
    svg = svgchart(chart)
    assert set(lines(svg)) == {"exponential"}
    assert "3.5 MPa (508 psi)" in words(svg)


def test_a_decade_is_a_distance() -> None:
    chart = calibration_chart(calibrated(make_calibration(), TESTED))
    frame = frames(chart, WIDE)[0]
    assert frame.across(100.0) - frame.across(10.0) == pytest.approx(frame.across(500.0) - frame.across(50.0))
    assert picture(svgchart(chart)).get("data-kind") == "log"


def test_strengths_and_residuals_are_in_the_unit_asked_for_and_deviations_stay_deviations() -> None:
    psi = calibration_chart(calibrated(make_calibration(), TESTED), first="US")
    assert [panel.unit for panel in psi.panels] == ["psi", "residual, psi"]
    view = Calibrated((Cylinder("A", 24.0, 14.0, 1.5, stranger=True),), (), off_unit="sd")
    own = calibration_chart(view, first="US")
    assert own.panels[1].unit == "residual, sd"
    (off,) = (layer for layer in own.panels[1].layers if isinstance(layer, Point))
    assert (off.y, off.bad) == (1.5, True)


def test_a_band_that_is_not_known_is_not_drawn() -> None:
    calibration = make_calibration()
    (curve,) = calibrated(calibration).curves
    nothing = np.full(len(curve.age_h), np.nan)
    bare = type(curve)(curve.name, curve.age_h, curve.mpa, nothing, nothing)
    chart = calibration_chart(Calibrated((), (bare,)))
    assert not [layer for layer in chart.panels[0].layers if isinstance(layer, Band)]
