"""The page of a calibration: all that a person needs to sign it, or to see why not. Pure; values in, HTML out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np

from cure.calibration import SECOND, Judged
from cure.fit import RATIO, Fit
from cure.strength import CURVES
from shared import units
from shared.models.calibration import Calibration

VALID_MONTHS: Final = 6
"""Our judgement."""
ANEW: Final = (
    "another cement, another source or share of fly ash or slag, water-cement ratio up by more than 0.02, another "
    "admixture or dose class, another aggregate or plant (usual rules of road authorities, from memory)"
)
CAUTION: Final = (
    "A curve from a laboratory, not a strength of the structure. It holds for this mix only. Whether it may be used, "
    "and for what, is for the engineer of record, the contract and the local code to say; cylinders or other tests "
    "are still required before critical operations."
)
SIGNED_BY: Final = ("Laboratory", "Quality control", "Engineer of record")
_WIDTH, _HEIGHT, _LEFT, _TOP, _RIGHT, _BOTTOM = 720, 420, 60, 20, 700, 370
_STYLE: Final = (
    "body{font:14px/1.4 sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#222}"
    "table{border-collapse:collapse}td,th{border:1px solid #bbb;padding:.15em .5em;text-align:left}"
    "h1 small{font-weight:normal}.verdict{font-size:1.3em;border:2px solid #222;padding:.4em .6em}"
    ".line{border-bottom:1px solid #222;display:inline-block;width:22em;height:2em}svg{max-width:100%;margin-top:1em}"
)


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


def _mpa(value: float) -> str:
    return units.shown(value, "MPa", first="SI", limit=False)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    def line(cells: Sequence[str], tag: str) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in cells) + "</tr>"

    return "<table>" + (line(head, "th") if head else "") + "".join(line(row, "td") for row in rows) + "</table>"


def _list(items: Sequence[str], none: str) -> str:
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items or (none,)) + "</ul>"


def plot(judged: Judged) -> str:
    """Return the programme as an SVG: cylinders, curve, second opinion dashed, thresholds; ages by their logarithm."""
    ages = np.array([b.equivalent_age_h for b in judged.breaks])
    mpa = np.array([b.mpa for b in judged.breaks])
    low, high = np.log10(max(0.5, 0.7 * ages.min())), np.log10(1.3 * ages.max())
    top = 1.15 * max(mpa.max(), judged.thresholds_mpa[-1])

    def x(age_h: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * float((np.log10(age_h) - low) / (high - low))

    def y(value: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * value / float(top)

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" font-size="12">',
        "<title>Strength over equivalent age</title>",
        f'<rect x="{_LEFT}" y="{_TOP}" width="{_RIGHT - _LEFT}" height="{_BOTTOM - _TOP}" fill="none" stroke="#222"/>',
        *_axes(10.0**low, 10.0**high, top, x, y),
    ]
    for threshold in judged.thresholds_mpa:
        parts.append(_path([(_LEFT, y(threshold)), (_RIGHT, y(threshold))], "#b40", "2 4"))
        parts.append(f'<text x="{_RIGHT - 4}" y="{y(threshold) - 4:.1f}" text-anchor="end">{threshold:g} MPa</text>')
    for fitted, colour, dashes in ((judged.second, "#777", "6 4"), (judged.fitted, "#05a", "")):
        if fitted is not None:
            parts.append(_path(_drawn(fitted, 10.0**low, 10.0**high, x, y), colour, dashes))
    for b in judged.breaks:
        mark = "#c00" if b.specimen in judged.outliers else "#222"
        at = f'cx="{x(b.equivalent_age_h):.1f}" cy="{y(b.mpa):.1f}"'
        parts.append(f'<circle {at} r="3.5" fill="none" stroke="{mark}" stroke-width="1.5"/>')
    return "".join(parts) + "</svg>"


_Scale = Callable[[float], float]


def _axes(first: float, last: float, top: float, x: _Scale, y: _Scale) -> list[str]:
    marks = [h for h in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000) if first <= h <= last]
    step = next(s for s in (1, 2, 5, 10, 20, 50) if top / s <= 10)
    across = [f'<text x="{x(h):.1f}" y="{_BOTTOM + 16}" text-anchor="middle">{h}</text>' for h in marks]
    up = [
        f'<text x="{_LEFT - 6}" y="{y(v) + 4:.1f}" text-anchor="end">{v}</text>' for v in range(0, int(top) + 1, step)
    ]
    named = [
        f'<text x="{(_LEFT + _RIGHT) / 2}" y="{_HEIGHT - 12}" text-anchor="middle">equivalent age at 20 °C, h</text>',
        f'<text x="14" y="{_TOP - 6}">strength, MPa</text>',
    ]
    return across + up + named


def _drawn(fitted: Fit, first: float, last: float, x: _Scale, y: _Scale) -> list[tuple[float, float]]:
    ages = np.geomspace(first, last, 120)
    mpa = CURVES[fitted.curve].strength_mpa(ages, fitted.parameters)
    return [(x(float(age)), y(float(value))) for age, value in zip(ages, mpa, strict=True)]


def _path(points: Sequence[tuple[float, float]], colour: str, dashes: str) -> str:
    at = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
    return f'<polyline points="{at}" fill="none" stroke="{colour}" stroke-width="1.5" stroke-dasharray="{dashes}"/>'


def _cylinders(judged: Judged) -> str:
    residuals = judged.fitted.residuals if judged.fitted is not None else np.full(len(judged.breaks), np.nan)
    off = dict(zip((b.specimen for b in judged.breaks), residuals, strict=True))
    rows = []
    for group in judged.ages:
        for b in group.breaks:
            spread = f"{100.0 * group.spread:.0f} %" if b is group.breaks[0] and len(group.breaks) > 1 else ""
            found = f"{off[b.specimen]:+.2f}" if np.isfinite(off[b.specimen]) else ""
            rows.append((b.specimen, f"{b.equivalent_age_h:.2f}", _mpa(b.mpa), spread, found))
    return _table(("specimen", "maturity, h at 20 °C", "strength", "replicate spread", "residual, sd"), rows)


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
        at = [fitted.age_h(t) for t in judged.thresholds_mpa]
        second = [
            (f"{a:.1f} h", _mpa(t), _mpa(judged.second.strength_mpa(a)))
            for a, t in zip(at, judged.thresholds_mpa, strict=True)
        ]
    summary = (
        f"<p>{escape(fitted.curve)}; scatter {fitted.scatter:.2f} of a cylinder's ({100 * RATIO:.0f} %); probability "
        f"of so poor a fit by chance: {lack}.</p>"
    )
    return "".join((
        summary,
        _table(("parameter", "value"), values),
        "<h2>Covariance</h2>",
        _table(("", *names), covariance),
        "<h2>Tested range</h2>",
        f"<p>{judged.breaks[0].equivalent_age_h:.1f} to {judged.breaks[-1].equivalent_age_h:.1f} h at 20 °C.</p>",
        "<p>Below it nothing is released, above it strength is held.</p>",
        "<h2>Second opinion</h2>",
        _table(("where the curve has it", "curve", SECOND), second),
    ))  # fmt: skip


def report(judged: Judged, origin: Origin, calibration: Calibration | None) -> str:
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
        f"<style>{_STYLE}</style><h1>Calibration of mix {escape(origin.mix)} <small>{escape(version)}</small></h1>",
        f'<p class="verdict">Verdict: <b>{escape(judged.verdict)}</b></p>',
        f"<p>{escape(CAUTION)}</p>",
        "<h2>Reasons</h2>",
        _list([*judged.refused, *judged.doubts], "every check is passed"),
        "<h2>Tests to add</h2>",
        _list(judged.wanted, "none"),
        _table((), made_of),
        plot(judged),
        "<h2>Cylinders</h2>",
        _cylinders(judged),
        "<h2>Curve</h2>",
        _curve(judged),
        "<h2>Validity</h2>",
        f"<p>{VALID_MONTHS} months from {escape(origin.made_on)}, and anew at once with {escape(ANEW)}.</p>",
        "<h2>Signatures</h2>",
        "".join(f'<p>{who}: <span class="line"></span> date: <span class="line"></span></p>' for who in SIGNED_BY),
        "</html>",
    )
    return "\n".join(parts) + "\n"
