from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from deploy.demo.scenario import SITE_FILE
from deploy.demo.truth import strength_mpa
from shared.models.calibration import Calibration, ExponentialParameters
from shared.sitefile import load

Array = NDArray[np.float64]
BREAKS = Path(SITE_FILE).with_name("breaks.csv")


def exponential(age_h: Array, su_mpa: float, tau_h: float, beta: float) -> Array:
    return np.asarray(su_mpa * np.exp(-((tau_h / age_h) ** beta)), dtype=np.float64)


def shipped() -> Calibration:
    return load(SITE_FILE).calibrations["c32-f"]


def parameters() -> ExponentialParameters:
    found = shipped().parameters
    assert isinstance(found, ExponentialParameters)
    return found


def breaks() -> tuple[Array, Array]:
    with BREAKS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return np.array([float(r["equivalent_age_h"]) for r in rows]), np.array([float(r["strength_mpa"]) for r in rows])


def test_the_shipped_calibration_is_the_fit_of_the_shipped_breaks() -> None:
    age_h, found_mpa = breaks()
    sd_mpa = np.maximum(0.1, 0.03 * found_mpa)
    fitted, covariance = curve_fit(exponential, age_h, found_mpa, p0=(40.0, 30.0, 0.7), sigma=sd_mpa)
    p = parameters()
    assert (p.su_mpa, p.tau_h, p.beta) == pytest.approx(tuple(fitted), rel=1e-5)
    np.testing.assert_allclose(np.array(shipped().covariance), covariance, rtol=1e-4)


def test_the_tested_range_and_the_degrees_of_freedom_are_those_of_the_breaks() -> None:
    age_h, _ = breaks()
    c = shipped()
    assert (c.tested_from_h, c.tested_to_h) == (age_h.min(), age_h.max())
    assert c.degrees_of_freedom == len(age_h) - 3


def test_the_curve_is_another_form_than_the_truth_yet_within_a_tenth_of_it_where_it_was_tested() -> None:
    p = parameters()
    ages = np.array([10.0, 12.0, 14.0, 18.0, 24.0, 36.0, 48.0, 168.0])
    curve = exponential(ages, p.su_mpa, p.tau_h, p.beta)
    ratio = curve / strength_mpa(ages)
    assert np.all((ratio > 0.9) & (ratio < 1.1))
    assert not np.allclose(ratio, 1.0, atol=5e-3)
