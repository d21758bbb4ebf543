from __future__ import annotations

import math
import tomllib
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure.maturity import (
    LAWS,
    Rate,
    arrhenius_rate,
    default_rate,
    en1992_rate,
    maturity,
    overstatement,
    own_rate,
    sadgrove_rate,
    temperature_time_rate,
    two_branch_rate,
    weighted_rate,
)

REFERENCES = Path(__file__).parent / "references"
HISTORIES = [tomllib.loads((REFERENCES / f"history_{name}.toml").read_text()) for name in ("h1", "h2")]
CHECKS = [(h, c) for h in HISTORIES for c in h["check"]]
TEMPERATURES = st.floats(-30.0, 80.0)


@pytest.mark.parametrize(("history", "check"), CHECKS, ids=lambda x: str(x.get("law", "")) + str(x.get("with", "")))
def test_a_history_worked_by_hand_comes_out_to_the_digits(history: dict[str, Any], check: dict[str, Any]) -> None:
    found = maturity(
        np.array(history["elapsed_h"], float),
        np.array(history["temperature_c"], float),
        partial(LAWS[check["law"]], **check["with"]),
    )
    assert found[0] == 0.0
    assert found[-1] == pytest.approx(check["value"], rel=history["relative_tolerance"]), history["source"]


def test_the_hand_checks_reach_every_law_but_the_default() -> None:
    assert {c["law"] for _, c in CHECKS} == set(LAWS) - {"default"}


def test_two_weeks_at_twenty_and_twenty_five_agree_with_the_model_code() -> None:
    # fib Model Code 2010, equation 5.1-85, as in the unit tests of the open library structuralcodes (read there):
    # 7 d at 20 degC and 7 d at 25 degC are 15.7723 d.
    days = 7.0 * float(en1992_rate(np.array([20.0]))[0] + en1992_rate(np.array([25.0]))[0])
    assert days == pytest.approx(15.7723, rel=1e-5)


@pytest.mark.parametrize(("at_c", "factor"), [(15.0, 0.585), (35.0, 1.65)])
def test_factors_agree_with_table_ix_of_bentz(at_c: float, factor: float) -> None:
    # NIST, Journal of the American Ceramic Society 1997, web version, table IX (read): 38.2 kJ/mol, reference 25 degC.
    rate = arrhenius_rate(np.array([at_c]), 38_200.0, 25.0)
    assert float(rate[0]) == pytest.approx(factor, abs=0.002)


def test_cement_152_reacts_about_3_3_times_as_fast_at_forty_degrees() -> None:
    # NIST, hydration modelling of cement 152 (read): 45.5 kJ/mol, 40 against 20 degC, "about 3.3".
    assert float(arrhenius_rate(np.array([40.0]), 45_500.0)[0]) == pytest.approx(3.3, abs=0.05)


@pytest.mark.parametrize("c_value", [1.05, 1.3, 1.65])
def test_weighted_maturity_has_slope_one_at_twelve_and_a_half_degrees(c_value: float) -> None:
    # An identity of the printed equation: d/dT = C^(0.1 T - 1.245) is 1 at 12.45 degC whatever C.
    low, high = weighted_rate(np.array([12.44, 12.46]), c_value)
    assert (high - low) / 0.02 == pytest.approx(1.0, rel=1e-6)


def test_towards_a_c_value_of_one_weighted_maturity_is_the_temperature_above_minus_ten() -> None:
    # An identity of the printed equation: 29.99998 at 20 degC for C = 1.000001.
    assert float(weighted_rate(np.array([20.0]), 1.000001)[0]) == pytest.approx(29.99998, abs=1e-5)
    assert weighted_rate(np.array([-10.0, -25.0]), 1.4).tolist() == [0.0, 0.0]


MINUS_TEN: Rate = partial(temperature_time_rate, datum_c=-10.0)


@pytest.mark.parametrize(
    ("law", "at_c", "ratio"),
    [(MINUS_TEN, 0.0, 1.160), (MINUS_TEN, 5.0, 1.252), (en1992_rate, 5.0, 1.199), (en1992_rate, 9.0, 1.140)],
)
def test_a_datum_of_minus_ten_and_en_1992_are_told_of_in_the_cold_with_the_numbers(
    law: Rate, at_c: float, ratio: float
) -> None:
    # Computed from the equations, relative to 20 degC.
    found = overstatement(law, at_c)
    assert found is not None
    assert found.ratio == pytest.approx(ratio, abs=1e-3)
    assert found.ratio == found.credited / found.earned


@pytest.mark.parametrize("law", [temperature_time_rate, two_branch_rate, sadgrove_rate, default_rate, arrhenius_rate])
@pytest.mark.parametrize("at_c", [-5.0, 0.0, 5.0, 9.9])
def test_a_law_that_does_not_overstate_cold_concrete_is_not_told_of(law: Rate, at_c: float) -> None:
    assert overstatement(law, at_c) is None


def test_from_ten_degrees_on_no_law_is_told_of_and_an_unknown_temperature_is() -> None:
    assert overstatement(MINUS_TEN, 10.0) is None
    assert overstatement(MINUS_TEN, math.nan) is not None


@given(TEMPERATURES)
def test_the_default_is_never_above_either_law_and_earns_nothing_at_or_below_freezing(t_c: float) -> None:
    at = np.array([t_c])
    rate = float(default_rate(at)[0])
    assert rate <= float(arrhenius_rate(at)[0]) * (1 + 1e-12)
    assert rate <= float(two_branch_rate(at)[0]) * (1 + 1e-12)
    assert rate == 0.0 if t_c <= 0.0 else rate > 0.0


@given(TEMPERATURES, st.floats(0.0, 30.0))
def test_warmer_is_never_slower(t_c: float, by_c: float) -> None:
    cold, warm = default_rate(np.array([t_c, t_c + by_c]))
    assert cold <= warm


def with_own(t_c: float, energy: float, tested_c: tuple[float, float]) -> float:
    at = np.array([t_c])
    return float(own_rate(at, energy, tested_c, default_rate(at))[0])


ENERGIES = st.floats(20_000.0, 80_000.0)
RANGES = st.tuples(st.floats(1.0, 30.0), st.floats(1.0, 30.0)).map(lambda r: (r[0], r[0] + r[1]))


@given(TEMPERATURES, st.floats(0.0, 30.0), ENERGIES, RANGES)
def test_warmer_is_never_slower_by_an_energy_of_its_own(
    t_c: float, by_c: float, energy: float, tested_c: tuple[float, float]
) -> None:
    assert with_own(t_c, energy, tested_c) <= with_own(t_c + by_c, energy, tested_c)


@given(st.floats(0.01, 50.0), ENERGIES, RANGES)
def test_an_energy_counts_over_the_temperatures_tested_and_beyond_them_never_gives_more(
    t_c: float, energy: float, tested_c: tuple[float, float]
) -> None:
    own, untested = float(arrhenius_rate(np.array([t_c]), energy)[0]), float(default_rate(np.array([t_c]))[0])
    found, (from_c, to_c) = with_own(t_c, energy, tested_c), tested_c
    if from_c <= t_c <= to_c:
        assert found == own
    else:
        assert found <= own
    if t_c < from_c:
        assert found <= untested
    if t_c > to_c:
        assert found in {own, untested, with_own(to_c, energy, tested_c)}


@pytest.mark.row("E3")
def test_an_energy_or_a_range_that_is_no_number_gives_no_more_than_the_default() -> None:
    nan = math.nan
    assert with_own(nan, 40_000.0, (5.0, 40.0)) == 0.0
    assert math.isnan(with_own(10.0, nan, (5.0, 40.0)))
    assert with_own(10.0, 30_000.0, (nan, 40.0)) == float(default_rate(np.array([10.0]))[0])
    assert math.isnan(with_own(10.0, 30_000.0, (5.0, nan)))
    assert with_own(0.0, 40_000.0, (0.0, 40.0)) == 0.0
    assert with_own(60.0, 40_000.0, (0.0, 60.0)) == with_own(50.0, 40_000.0, (0.0, 60.0))


@pytest.mark.row("E7")
def test_hotter_than_fifty_degrees_counts_as_fifty() -> None:
    fifty, ninety = default_rate(np.array([50.0, 90.0]))
    assert fifty == ninety


@pytest.mark.row("E3")
def test_a_temperature_that_is_no_number_earns_nothing() -> None:
    assert default_rate(np.array([np.nan])).tolist() == [0.0]


@pytest.mark.parametrize(
    ("hours", "temperatures"), [([0.0, 1.0], [20.0]), ([0.0, 0.0], [20.0, 20.0]), ([1.0, 0.0], [20.0, 20.0])]
)
def test_times_that_do_not_increase_are_refused(hours: list[float], temperatures: list[float]) -> None:
    with pytest.raises(ValueError, match=r"time must increase|one length"):
        maturity(np.array(hours), np.array(temperatures), default_rate)
