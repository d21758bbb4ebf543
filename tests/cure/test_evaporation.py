from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.evaporation import drying, menzel_kg_m2_h, uno_kg_m2_h
from shared.units import f_to_c

KG_M2_PER_LB_FT2 = 4.882428
"""NIST SP 811, Appendix B.8."""
KM_PER_MILE = 1.609344


def rates_lb_ft2_h(concrete_f: float, air_f: float, humidity: float, wind_mph: float) -> tuple[float, float]:
    """Return what Menzel and Uno say, in the units of the chart."""
    at = (f_to_c(concrete_f), f_to_c(air_f), humidity, wind_mph * KM_PER_MILE)
    return menzel_kg_m2_h(*at) / KG_M2_PER_LB_FT2, uno_kg_m2_h(*at) / KG_M2_PER_LB_FT2


@pytest.mark.parametrize(
    ("wind_mph", "printed"), [(0, 0.015), (5, 0.038), (10, 0.062), (15, 0.085), (20, 0.110), (25, 0.135)]
)
def test_both_formulas_give_the_table_for_seventy_degrees_and_seventy_per_cent(wind_mph: float, printed: float) -> None:
    # The table of PCA and ACI 305 (from memory): concrete and air 70 degF, 70 % humidity, lb/ft2 h.
    menzel, uno = rates_lb_ft2_h(70.0, 70.0, 70.0, wind_mph)
    assert menzel == pytest.approx(printed, abs=0.008)
    assert uno == pytest.approx(printed, abs=0.006)


@pytest.mark.parametrize(
    ("concrete_f", "air_f", "humidity", "printed"),
    [
        (70, 70, 90, 0.020), (70, 70, 50, 0.100), (70, 70, 30, 0.135), (70, 70, 10, 0.175),
        (70, 50, 70, 0.125), (70, 30, 70, 0.165),
        (80, 40, 100, 0.205), (70, 40, 100, 0.130), (60, 40, 100, 0.075),
    ],
)  # fmt: skip
def test_menzel_gives_the_table_at_ten_miles_an_hour(
    concrete_f: float, air_f: float, humidity: float, printed: float
) -> None:
    # The same table (from memory): other humidities, and concrete warmer than the air, where Uno is above.
    menzel, uno = rates_lb_ft2_h(concrete_f, air_f, humidity, 10.0)
    assert menzel == pytest.approx(printed, abs=0.006)
    if concrete_f > air_f:
        assert 1.0 < uno / menzel < 1.25


def test_a_warm_dry_windy_afternoon_worked_through_by_hand() -> None:
    # 30 degC concrete, 25 degC air, 50 %, 20 km/h: 5e-6 (48^2.5 - 0.5 x 43^2.5) 24 = 1.19 kg/m2 h.
    assert uno_kg_m2_h(30.0, 25.0, 50.0, 20.0) == pytest.approx(1.19, abs=0.01)


C = st.floats(-5.0, 45.0)


@given(C, st.floats(-30.0, 45.0), st.floats(0.0, 100.0), st.floats(0.0, 60.0), st.floats(0.0, 15.0))
def test_warmer_concrete_and_drier_air_never_dry_less(
    concrete_c: float, air_c: float, humidity: float, wind: float, more: float
) -> None:
    for formula in (menzel_kg_m2_h, uno_kg_m2_h):
        rate = formula(concrete_c, air_c, humidity, wind)
        assert formula(concrete_c + more, air_c, humidity, wind) >= rate - 1e-12
        assert formula(concrete_c, air_c, max(0.0, humidity - more), wind) >= rate - 1e-12
        if rate > 0.0:
            assert formula(concrete_c, air_c, humidity, wind + more) >= rate


def test_half_as_much_is_too_much_for_concrete_that_bleeds_little() -> None:
    rate, wants = drying(22.0, 22.0, 50.0, 22.0, little_bleeding=False)
    assert 0.5 < rate < 1.0
    assert not wants
    assert drying(22.0, 22.0, 50.0, 22.0, little_bleeding=True) == (rate, True)


@pytest.mark.row("E3")
@pytest.mark.parametrize(
    "at", [(math.nan, 20, 50, 5), (20, math.nan, 50, 5), (20, 20, math.nan, 5), (20, 20, 50, math.nan),
           (20, 20, 50, -5), (20, 20, 130, 5)],
)  # fmt: skip
def test_a_rate_that_is_not_known_wants_protection(at: tuple[float, float, float, float]) -> None:
    rate, wants = drying(*at, little_bleeding=False)
    assert math.isnan(rate)
    assert wants
