from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.strength import CURVES, Curve
from shared.models.calibration import CurveParameters

PARAMETERS = st.builds(CurveParameters, su_mpa=st.floats(15, 90), tau_h=st.floats(5, 90), beta=st.floats(0.3, 1.6))
AGES = st.floats(2.0, 700.0)


def of_en1992(f28_mpa: float, s: float) -> CurveParameters:
    """EN 1992-1-1 (3.1), (3.2) is this curve with beta 0.5, tau 28 s^2 days and Su = e^s f28."""
    return CurveParameters(su_mpa=math.exp(s) * f28_mpa, tau_h=28 * 24 * s * s, beta=0.5)


def strength(days: float, p: CurveParameters) -> float:
    return float(CURVES["exponential"].strength_mpa(np.array([days * 24.0]), p)[0])


def test_it_gives_the_factor_of_en_1992_at_ten_days() -> None:
    # EN 1992-1-1, (3.2), s = 0.25, 10 d: 0.84507490, as in the unit tests of the open library blue-prints (read there).
    assert strength(10.0, of_en1992(1.0, 0.25)) == pytest.approx(0.84507490, rel=1e-7)


def test_it_gives_en_1992_for_c40_at_seven_days() -> None:
    # C40/50: fcm = 48 MPa; fck(7 d) = 48 beta_cc - 8 = 29.382437587 MPa, as in an open FE code's EC2 test (read there).
    assert strength(7.0, of_en1992(48.0, 0.25)) - 8.0 == pytest.approx(29.382437587427432, rel=1e-9)


@pytest.mark.parametrize(
    ("s", "wanted"),
    [
        (0.20, (14.612812, 30.130418, 34.473786, 36.553534, 38.346290)),
        (0.25, (11.790847, 29.132932, 34.473786, 37.092787, 39.380565)),
        (0.38, (6.749229, 26.691298, 34.473786, 38.532369, 42.202122)),
    ],
)
def test_it_gives_the_fifteen_values_of_the_ceb_fip_model_in_wbfl(s: float, wanted: tuple[float, ...]) -> None:
    # CEB-FIP model at 1, 10, 28, 56, 128 d, from the unit test of the open library WBFL (read there).
    found = [strength(days, of_en1992(34.473786, s)) for days in (1, 10, 28, 56, 128)]
    assert found == pytest.approx(list(wanted), rel=1e-6)


@given(PARAMETERS, AGES)
def test_the_inverse_leads_back(p: CurveParameters, age_h: float) -> None:
    for curve in CURVES.values():
        mpa = float(curve.strength_mpa(np.array([age_h]), p)[0])
        if 1e-6 < mpa < 0.999 * p.su_mpa:
            assert curve.age_h(mpa, p) == pytest.approx(age_h, rel=1e-6)


@given(PARAMETERS, AGES)
def test_slope_and_gradient_agree_with_small_differences(p: CurveParameters, age_h: float) -> None:
    for curve in CURVES.values():
        step = 1e-5

        def at(te_h: float, q: CurveParameters, curve: Curve = curve) -> float:
            return float(curve.strength_mpa(np.array([te_h]), q)[0])

        slope = (at(age_h * (1 + step), p) - at(age_h * (1 - step), p)) / (2 * step * age_h)
        assert float(curve.slope(np.array([age_h]), p)[0]) == pytest.approx(slope, rel=1e-4, abs=1e-7)
        gradient = curve.gradient(np.array([age_h]), p)[0]
        for i, name in enumerate(("su_mpa", "tau_h", "beta")):
            value = getattr(p, name)
            more, less = (p.model_copy(update={name: value * f}) for f in (1 + step, 1 - step))
            difference = (at(age_h, more) - at(age_h, less)) / (2 * step * value)
            assert float(gradient[i]) == pytest.approx(difference, rel=1e-3, abs=1e-5)


@given(PARAMETERS, AGES, st.floats(0, 100))
def test_older_is_never_weaker(p: CurveParameters, age_h: float, more_h: float) -> None:
    for curve in CURVES.values():
        young, old = curve.strength_mpa(np.array([age_h, age_h + more_h]), p)
        assert young <= old <= p.su_mpa


def test_there_is_no_strength_at_no_age_and_no_age_for_the_final_strength() -> None:
    p = CurveParameters(su_mpa=40, tau_h=30, beta=0.8)
    for curve in CURVES.values():
        assert curve.strength_mpa(np.array([0.0]), p).tolist() == [0.0]
        assert curve.age_h(0.0, p) == 0.0
        assert math.isinf(curve.age_h(40.0, p))
