from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.strength import CURVES
from shared.models.calibration import (
    PARAMETERS,
    Aci209Parameters,
    CurveParameters,
    En1992Parameters,
    ExponentialParameters,
    HyperbolaParameters,
    LogarithmicParameters,
    curve_told_by,
)

MPA = st.floats(15, 90)
DRAWN: dict[str, st.SearchStrategy[CurveParameters]] = {
    "exponential": st.builds(ExponentialParameters, su_mpa=MPA, tau_h=st.floats(5, 90), beta=st.floats(0.3, 1.6)),
    "hyperbola": st.builds(HyperbolaParameters, su_mpa=MPA, k_per_h=st.floats(0.003, 0.1), t0_h=st.floats(0, 12)),
    "logarithmic": st.builds(LogarithmicParameters, a_mpa=st.floats(-60, 10), b_mpa=st.floats(5, 50)),
    "en1992": st.builds(En1992Parameters, f28_mpa=MPA, s=st.floats(0.15, 0.75)),
    "aci209": st.builds(Aci209Parameters, f28_mpa=MPA, a_h=st.floats(10, 150), b=st.floats(0.7, 1.0)),
}
AGES = st.floats(2.0, 700.0)
CASES = st.sampled_from(sorted(CURVES)).flatmap(lambda name: st.tuples(st.just(name), DRAWN[name]))
Case = tuple[str, CurveParameters]


def at(case: Case, age_h: float) -> float:
    name, p = case
    return float(CURVES[name].strength_mpa(np.array([age_h]), p)[0])


def ways(f28_mpa: float, s: float) -> tuple[Case, Case]:
    """EN 1992-1-1 (3.1), (3.2), and the exponential that it is: beta 0.5, tau 28 s^2 days and Su = e^s f28."""
    exponential = ExponentialParameters(su_mpa=math.exp(s) * f28_mpa, tau_h=28 * 24 * s * s, beta=0.5)
    return ("en1992", En1992Parameters(f28_mpa=f28_mpa, s=s)), ("exponential", exponential)


def test_it_gives_the_factor_of_en_1992_at_ten_days() -> None:
    # EN 1992-1-1, (3.2), s = 0.25, 10 d: 0.84507490, as in the unit tests of the open library blue-prints (read there).
    for case in ways(1.0, 0.25):
        assert at(case, 240.0) == pytest.approx(0.84507490, rel=1e-7)


def test_it_gives_en_1992_for_c40_at_seven_days() -> None:
    # C40/50: fcm = 48 MPa; fck(7 d) = 48 beta_cc - 8 = 29.382437587 MPa, as in an open FE code's EC2 test (read there).
    for case in ways(48.0, 0.25):
        assert at(case, 168.0) - 8.0 == pytest.approx(29.382437587427432, rel=1e-9)


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
    for case in ways(34.473786, s):
        found = [at(case, days * 24.0) for days in (1, 10, 28, 56, 128)]
        assert found == pytest.approx(list(wanted), rel=1e-6)


@given(CASES, AGES)
def test_the_inverse_leads_back(case: Case, age_h: float) -> None:
    mpa, old_mpa = at(case, age_h), at(case, 1e9)
    if 1e-3 < mpa < 0.999 * old_mpa:
        assert CURVES[case[0]].age_h(mpa, case[1]) == pytest.approx(age_h, rel=1e-6)


def near_a_corner(case: Case, age_h: float) -> bool:
    """Return whether the curve has a corner beside an age, where differences say nothing about slopes."""
    p = case[1]
    if isinstance(p, HyperbolaParameters):
        return abs(age_h - p.t0_h) < 1e-3 * age_h
    return isinstance(p, LogarithmicParameters) and abs(p.a_mpa + p.b_mpa * math.log10(age_h)) < 1e-2


@given(CASES, AGES)
def test_the_slope_agrees_with_small_differences(case: Case, age_h: float) -> None:
    if near_a_corner(case, age_h):
        return
    step = 1e-5 * age_h
    slope = (at(case, age_h + step) - at(case, age_h - step)) / (2 * step)
    assert float(CURVES[case[0]].slope(np.array([age_h]), case[1])[0]) == pytest.approx(slope, rel=1e-4, abs=1e-7)


@given(CASES, AGES)
def test_the_gradient_agrees_with_small_differences_in_the_order_of_the_fields(case: Case, age_h: float) -> None:
    if near_a_corner(case, age_h):
        return
    name, p = case
    gradient = CURVES[name].gradient(np.array([age_h]), p)
    assert gradient.shape == (1, len(PARAMETERS[name].model_fields))
    for i, field in enumerate(PARAMETERS[name].model_fields):
        value = getattr(p, field)
        step = 1e-5 * max(1e-3, abs(value))
        more, less = (p.model_copy(update={field: value + by}) for by in (step, -step))
        difference = (at((name, more), age_h) - at((name, less), age_h)) / (2 * step)
        assert float(gradient[0, i]) == pytest.approx(difference, rel=1e-3, abs=1e-5)


@given(CASES, AGES, st.floats(0, 100))
def test_older_is_never_weaker(case: Case, age_h: float, more_h: float) -> None:
    young_mpa, old_mpa = at(case, age_h), at(case, age_h + more_h)
    assert young_mpa <= old_mpa * (1 + 1e-12)
    assert CURVES[case[0]].slope(np.array([age_h]), case[1])[0] >= 0.0


@given(CASES)
def test_there_is_no_strength_at_no_age_and_no_age_for_more_than_the_final_strength(case: Case) -> None:
    curve, p = CURVES[case[0]], case[1]
    for age_h in (0.0, -3.0, math.nan):
        assert curve.strength_mpa(np.array([age_h]), p).tolist() == [0.0]
    assert curve.age_h(0.0, p) == curve.age_h(-1.0, p) == 0.0
    assert math.isinf(curve.age_h(1e6, p))
    assert math.isinf(curve.age_h(math.nan, p))


@given(CASES)
def test_just_below_a_ceiling_the_inverse_is_infinite_or_a_number(case: Case) -> None:
    # Rounding must not divide by zero there.
    name, p = case
    end = {"exponential": "su_mpa", "hyperbola": "su_mpa"}.get(name)
    if end is not None:
        for mpa in (getattr(p, end), math.nextafter(getattr(p, end), 0.0)):
            assert math.isinf(CURVES[name].age_h(mpa, p))
    if name != "logarithmic":  # it has none
        assert CURVES[name].age_h(at(case, 1e12), p) > 1e4


def test_every_curve_has_its_parameters_and_is_told_by_them() -> None:
    assert set(CURVES) == set(PARAMETERS) == set(DRAWN)
    for name, model in PARAMETERS.items():
        assert curve_told_by(dict.fromkeys(model.model_fields)) == name
