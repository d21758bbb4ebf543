"""The page's part on cubes says everything; its plot has every point within its frame."""

from __future__ import annotations

import re

import pytest
from charts_support import lines, picture, words
from cubes_support import cubes
from programmes import made

from cure.calibration import calibration_of, judge
from cure.calibration_report import Origin, report
from cure.cubes import judge_cubes
from cure.cubes_report import DATUM_WARNING, HOLDS, block, plot, told
from cure.dashboard.ink import WIDE

GOOD = judge_cubes(cubes())
WANTED = {
    "how many, of what": "54 cubes of &lt;cubes&gt;.csv",
    "verdict": "<b>fit for release</b>",
    "energy": "Activation energy 42.2 kJ/mol, sd 2.1",
    "both errors": "of each k&#x27;s own errors",
    "tested range": "tested from 10 to 38 degC",
    "datum": "datum temperature 5.1 degC",
    "what a datum above 0 is": DATUM_WARNING,
    "which law holds": HOLDS[GOOD.verdict],
    "reasons": "every check is passed",
    "temperature in both units": "23.0 °C (73.4 °F)",
    "rate constants": f"<td>{24.0 * GOOD.at[1].k_per_h:.4f}</td>",
    "how well a k is known": f"<td>{100.0 * GOOD.at[1].ln_k_sd:.0f} %</td>",
    "a cube": "<td>23c-8.4h-0</td>",
    "plot": "<svg ",
}


@pytest.mark.parametrize("what", sorted(WANTED))
def test_the_part_has_everything(what: str) -> None:
    assert WANTED[what] in block(GOOD, "<cubes>.csv")


def test_the_page_of_a_calibration_has_the_part_only_with_cubes() -> None:
    judged = judge(made())
    calibration = calibration_of(judged, "c32-f", 1, "2026-10-19", GOOD.law())
    origin = Origin("c32-f", "none", "s", "l", "2026-10-19", "breaks.csv", "cubes.csv")
    assert block(GOOD, "cubes.csv") in report(judged, origin, calibration, GOOD)
    assert "cubes" not in report(judged, Origin("c32-f", "none", "s", "l", "2026-10-19", "breaks.csv"), calibration)


def test_refused_cubes_have_their_reasons_and_no_energy() -> None:
    refused = judge_cubes(cubes(ages=3))
    said = block(refused, "cubes.csv")
    assert "9 cubes at 3 ages are too few for a curve" in said
    assert "No activation energy" in said
    assert HOLDS[refused.verdict] in said
    assert "<svg " not in said


def test_rate_constants_that_fall_have_no_datum_to_tell() -> None:
    fallen = judge_cubes([({10.0: 38.0, 38.0: 10.0}.get(c, c), cube) for c, cube in cubes()])
    assert "datum temperature none" in told(fallen)


@pytest.mark.parametrize("energy", [25_000.0, 75_000.0])
def test_the_plot_has_every_rate_constant_and_the_line_within_its_frame(energy: float) -> None:
    judged = judge_cubes(cubes(energy, (5.0, 23.0, 40.0)))
    assert judged.line is not None
    svg, name = plot(judged, judged.line), f"{judged.line.energy_j_per_mol / 1000.0:.1f} kJ/mol"
    root = picture(svg)
    dots = [p for p in root.iter() if str(p.get("class")).split()[0] == "p"]
    assert len(dots) == 3
    places = [tuple(map(float, re.findall(r"-?[\d.]+", str(p.get("transform"))))) for p in dots]
    places += [place for stretch in lines(svg)[name] for place in stretch]
    bars = [re.findall(r"-?[\d.]+", str(p.get("d")))[:3] for p in root.iter() if p.get("class") == "r"]
    places += [(float(x), float(y)) for x, *ends in bars for y in ends]
    assert len(places) == 3 + 3 + 6
    top, bottom = 24, WIDE.height - 24
    assert all(WIDE.left <= x <= WIDE.width - WIDE.right and top <= y <= bottom for x, y in places)
    assert {"5 °C", "23 °C", "40 °C"} <= set(words(svg))
