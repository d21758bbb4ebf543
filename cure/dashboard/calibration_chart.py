"""A calibration as a chart: cylinders and curve over the logarithm of maturity, and below them how far they lie apart.

Pure: plain values in, a chart to draw out. What fits a curve is not loaded for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from cure.bound import student_tenth
from cure.dashboard.chart_words import Words
from cure.dashboard.charts import ENGLISH
from cure.dashboard.layers import Band, Chart, Layer, Level, Line, Panel, Point, Shade
from cure.dashboard.scales import logarithmic
from cure.maturity import Floats
from cure.strength import CURVES
from shared import units
from shared.models.calibration import Calibration

POINTS: Final = 120
YOUNGEST_H: Final = 0.5
BESIDE: Final = 1.3
"""By how much the axis goes beyond the youngest and the oldest."""


@dataclass(frozen=True, slots=True)
class Cylinder:
    """One result of a test, with what it lies off the curve; not known: no number."""

    title: str
    age_h: float
    """Equivalent age at 20 degC."""
    mpa: float
    off: float = float("nan")
    stranger: bool = False
    """It does not fit."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A curve at ages; arrays of shape (n,)."""

    name: str
    age_h: Floats
    mpa: Floats
    low_mpa: Floats
    high_mpa: Floats
    """10 and 90 % of where the curve itself lies; no numbers: not known."""


@dataclass(frozen=True, slots=True)
class Calibrated:
    """What the chart of a calibration shows."""

    cylinders: tuple[Cylinder, ...]
    curves: tuple[Drawn, ...]
    """The one that counts first."""
    required_mpa: tuple[float, ...] = ()
    tested_h: tuple[float, float] | None = None
    off_unit: str = "MPa"


def ages_for(*ages_h: float) -> Floats:
    """Return ages at which to draw a curve so that it goes beyond all of these."""
    return np.geomspace(max(YOUNGEST_H, min(ages_h) / BESIDE), BESIDE * max(ages_h), POINTS)


def drawn(name: str, curve: str, parameters: Any, covariance: Floats, freedom: int, age_h: Floats) -> Drawn:
    """Return a fitted curve with its band: the one-sided 10 % point of Student's t times what the covariance says.

    Args:
        name: of the line.
        curve: its form.
        parameters: of that form.
        covariance: of the parameters, shape (p, p).
        freedom: degrees of freedom of the fit.
        age_h: where, shape (n,). [h]
    """
    form = CURVES[curve]
    mpa, gradient = form.strength_mpa(age_h, parameters), form.gradient(age_h, parameters)
    sd = np.sqrt(np.maximum(0.0, np.einsum("ni,ij,nj->n", gradient, np.asarray(covariance, float), gradient)))
    reach = student_tenth(freedom) * sd
    return Drawn(name, age_h, mpa, np.maximum(0.0, mpa - reach), mpa + reach)


def calibrated(
    calibration: Calibration, tested: tuple[tuple[str, float, float], ...] = (), *, required_mpa: tuple[float, ...] = ()
) -> Calibrated:
    """Return what the chart of a calibration in force shows.

    Args:
        calibration: with its curve.
        tested: later cylinders: words, equivalent age [h], strength [MPa].
        required_mpa: what requirements ask for.
    """
    ages = ages_for(calibration.tested_from_h, calibration.tested_to_h, *(age for _, age, _ in tested))
    freedom, covariance = calibration.degrees_of_freedom, np.array(calibration.covariance)
    curve = drawn(calibration.curve, calibration.curve, calibration.parameters, covariance, freedom, ages)
    form = CURVES[calibration.curve]
    cylinders = tuple(
        Cylinder(words, age, mpa, mpa - float(form.strength_mpa(np.array([age]), calibration.parameters)[0]))
        for words, age, mpa in tested
    )
    return Calibrated(cylinders, (curve,), required_mpa, (calibration.tested_from_h, calibration.tested_to_h))


def calibration_chart(
    view: Calibrated, *, first: units.System = "SI", words: Words = ENGLISH, key: str = "calibration"
) -> Chart:
    """Return the chart; strengths in the unit that stands first."""
    factor = units.PSI_PER_MPA if first == "US" else 1.0
    ages = [age for curve in view.curves for age in (curve.age_h[0], curve.age_h[-1])]
    ages += [age for c in view.cylinders for age in (max(YOUNGEST_H, c.age_h / BESIDE), BESIDE * c.age_h)]
    across = logarithmic(float(min(ages)), float(max(ages)), words.maturity)
    shade = [] if view.tested_h is None else [Shade(words.tested_range, "tested", [view.tested_h])]
    upper: list[Layer] = [*shade]
    for n, curve in enumerate(view.curves):
        if n == 0 and np.isfinite(curve.low_mpa).all():
            upper.append(Band(words.band, curve.age_h, factor * curve.low_mpa, factor * curve.high_mpa))
        upper.append(Line(curve.name, curve.age_h, factor * curve.mpa, n))
    upper += [
        Level(units.shown(mpa, "MPa", first=first, limit=True), factor * mpa, side="right") for mpa in view.required_mpa
    ]
    upper += [Point(c.title, c.age_h, factor * c.mpa, bad=c.stranger) for c in view.cylinders]
    unit = "psi" if first == "US" else "MPa"
    panels = [Panel(unit, tuple(upper), least=0.0, most=0.0)]
    known = [c for c in view.cylinders if np.isfinite(c.off)]
    if known:
        # A residual in standard deviations is the same in every unit.
        scale, off_unit = (factor, unit) if view.off_unit == "MPa" else (1.0, view.off_unit)
        lower: list[Layer] = [*shade, Level("", 0.0, "zero")]
        lower += [Point(c.title, c.age_h, scale * c.off, bad=c.stranger) for c in known]
        panels.append(Panel(f"{words.residual}, {off_unit}", tuple(lower), share=0.4))
    return Chart(key, words.calibration, across, tuple(panels))
