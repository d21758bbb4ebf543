"""The interval mean against the exact integral of the same straight lines."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
import pytest
from exact_maturity import CORNERS_C, exact_maturity
from hypothesis import given
from hypothesis import strategies as st

from cure.maturity import LAWS, Floats, Rate, arrhenius_rate, default_rate, maturity, temperature_time_rate
from shared.units import c_to_f

H1_H = np.array([0.0, 1, 2, 4, 6, 8, 12, 16, 20, 24])
H1_C = np.array([18.0, 18.5, 20, 24, 28, 30, 27, 22, 17, 14])
Q5000: Rate = partial(arrhenius_rate, activation_energy_j_per_mol=5000.0 * 8.314)


def test_of_a_warm_day_the_interval_mean_is_below_the_integral_and_the_mean_rate_above() -> None:
    # Computed from the printed equations: 28.8408 by the interval mean, 28.8895 exactly, 28.9869 by mean rates.
    assert maturity(H1_H, H1_C, Q5000)[-1] == pytest.approx(28.8408, rel=1e-5)
    assert exact_maturity(H1_H, H1_C, Q5000) == pytest.approx(28.8895, rel=1e-5)
    rates = Q5000(H1_C)
    assert float(np.sum(0.5 * (rates[1:] + rates[:-1]) * np.diff(H1_H))) == pytest.approx(28.9869, rel=1e-5)


def test_of_a_cold_day_the_line_itself_is_clipped_at_the_datum() -> None:
    # By hand: 6 h x 8 + 4.5 h x 3 + 3 h x 2 = 67.5 degC h above 0; the interval mean gives 60.
    hours, cold = np.array([0.0, 6, 12, 18, 24]), np.array([10.0, 6, -2, -4, 4])
    assert exact_maturity(hours, cold, temperature_time_rate, (0.0,)) == pytest.approx(67.5, rel=1e-12)


def test_a_straight_law_has_the_interval_mean_as_its_integral() -> None:
    above = partial(temperature_time_rate, datum_c=-10.0)
    assert exact_maturity(H1_H, H1_C, above) == pytest.approx(maturity(H1_H, H1_C, above)[-1], rel=1e-13)


def interval(start_c: float, by_c: float, hours: float) -> tuple[Floats, Floats]:
    return np.array([0.0, hours]), np.array([start_c, start_c + by_c])


def split(hours: Floats, temperatures: Floats, at: float) -> tuple[Floats, Floats]:
    """Return the same line with a reading more."""
    middle_h, middle_c = (float(x[0] + at * (x[1] - x[0])) for x in (hours, temperatures))
    return np.insert(hours, 1, middle_h), np.insert(temperatures, 1, middle_c)


ANY_C = st.floats(-15.0, 60.0)
BY_C = st.floats(-3.0, 3.0)
AT = st.floats(0.05, 0.95)
HOURS = st.floats(0.02, 0.5)


@given(ANY_C, BY_C, HOURS, AT)
def test_a_reading_more_on_the_line_changes_the_integral_by_less_than_a_billionth(
    start_c: float, by_c: float, hours: float, at: float
) -> None:
    line = interval(start_c, by_c, hours)
    whole = exact_maturity(*line, default_rate, CORNERS_C)
    assert exact_maturity(*split(*line, at), default_rate, CORNERS_C) == pytest.approx(whole, rel=1e-9, abs=1e-12)


@given(st.floats(8.0, 45.0), BY_C, HOURS, AT, st.floats(30_000.0, 42_000.0))
def test_a_reading_more_on_the_line_changes_the_interval_mean_by_a_thousandth_at_most(
    start_c: float, by_c: float, hours: float, at: float, energy: float
) -> None:
    line, law = interval(start_c, by_c, hours), partial(arrhenius_rate, activation_energy_j_per_mol=energy)
    whole = maturity(*line, law)[-1]
    assert maturity(*split(*line, at), law)[-1] == pytest.approx(whole, rel=1e-3)


@given(st.floats(0.1, 14.4), st.floats(0.1, 14.4), HOURS, AT)
def test_in_the_cold_the_interval_mean_never_credits_more_than_the_integral(
    start_c: float, end_c: float, hours: float, at: float
) -> None:
    # The law bends upwards there, and the two-branch law so much that a reading more may add half a per cent.
    line = interval(start_c, end_c - start_c, hours)
    coarse, fine = maturity(*line, default_rate)[-1], maturity(*split(*line, at), default_rate)[-1]
    assert coarse <= fine * (1 + 1e-12)
    assert fine <= exact_maturity(*line, default_rate, CORNERS_C) * (1 + 1e-12)


def pairs(from_c: float, to_c: float) -> Iterator[tuple[float, float]]:
    """Return the ends of lines within a range, rising by at most 3 degC."""
    for start_c in np.linspace(from_c, to_c, 60).tolist():
        for by_c in np.linspace(0.25, 3.0, 12).tolist():
            if start_c + by_c <= to_c:
                yield start_c, start_c + by_c


@pytest.mark.parametrize(
    ("from_c", "to_c", "less", "split_less"),
    [
        (1e-6, 8.0, 5.1e-3, 3.9e-3),
        (8.0, 14.5, 1.7e-3, 1.3e-3),
        (14.6, 20.0, 1.2e-3, 0.9e-3),
        (20.0, 50.0, 0.7e-3, 0.55e-3),
    ],
)
def test_between_its_bends_the_interval_mean_of_the_default_law_credits_less_by_no_more_than_this(
    from_c: float, to_c: float, less: float, split_less: float
) -> None:
    # Computed: a reading more changes it by a thousandth at most from 14.6 degC on, and by four near 0 degC.
    exact, halves = [], []
    for start_c, end_c in pairs(from_c, to_c):
        line = interval(start_c, end_c - start_c, 0.5)
        coarse = maturity(*line, default_rate)[-1]
        exact.append(1.0 - coarse / exact_maturity(*line, default_rate, CORNERS_C))
        halves.append(1.0 - coarse / maturity(*split(*line, 0.5), default_rate)[-1])
    assert min(exact) >= -1e-12
    assert min(halves) >= -1e-12
    # Not less either: the numbers are said where the law is described.
    assert 0.9 * less < max(exact) <= less
    assert 0.9 * split_less < max(halves) <= split_less


@pytest.mark.parametrize("bend_c", [CORNERS_C[1], 20.0])
def test_across_a_bend_it_credits_a_little_more_than_the_lower_of_the_laws(bend_c: float) -> None:
    more = [
        maturity(*interval(s, e - s, 0.5), default_rate)[-1]
        / exact_maturity(*interval(s, e - s, 0.5), default_rate, CORNERS_C)
        for s, e in pairs(bend_c - 3.0, bend_c + 3.0)
    ]
    assert 1.003 < max(more) <= 1.0036


def test_across_freezing_it_credits_two_minutes_more_than_the_line_at_most() -> None:
    lines = [interval(s, e - s, 0.5) for s, e in pairs(-3.0, 3.0) if s < 0.0 < e]
    more = [maturity(*x, default_rate)[-1] - exact_maturity(*x, default_rate, CORNERS_C) for x in lines]
    assert 2.0 / 60.0 < max(more) <= 2.3 / 60.0


@given(ANY_C, BY_C, HOURS)
def test_it_never_credits_more_than_arrhenius_has_over_the_line(start_c: float, by_c: float, hours: float) -> None:
    # Which of the two laws is the truth is not known: of the one that bends upwards everywhere it is less.
    line = interval(start_c, by_c, hours)
    assert maturity(*line, default_rate)[-1] <= exact_maturity(*line, arrhenius_rate) * (1 + 1e-12)


@given(st.lists(st.floats(-10.0, 55.0), min_size=2, max_size=12), st.floats(-12.0, 5.0))
def test_degree_hours_fahrenheit_are_nine_fifths_of_degree_hours_celsius(record: list[float], datum_c: float) -> None:
    hours, c = np.arange(float(len(record))), np.array(record)
    f, datum_f = np.array([c_to_f(value) for value in record]), c_to_f(datum_c)
    in_c = maturity(hours, c, partial(temperature_time_rate, datum_c=datum_c))[-1]
    in_f = maturity(hours, f, partial(temperature_time_rate, datum_c=datum_f))[-1]
    assert in_f == pytest.approx(1.8 * in_c, rel=1e-9, abs=1e-9)


@given(st.lists(st.floats(-10.0, 55.0), min_size=2, max_size=12), st.data())
def test_warmer_is_never_younger_and_more_time_never_less_by_any_law(record: list[float], data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(LAWS)))
    rate = partial(LAWS[name], c_value=1.4) if name == "weighted" else LAWS[name]
    hours, cold = np.arange(float(len(record))), np.array(record)
    warm = cold + np.array(data.draw(st.lists(st.floats(0.0, 20.0), min_size=len(record), max_size=len(record))))
    by_cold, by_warm = maturity(hours, cold, rate), maturity(hours, warm, rate)
    assert np.all(np.diff(by_cold) >= 0.0)
    assert np.all(by_cold <= by_warm * (1 + 1e-12))
