"""What the page of a calibration says of mortar cubes: rate constants, energy, datum. Pure; values in, HTML out."""

from __future__ import annotations

import math
from html import escape
from typing import Final

from cure.calibration import Verdict
from cure.cubes import CuringTemperature, JudgedCubes
from cure.dashboard.rates_chart import Rate, rates_chart
from cure.dashboard.svgchart import svgchart
from cure.rate_line import RateLine
from cure.report_parts import bullets, table
from shared import units

DATUM_WARNING: Final = (
    "A datum above 0 degC from cubes cured at 10 to 40 degC is the misfit of a straight line to a law that is not "
    "straight, not a fault: between 0 degC and it concrete still gains strength. It is for contracts that ask for "
    "the temperature-time factor; no release here rests on it."
)
HOLDS: Final = {
    Verdict.RELEASE: "It is in the calibration, and counts between the coldest and the hottest temperature tested.",
    Verdict.PLANNING: "It is not in the calibration: the default law with its wider spread holds.",
    Verdict.REFUSED: "None is in the calibration: the default law with its wider spread holds.",
}


def _celsius(value: float) -> str:
    return units.shown(value, "degC", limit=False)


def told(judged: JudgedCubes) -> str:
    """Return energy and datum in one sentence, for page, terminal and file."""
    line = judged.line
    if line is None:
        return "no activation energy"
    low, high = judged.tested_c
    datum = "none" if math.isnan(line.datum_c) else f"{line.datum_c:.1f} degC"
    return (
        f"activation energy {line.energy_j_per_mol / 1000.0:.1f} kJ/mol, sd {line.sd_j_per_mol / 1000.0:.1f} (of the "
        f"line {line.regression_sd / 1000.0:.1f}, of each k's own errors {line.own_sd / 1000.0:.1f}), tested from "
        f"{low:g} to {high:g} degC; datum temperature {datum}"
    )


def block(judged: JudgedCubes, source: str) -> str:
    """Return the part of the page."""
    said = told(judged)
    head = ("cured at", "ages", "cubes", "Su", "k, 1/d", "known to", "t0, h", "scatter", "by chance")
    return "\n".join((
        "<h2>Activation energy and datum temperature</h2>",
        f"<p>{judged.number} cubes of {escape(source)}: <b>{escape(judged.verdict)}</b>.</p>",
        f"<p>{escape(said[0].upper() + said[1:])}. {escape(HOLDS[judged.verdict])}</p>",
        f"<p>{escape(DATUM_WARNING)}</p>",
        "<h3>Reasons, and tests to add</h3>",
        bullets([*judged.refused, *judged.doubts], "every check is passed"),
        "<h3>Rate constants</h3>",
        table(head, _rows(judged)),
        "" if judged.line is None else plot(judged, judged.line),
        "<h3>Cubes</h3>",
        table(("specimen", "cured at", "age, h", "strength", "residual, sd"), _cubes(judged)),
    ))  # fmt: skip


def _rows(judged: JudgedCubes) -> list[tuple[str, ...]]:
    return [
        (_celsius(at.celsius), str(len(at.ages)), str(len(at.cubes)), *(_curve(at) or ("none", "", "", "", "", "")))
        for at in judged.at
    ]


def _curve(at: CuringTemperature) -> tuple[str, ...] | None:
    if at.fitted is None:
        return None
    p = at.fitted.parameters.model_dump()
    return (
        units.shown(p["su_mpa"], "MPa", limit=False),
        f"{24.0 * at.k_per_h:.4f}",
        f"{100.0 * at.ln_k_sd:.0f} %",
        f"{p['t0_h']:.1f}",
        f"{at.fitted.scatter:.2f}",
        "not known" if at.lack is None else f"{at.lack:.3f}",
    )


def _cubes(judged: JudgedCubes) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for at in judged.at:
        off = [""] * len(at.cubes) if at.fitted is None else [f"{r:+.2f}" for r in at.fitted.residuals]
        found += [
            (b.specimen, _celsius(at.celsius), f"{b.equivalent_age_h:g}", units.shown(b.mpa, "MPa", limit=False), sd)
            for b, sd in zip(at.cubes, off, strict=True)
        ]
    return found


def rates_of(judged: JudgedCubes) -> list[Rate]:
    """Return the rate constant at each temperature that has one, coldest first."""
    return [Rate(at.celsius, 24.0 * at.k_per_h, at.ln_k_sd) for at in judged.at if at.fitted is not None]


def plot(judged: JudgedCubes, line: RateLine) -> str:
    """Return ln k over 1/T as an SVG: each k with a bar of two standard deviations, and the line of the energy."""
    return svgchart(rates_chart(rates_of(judged), line.energy_j_per_mol, line.at_zero + math.log(24.0)))
