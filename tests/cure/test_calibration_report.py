"""The page says everything that a person needs to sign; one thing missing fails."""

from __future__ import annotations

from datetime import date

import pytest
from charts_support import lines, picture
from programmes import made, shipped

from cure.breaks import Programme, Row, matured
from cure.calibration import calibration_of, judge
from cure.calibration_report import ANEW, CAUTION, SIGNED_BY, Origin, plot, report

ORIGIN = Origin("c32-f", "class <2>", "An invented supplier", "An invented laboratory", "2026-10-19", "breaks.csv")


def page() -> str:
    judged = judge(shipped("breaks-late-first.csv"))
    return report(judged, ORIGIN, calibration_of(judged, "c32-f", 3, "2026-10-19", None, date(2027, 4, 19)))


WANTED = {
    "mix": "Calibration of mix c32-f",
    "dose class": "class &lt;2&gt;",
    "supplier": ORIGIN.supplier,
    "lab": ORIGIN.laboratory,
    "specimen": "late-24-a",
    "age": "<th>age, h</th>",
    "maturity": "<th>maturity, h at 20 °C</th>",
    "strength in both units": " psi)",
    "replicate spread": "replicate spread",
    "residual": "residual, sd",
    "curve": "su_mpa",
    "covariance": "<h2>Covariance</h2>",
    "tested range": "24.0 to 672.0 h",
    "second opinion": "<h2>Second opinion</h2>",
    "verdict": "Verdict: <b>fit for planning only</b>",
    "reason": "none at or below 4.4 MPa",
    "test to add": "two cylinders at about",
    "validity": "For pours through 2027-04-19",
    "when anew": ANEW,
    "caution": CAUTION,
    "plot": "<svg ",
    **{f"signature of {who}": f"{who}: <span" for who in SIGNED_BY},
}


@pytest.mark.parametrize("what", sorted(WANTED))
def test_the_page_has_everything(what: str) -> None:
    assert WANTED[what] in page()


def test_each_cylinder_has_its_age_beside_its_maturity_and_what_was_not_given_is_said() -> None:
    by_maturity = shipped("breaks.csv")
    hours = Programme(tuple(Row(b.specimen, b.equivalent_age_h, b.mpa, n) for n, b in enumerate(by_maturity, 2)), False)
    warm = matured(hours, "b.csv", None, 25.0)
    text = report(judge(warm), ORIGIN, None)
    for b in warm:
        row = f"<td>{b.specimen}</td><td>{b.age_h:.2f}</td><td>{b.equivalent_age_h:.2f}</td>"
        assert b.age_h != b.equivalent_age_h
        assert row in text
    without = report(judge(by_maturity), ORIGIN, None)
    assert all(f"<td>{b.specimen}</td><td>not given</td>" in without for b in by_maturity)


def test_the_page_has_the_digest_of_its_calibration() -> None:
    judged = judge(made())
    calibration = calibration_of(judged, "c32-f", 1, "2026-10-19")
    assert calibration.digest is not None
    assert calibration.digest in report(judged, ORIGIN, calibration)


def test_a_refused_programme_has_a_page_that_says_why() -> None:
    judged = judge(shipped("breaks-drifting.csv"))
    text = report(judged, ORIGIN, None)
    assert "Verdict: <b>refused</b>" in text
    assert "weaker than younger ones" in text
    assert "drift-672-a" in text


def test_the_plot_is_a_picture_of_every_cylinder_with_both_curves_and_what_it_lies_off() -> None:
    judged = judge(made())
    svg = plot(judged)
    marks = [p for p in picture(svg).iter() if str(p.get("class")).startswith("p")]
    # Once beside the curve and once below it.
    assert len(marks) == 2 * len(judged.breaks)
    assert set(lines(svg)) == {"exponential", "hyperbola"}
