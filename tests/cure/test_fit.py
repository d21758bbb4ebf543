"""Fits against scipy's own, against curves that are known, and what they say of single cylinders."""

from __future__ import annotations

import numpy as np
import pytest
from programmes import shipped
from scipy.optimize import curve_fit

from cure.breaks import Break
from cure.fit import Fit, fit, lack_of_fit, sd_mpa
from cure.maturity import Floats
from cure.strength import CURVES
from shared.models.calibration import PARAMETERS

AGES = (8.0, 12.0, 18.0, 24.0, 36.0, 48.0, 96.0, 168.0, 672.0)
KNOWN = {
    "exponential": {"su_mpa": 42.0, "tau_h": 30.0, "beta": 0.8},
    "hyperbola": {"su_mpa": 40.0, "k_per_h": 0.02, "t0_h": 5.0},
    "logarithmic": {"a_mpa": -10.0, "b_mpa": 18.0},
    "en1992": {"f28_mpa": 38.0, "s": 0.25},
}


def on(curve: str, scatter: float = 0.0, each: int = 2) -> list[Break]:
    rng = np.random.default_rng(7)
    p = PARAMETERS[curve].model_validate(KNOWN[curve])
    found = []
    for age in AGES:
        mpa = float(CURVES[curve].strength_mpa(np.array([age]), p)[0])
        found += [Break(f"{age:g}-{i}", age, mpa * (1.0 + scatter * rng.standard_normal())) for i in range(each)]
    return found


@pytest.mark.parametrize("curve", sorted(KNOWN))
def test_a_curve_is_found_again_from_cylinders_on_it(curve: str) -> None:
    found = fit(curve, on(curve, 1e-6))
    assert found.parameters.model_dump() == pytest.approx(KNOWN[curve], rel=1e-4)


@pytest.mark.parametrize("curve", ["exponential", "hyperbola"])
def test_parameters_and_covariance_are_those_of_scipys_curve_fit(curve: str) -> None:
    cylinders = shipped("breaks.csv")
    age_h, mpa = (np.array([getattr(b, name) for b in cylinders]) for name in ("equivalent_age_h", "mpa"))
    names = list(PARAMETERS[curve].model_fields)

    def strength(ages: Floats, /, *x: float) -> Floats:
        values = dict(zip(names, x, strict=True))
        mpa_there: Floats = CURVES[curve].strength_mpa(ages, PARAMETERS[curve].model_construct(None, **values))
        return mpa_there

    start = [KNOWN[curve][name] for name in names]
    wanted, covariance = curve_fit(strength, age_h, mpa, p0=start, sigma=sd_mpa(mpa), xtol=1e-12, ftol=1e-12)
    found = fit(curve, cylinders)
    assert list(found.parameters.model_dump().values()) == pytest.approx(list(wanted), rel=1e-5)
    np.testing.assert_allclose(found.covariance, covariance, rtol=1e-3)


def test_a_form_whose_parameters_cannot_be_told_apart_is_refused() -> None:
    # f28 te / (a + b te): a common factor of all three changes nothing.
    with pytest.raises(ValueError, match="no aci209 curve"):
        fit("aci209", on("hyperbola", 0.02))
    with pytest.raises(ValueError, match="too few"):
        fit("exponential", on("exponential")[:3])


def test_scatter_like_a_cylinders_is_one_and_leverage_sums_to_the_parameters() -> None:
    found = fit("exponential", on("exponential", 0.03, each=40))
    assert found.scatter == pytest.approx(1.0, abs=0.15)
    assert float(found.leverage.sum()) == pytest.approx(3.0)


def test_one_strong_cylinder_stands_out_from_what_is_found_without_it() -> None:
    cylinders = on("exponential", 0.02, each=3)
    cylinders[9] = Break(cylinders[9].specimen, cylinders[9].equivalent_age_h, 1.35 * cylinders[9].mpa)
    outside = np.abs(fit("exponential", cylinders).outside())
    assert int(outside.argmax()) == 9
    assert outside[9] > 2.0 * np.delete(outside, 9).max()


def lack(curve: str, of: str) -> float:
    found = lack_of_fit(fitted(curve, of), on(of, 0.02, each=3))
    assert found is not None
    return found


def fitted(curve: str, of: str) -> Fit:
    return fit(curve, on(of, 0.02, each=3))


def test_the_right_form_fits_and_a_line_through_a_curve_does_not() -> None:
    assert lack("exponential", "exponential") > 0.05
    assert lack("logarithmic", "exponential") < 1e-6


def test_without_two_cylinders_of_one_age_nothing_is_known_of_lack_of_fit() -> None:
    single = on("exponential", 0.02, each=1)
    assert lack_of_fit(fit("exponential", single), single) is None
