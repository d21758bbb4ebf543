"""Lines through rate constants: to the digits where they are exact, and errors as large as they should be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cure.maturity import GAS_CONSTANT, KELVIN
from cure.rate_line import energies_between, rate_line

CURED_C = np.array([10.0, 23.0, 40.0])
K_PER_D = np.array([0.1383711, 0.30, 0.7490353])
"""Computed from an energy of 41 500 J/mol and 0.30 a day at 23 degC; no published table of the annex was at hand."""
KNOWN = np.full(3, 0.02)


def test_rate_constants_made_from_an_energy_give_it_back_with_the_datum_of_their_straight_line() -> None:
    # Computed: Q 4991.58 K, E 41 500 J/mol, datum 5.174 degC.
    line = rate_line(CURED_C, K_PER_D, KNOWN, 15)
    assert line.energy_j_per_mol == pytest.approx(41_500.0, rel=1e-6)
    assert line.energy_j_per_mol / GAS_CONSTANT == pytest.approx(4991.58, abs=0.005)
    assert line.datum_c == pytest.approx(5.174, abs=0.0005)
    assert np.exp(line.ln_k(CURED_C)) == pytest.approx(K_PER_D, rel=1e-6)
    assert line.regression_sd < 0.1
    assert line.bent > 0.999


def test_the_unit_of_the_rate_changes_nothing_but_the_height_of_the_line() -> None:
    days, hours = (rate_line(CURED_C, k, KNOWN, 15) for k in (K_PER_D, K_PER_D / 24.0))
    assert (hours.energy_j_per_mol, hours.datum_c) == pytest.approx((days.energy_j_per_mol, days.datum_c))
    assert hours.at_zero == pytest.approx(days.at_zero - math.log(24.0))


def test_the_error_is_the_larger_of_the_lines_and_the_rate_constants_own() -> None:
    # By hand, for three points: the middle one's share of the slope is small, the outer two carry it.
    line = rate_line(CURED_C, K_PER_D, KNOWN, 15)
    x = 1.0 / (CURED_C + KELVIN)
    by_hand = GAS_CONSTANT * 0.02 / math.sqrt(float(np.sum((x - x.mean()) ** 2)))
    assert line.own_sd == pytest.approx(by_hand)
    assert line.sd_j_per_mol == line.own_sd
    off = rate_line(CURED_C, K_PER_D * np.array([1.0, 1.15, 1.0]), KNOWN, 15)
    slope, errors = np.polyfit(x, np.log(K_PER_D * np.array([1.0, 1.15, 1.0])), 1, cov=True)
    assert off.energy_j_per_mol == pytest.approx(-GAS_CONSTANT * slope[0])
    assert off.regression_sd == pytest.approx(GAS_CONSTANT * math.sqrt(errors[0, 0]))
    assert off.sd_j_per_mol == off.regression_sd > off.own_sd


def test_a_bend_is_seen_by_how_well_the_rate_constants_are_known() -> None:
    bent = K_PER_D * np.array([1.0, 1.10, 1.0])
    assert rate_line(CURED_C, bent, np.full(3, 0.02), 15).bent < 0.01
    assert rate_line(CURED_C, bent, np.full(3, 0.10), 15).bent > 0.3
    assert rate_line(CURED_C[:2], bent[:2], np.full(2, 0.02), 15).bent == 1.0


def test_rate_constants_that_fall_have_no_datum() -> None:
    line = rate_line(CURED_C, K_PER_D[::-1].copy(), KNOWN, 15)
    assert math.isnan(line.datum_c)
    assert line.energy_j_per_mol < 0.0


def test_between_neighbours_the_energies_are_those_of_the_line_where_it_is_straight() -> None:
    assert energies_between(CURED_C, K_PER_D) == pytest.approx([41_500.0, 41_500.0], rel=1e-5)
