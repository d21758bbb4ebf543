"""Sources: NIST Special Publication 811 (2008), Appendix B.8, for psi, lbf/ft2 and the inch.

The limits 3.5 MPa and 5 degC beside 500 psi and 40 degF are common practice and have no published source.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared import units
from shared.models.decisions import Finding
from shared.units import Unit, shown

CONVERTED: list[Unit] = ["degC", "MPa", "kPa", "kg/m2 h", "mm", "l"]


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"(?<![a-z])-?\d+(?:\.\d+)?", text)]


def test_the_constants_are_those_of_nist_sp_811() -> None:
    pascal_per_psi = 6.894757e3  # printed to seven digits
    pascal_per_psf = 47.88026
    assert 1e6 / pascal_per_psi == pytest.approx(units.PSI_PER_MPA, rel=1e-7)
    assert 1e3 / pascal_per_psf == pytest.approx(units.PSF_PER_KPA, rel=1e-7)
    assert units.MM_PER_IN == 25.4
    pound_kg, foot_m = 0.45359237, 0.3048  # exact
    assert pound_kg / foot_m**2 == pytest.approx(units.KG_M2_PER_LB_FT2, rel=1e-6)
    assert pytest.approx(units.L_PER_GAL, rel=1e-12) == 231 * (units.MM_PER_IN / 100.0) ** 3
    assert Path(units.__file__).read_text(encoding="utf-8").count("NIST SP 811") == 6
    btu_j = 1055.05585262  # the international table's, exact
    assert foot_m**2 / 1.8 * 3600.0 / btu_j == pytest.approx(units.M2_K_W_PER_US_R, rel=1e-6)
    for name, entered in units.US_ENTERED.items():
        assert entered.to_si(entered.from_si(17.5)) == pytest.approx(17.5), name
    assert units.US_ENTERED["°C"].to_si(50.0) == pytest.approx(10.0)
    assert units.US_ENTERED["kg/m³"].from_si(360.0) == pytest.approx(606.8, abs=0.05)


def test_psf_and_psi_are_the_same_pound_force() -> None:
    assert units.mpa_to_psi(1.0) * 144.0 == pytest.approx(units.kpa_to_psf(1000.0), rel=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "limit", "text"),
    [
        (3.5, "MPa", True, "3.5 MPa (508 psi)"),
        (3.5, "MPa", False, "3.5 MPa (507 psi)"),
        (7.0, "MPa", True, "7.0 MPa (1016 psi)"),
        (5.0, "degC", True, "5.0 °C (41.0 °F)"),
        (-10.0, "degC", False, "-10.0 °C (14.0 °F)"),
        (1.0, "kPa", True, "1.0 kPa (21 psf)"),
        (100.0, "mm", False, "100 mm (3.9 in)"),
        (50.0, "mm", False, "50 mm (2.0 in)"),  # 1.97 in: a size, to the nearest
        (20.0, "mm", True, "20 mm (0.8 in)"),
        (1.0, "kg/m2 h", True, "1.00 kg/m2 h (0.21 lb/ft2 h)"),
        (0.5, "kg/m2 h", False, "0.50 kg/m2 h (0.10 lb/ft2 h)"),
        (24.0, "h", True, "24.0 h"),
        (23.99, "h", False, "23.9 h"),
        (30.0, "min", True, "30 min"),
        (-0.01, "degC", False, "-0.1 °C (31.9 °F)"),
        (None, "MPa", False, "not known"),
        (math.nan, "MPa", False, "not known"),
        (math.inf, "degC", True, "not known"),
        ("on file", "", False, "on file"),
        (2.0, "", False, "2.0"),
    ],
)
def test_a_value_is_shown_in_both_systems(value: float | str | None, unit: Unit, limit: bool, text: str) -> None:
    assert shown(value, unit, limit=limit) == text


def test_a_us_site_reads_its_own_units_first() -> None:
    assert shown(3.5, "MPa", first="US", limit=True) == "508 psi (3.5 MPa)"
    assert shown(5.0, "degC", first="US", limit=True) == "41.0 °F (5.0 °C)"
    assert shown(24.0, "h", first="US", limit=True) == "24.0 h"


def test_the_stricter_of_two_customary_limits_is_the_stored_one() -> None:
    assert units.psi_to_mpa(500.0) < 3.5
    assert units.psi_to_mpa(1000.0) < 7.0
    assert units.f_to_c(40.0) < 5.0


@given(st.floats(-40.0, 200.0), st.floats(-40.0, 200.0), st.sampled_from(CONVERTED))
def test_what_is_not_met_never_looks_met_in_either_system(found: float, limit: float, unit: Unit) -> None:
    if not found < limit - 1e-4:
        return
    found_si, found_us = numbers(shown(found, unit, limit=False))
    limit_si, limit_us = numbers(shown(limit, unit, limit=True))
    assert found_si < limit_si
    assert found_us < limit_us


@given(st.floats(-40.0, 200.0), st.sampled_from([unit for unit in CONVERTED if unit not in units.MEASURES]))
def test_a_limit_is_rounded_up_and_a_found_value_down(value: float, unit: Unit) -> None:
    low = numbers(shown(value, unit, limit=False))[0]
    high = numbers(shown(value, unit, limit=True))[0]
    assert low <= value + 1e-6
    assert high >= value - 1e-6
    assert high - low <= 1.0


@given(st.floats(-100.0, 200.0))
def test_conversions_lead_back_to_where_they_began(value: float) -> None:
    assert units.f_to_c(units.c_to_f(value)) == pytest.approx(value, abs=1e-9)
    assert units.psi_to_mpa(units.mpa_to_psi(value)) == pytest.approx(value, rel=1e-12, abs=1e-12)
    assert units.mm_to_in(value) * units.MM_PER_IN == pytest.approx(value, rel=1e-12, abs=1e-12)
    assert abs(units.milli_c(value) - value * 1000.0) <= 0.5 + 1e-6


def test_a_finding_prints_found_and_limit_and_whether_it_is_met() -> None:
    finding = Finding("lower-bound strength", 3.46, 3.5, "MPa", met=False)
    assert finding.explain() == "lower-bound strength: 3.4 MPa (501 psi), needs 3.5 MPa (508 psi) - not met"
    assert Finding("plan adopted", "yes", None, "", met=True).explain() == "plan adopted: yes - met"
    assert Finding("coldest zone", None, 5.0, "degC", met=False).explain("US") == (
        "coldest zone: not known, needs 41.0 °F (5.0 °C) - not met"
    )


@pytest.mark.parametrize("value", [1e13, -1e13, 8.6e306, -1.7e308])
@pytest.mark.parametrize("limit", [True, False])
def test_a_number_beyond_any_site_is_shown_and_does_not_overflow(value: float, limit: bool) -> None:
    assert units.shown(value, "kPa", limit=limit) == f"{value:g} kPa"
