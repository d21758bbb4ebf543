"""Held against libraries that know nothing of concrete: scipy, mpmath, psychrolib, uncertainties."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import partial
from itertools import pairwise
from typing import Any

import mpmath
import numpy as np
import psychrolib
import pytest
from exact_maturity import CORNERS_C, exact_maturity
from scipy import integrate, optimize, stats
from uncertainties import correlated_values, umath

from cure.bound import student_tenth
from cure.evaporation import vapour_kpa
from cure.maturity import LAWS, Floats, Rate, arrhenius_rate, default_rate, maturity
from cure.strength import CURVES
from shared.models.calibration import PARAMETERS

HOURS = np.array([0.0, 1, 2, 4, 6, 8, 12, 16, 20, 24])
WARM = np.array([18.0, 18.5, 20, 24, 28, 30, 27, 22, 17, 14])
COLD = WARM - 16.0
BOUND: Mapping[str, Rate] = {
    name: partial(law, c_value=1.4) if name == "weighted" else law for name, law in LAWS.items()
}

with mpmath.workdps(30):
    ZERO_K = mpmath.mpf("273.15")
    Q = 41_500 / mpmath.mpf("8.314")


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("record", [WARM, COLD], ids=["warm", "cold"])
def test_the_reference_integral_is_scipys_adaptive_quadrature(name: str, record: Floats) -> None:
    rate = BOUND[name]
    corners = CORNERS_C if name == "default" else (0.0, 20.0)

    def at(hour: float) -> float:
        return float(rate(np.interp([hour], HOURS, record))[0])

    total = 0.0
    for (h0, c0), (h1, c1) in pairwise(zip(HOURS, record, strict=True)):
        cuts = [h0 + (k - c0) / (c1 - c0) * (h1 - h0) for k in corners if min(c0, c1) < k < max(c0, c1)]
        total += integrate.quad(at, h0, h1, points=cuts or None, epsabs=1e-12, epsrel=1e-12)[0]
    assert exact_maturity(HOURS, record, rate, corners) == pytest.approx(total, rel=1e-9)


def test_equivalent_age_is_the_solution_of_its_differential_equation() -> None:
    # scipy, LSODA: d te / d t = rate(T(t)); the interval mean of readings each 15 min is within 1e-4 of it.
    solved = integrate.solve_ivp(
        lambda t, _: arrhenius_rate(np.interp([t], HOURS, WARM)), (0.0, 24.0), [0.0], "LSODA", rtol=1e-10, atol=1e-12,
        max_step=0.25,
    )  # fmt: skip
    quarters = np.arange(0.0, 24.01, 0.25)
    by_mean = maturity(quarters, np.interp(quarters, HOURS, WARM), arrhenius_rate)[-1]
    assert by_mean == pytest.approx(solved.y[0, -1], rel=1e-4)


def test_the_integral_of_arrhenius_agrees_with_thirty_digits() -> None:
    with mpmath.workdps(30):
        total = mpmath.mpf(0)
        for i in range(len(HOURS) - 1):
            start, slope = WARM[i] + ZERO_K, (WARM[i + 1] - WARM[i]) / (HOURS[i + 1] - HOURS[i])
            total += mpmath.quad(
                lambda t, k0=start, by=slope: mpmath.exp(-Q * (1 / (k0 + by * t) - 1 / (ZERO_K + 20))),
                [0, HOURS[i + 1] - HOURS[i]],
            )
    assert exact_maturity(HOURS, WARM, arrhenius_rate) == pytest.approx(float(total), rel=1e-12)


@pytest.mark.parametrize("c", [-5.0, 0.5, 5.0, 14.5, 20.0, 35.0, 49.0])
def test_the_default_law_agrees_with_thirty_digits(c: float) -> None:
    with mpmath.workdps(30):
        two = 33_500 + 1_470 * max(0, 20 - mpmath.mpf(c))
        apart = 1 / (ZERO_K + c) - 1 / (ZERO_K + 20)
        rates = [mpmath.exp(-e / mpmath.mpf("8.314") * apart) for e in (41_500, two)]
    assert float(default_rate(np.array([c]))[0]) == pytest.approx(float(min(rates)) if c > 0.0 else 0.0, rel=1e-12)


def test_the_inverse_of_a_curve_is_the_root_that_scipy_finds() -> None:
    for name, values in CASES.items():
        curve, p = CURVES[name], PARAMETERS[name].model_validate(values)
        root = optimize.brentq(lambda te, c=curve, p=p: float(c.strength_mpa(np.array([te]), p)[0]) - 7.0, 1.0, 500.0)
        assert curve.age_h(7.0, p) == pytest.approx(root, rel=1e-9)


CASES: Mapping[str, dict[str, float]] = {
    "exponential": {"su_mpa": 40.0, "tau_h": 67.0, "beta": 0.62},
    "hyperbola": {"su_mpa": 36.0, "k_per_h": 0.011, "t0_h": 4.7},
    "logarithmic": {"a_mpa": -18.0, "b_mpa": 18.0},
    "en1992": {"f28_mpa": 32.0, "s": 0.36},
    "aci209": {"f28_mpa": 32.0, "a_h": 96.0, "b": 0.85},
}
WRITTEN: Mapping[str, Callable[..., Any]] = {
    "exponential": lambda te, su, tau, beta: su * umath.exp(-((tau / te) ** beta)),
    "hyperbola": lambda te, su, k, t0: su * k * (te - t0) / (1 + k * (te - t0)),
    "logarithmic": lambda te, a, b: a + b * math.log10(te),
    "en1992": lambda te, f28, s: f28 * umath.exp(s * (1 - math.sqrt(672.0 / te))),
    "aci209": lambda te, f28, a, b: f28 * te / (a + b * te),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("te", [14.0, 30.0, 200.0])
def test_the_scatter_of_a_curve_is_that_of_linear_error_propagation(name: str, te: float) -> None:
    values = CASES[name]
    rng = np.random.default_rng(3)
    root = rng.normal(size=(len(values), len(values))) * 0.02 * np.abs(list(values.values()))[:, None]
    covariance = root @ root.T
    told = WRITTEN[name](te, *correlated_values(list(values.values()), covariance))
    p = PARAMETERS[name].model_validate(values)
    gradient = CURVES[name].gradient(np.array([te]), p)[0]
    assert float(CURVES[name].strength_mpa(np.array([te]), p)[0]) == pytest.approx(told.nominal_value, rel=1e-12)
    assert math.sqrt(gradient @ covariance @ gradient) == pytest.approx(told.std_dev, rel=1e-6)


@pytest.mark.parametrize("c", [0.5, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0])
def test_vapour_pressure_is_that_of_ashrae_within_one_per_cent(c: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert vapour_kpa(c) * 1000.0 == pytest.approx(psychrolib.GetSatVapPres(c), rel=0.01)


@pytest.mark.parametrize("n", [1, 2, 5, 10, 30])
def test_the_tenth_of_students_t_is_that_of_scipy(n: int) -> None:
    assert student_tenth(n) == pytest.approx(float(stats.t.ppf(0.9, n)), rel=3e-3)
