"""The page of a calibration: all that a person needs to sign it, or to see why not. Pure; values in, HTML out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np

from cure.calibration import SECOND, Judged
from cure.cautions import OF_A_CURVE
from cure.cubes import JudgedCubes
from cure.cubes_report import block
from cure.dashboard.calibration_chart import Calibrated, Cylinder, Drawn, ages_for, calibration_chart, drawn
from cure.dashboard.svgchart import svgchart
from cure.fit import RATIO, Fit
from cure.maturity import Floats
from cure.own_cylinders import rule_said
from cure.report_parts import STYLE, bullets, signatures, table
from shared import units
from shared.models.calibration import Calibration

ANEW: Final = (
    "another cement, another source or share of fly ash or slag, water-cement ratio up by more than 0.02, another "
    "admixture or dose class, another aggregate or plant (usual rules of road authorities, from memory)"
)
CAUTION: Final = OF_A_CURVE
SIGNED_BY: Final = ("Laboratory", "Quality control", "Engineer of record")


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a programme is from."""

    mix: str
    dose_class: str
    supplier: str
    laboratory: str
    made_on: str
    source: str
    """Name of the file of cylinders."""
    cubes_source: str = ""
    """Name of the file of cubes, if there are any."""


def _mpa(value: float) -> str:
    return units.shown(value, "MPa", first="SI", limit=False)


def plot(judged: Judged) -> str:
    """Return the programme as an SVG: cylinders, curve, second opinion, thresholds; below them what they lie off."""
    residuals = judged.fitted.residuals if judged.fitted is not None else np.full(len(judged.breaks), np.nan)
    cylinders = tuple(
        Cylinder(f"{b.specimen}: {_mpa(b.mpa)}", b.equivalent_age_h, b.mpa, float(off), b.specimen in judged.outliers)
        for b, off in zip(judged.breaks, residuals, strict=True)
    )
    ages = [b.equivalent_age_h for b in judged.breaks]
    curves = [_drawn(fitted, ages_for(*ages)) for fitted in (judged.fitted, judged.second) if fitted is not None]
    view = Calibrated(cylinders, tuple(curves), judged.thresholds_mpa, (min(ages), max(ages)), "sd")
    return svgchart(calibration_chart(view))


def _drawn(fitted: Fit, ages_h: Floats) -> Drawn:
    return drawn(fitted.curve, fitted.curve, fitted.parameters, fitted.covariance, fitted.degrees_of_freedom, ages_h)


def _cylinders(judged: Judged) -> str:
    residuals = judged.fitted.residuals if judged.fitted is not None else np.full(len(judged.breaks), np.nan)
    off = dict(zip((b.specimen for b in judged.breaks), residuals, strict=True))
    rows = []
    for group in judged.ages:
        for b in group.breaks:
            spread = f"{100.0 * group.spread:.0f} %" if b is group.breaks[0] and len(group.breaks) > 1 else ""
            found = f"{off[b.specimen]:+.2f}" if np.isfinite(off[b.specimen]) else ""
            age = "not given" if b.age_h is None else f"{b.age_h:.2f}"
            rows.append((b.specimen, age, f"{b.equivalent_age_h:.2f}", _mpa(b.mpa), spread, found))
    return table(("specimen", "age, h", "maturity, h at 20 °C", "strength", "replicate spread", "residual, sd"), rows)


def _curve(judged: Judged) -> str:
    fitted = judged.fitted
    if fitted is None:
        return "<p>None: see the reasons.</p>"
    names = list(fitted.parameters.model_dump())
    values = [(name, f"{value:.6g}") for name, value in fitted.parameters.model_dump().items()]
    covariance = [(n, *(f"{v:.4g}" for v in row)) for n, row in zip(names, fitted.covariance, strict=True)]
    lack = "not known: no two cylinders of one age" if judged.lack is None else f"{judged.lack:.3f}"
    second = [("not to be had", "", "")]
    if judged.second is not None:
        at = [(fitted.age_h(t), t) for t in judged.thresholds_mpa]
        second = [(f"{a:.1f} h", _mpa(t), _mpa(judged.second.strength_mpa(a))) for a, t in at if a < math.inf]
    summary = (
        f"<p>{escape(fitted.curve)}; scatter {fitted.scatter:.2f} of a cylinder's ({100 * RATIO:.0f} %); probability "
        f"of so poor a fit by chance: {lack}.</p>"
    )
    return "".join((
        summary,
        table(("parameter", "value"), values),
        "<h2>Covariance</h2>",
        table(("", *names), covariance),
        "<h2>Tested range</h2>",
        f"<p>{judged.breaks[0].equivalent_age_h:.1f} to {judged.breaks[-1].equivalent_age_h:.1f} h at 20 °C.</p>",
        "<p>Below it nothing is released, above it strength is held.</p>",
        "<h2>Second opinion</h2>",
        table(("where the curve has it", "curve", SECOND), second),
    ))  # fmt: skip


def _validity(calibration: Calibration | None) -> str:
    if calibration is None:
        return "None: it was refused"
    until = calibration.valid_until
    return "For pours until there is a new version" if until is None else f"For pours through {until.isoformat()}"


def report(judged: Judged, origin: Origin, calibration: Calibration | None, cubes: JudgedCubes | None = None) -> str:
    """Return the page; without a calibration (it was refused) the page says so."""
    version = "none" if calibration is None else f"version {calibration.version}"
    digest = "none" if calibration is None or calibration.digest is None else calibration.digest
    made_of = (
        ("mix", origin.mix),
        ("dose class", origin.dose_class),
        ("supplier", origin.supplier),
        ("laboratory", origin.laboratory),
        ("made on", origin.made_on),
        ("cylinders", f"{len(judged.breaks)} of {origin.source}"),
        ("calibration", version),
        ("digest", digest),
    )
    parts = (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Calibration of {escape(origin.mix)}</title>',
        f"<style>{STYLE}</style><h1>Calibration of mix {escape(origin.mix)} <small>{escape(version)}</small></h1>",
        f'<p class="verdict">Verdict: <b>{escape(judged.verdict)}</b></p>',
        f"<p>{escape(CAUTION)}</p>",
        "<h2>Reasons</h2>",
        bullets([*judged.refused, *judged.doubts], "every check is passed"),
        "<h2>Tests to add</h2>",
        bullets(judged.wanted, "none"),
        table((), made_of),
        plot(judged),
        "<h2>Cylinders</h2>",
        _cylinders(judged),
        "<h2>Curve</h2>",
        _curve(judged),
        "" if cubes is None else block(cubes, origin.cubes_source),
        "" if calibration is None else f"<h2>Batches</h2><p>{escape(rule_said(calibration))}</p>",
        "<h2>Validity</h2>",
        f"<p>{escape(_validity(calibration))}, and anew at once with {escape(ANEW)}.</p>",
        "<h2>Signatures</h2>",
        signatures(SIGNED_BY),
        "</html>",
    )
    return "\n".join(filter(None, parts)) + "\n"
