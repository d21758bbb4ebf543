"""Cubes give their energy back, or say why not and what to test; a bad file is one clear error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from cubes_support import Cubes, as_csv, cubes

from cure.breaks import Break
from cure.calibration import Verdict
from cure.cubes import judge_cubes, read_cubes
from cure.maturity import arrhenius_rate
from shared.errors import SetupError
from shared.units import psi_to_mpa


def test_cubes_almost_without_scatter_give_their_energy_and_their_rate_constants_back() -> None:
    judged = judge_cubes(cubes(43_000.0, scatter=1e-4))
    assert (judged.verdict, judged.refused, judged.doubts) == (Verdict.RELEASE, [], [])
    assert judged.line is not None
    assert judged.line.energy_j_per_mol == pytest.approx(43_000.0, rel=1e-3)
    at_10 = 0.013 * float(arrhenius_rate(np.array([10.0]), 43_000.0)[0])
    assert judged.at[0].k_per_h == pytest.approx(at_10, rel=2e-3)
    law = judged.law()
    assert law is not None
    assert (law.tested_c, law.activation_energy_j_per_mol) == ((10.0, 38.0), judged.line.energy_j_per_mol)


def test_a_known_energy_is_found_within_two_standard_deviations_nine_times_in_ten() -> None:
    # Two hundred laboratories, cubes that scatter by 3 %. Without bias, and the deviation is as large as it is said.
    seen = []
    for seed in range(200):
        line = judge_cubes(cubes(45_000.0, seed=seed)).line
        assert line is not None
        seen.append((line.energy_j_per_mol - 45_000.0) / line.sd_j_per_mol)
    assert np.mean(np.abs(seen) <= 2.0) >= 0.90
    assert abs(np.mean(seen)) < 0.25
    assert 0.7 < np.std(seen) < 1.3


def aged(made: Cubes, of_c: float, by: float) -> Cubes:
    return [(c, replace(b, equivalent_age_h=by * b.equivalent_age_h) if c == of_c else b) for c, b in made]


def exchanged(made: Cubes) -> Cubes:
    return [({10.0: 38.0, 38.0: 10.0}.get(c, c), cube) for c, cube in made]


def one_off(made: Cubes) -> Cubes:
    c, cube = made[20]
    return [*made[:20], (c, replace(cube, mpa=1.35 * cube.mpa)), *made[21:]]


def waved(made: Cubes) -> Cubes:
    """Return cubes whose ages lie on no hyperbola."""
    return [(c, replace(b, mpa=b.mpa * (1.04 if i // 3 % 2 else 0.96))) for i, (c, b) in enumerate(made)]


Case = tuple[Callable[[], Cubes], str, str]
REFUSED: dict[str, Case] = {
    "two temperatures": (lambda: cubes(curing_c=(10.0, 35.0)), "2 curing temperatures", "and midway"),
    "none": (list, "0 curing temperatures", "6 ages of 3 cubes"),
    "three ages": (lambda: cubes(ages=3), "9 cubes at 3 ages are too few", "6 ages of 3 cubes"),
    "exchanged baths": (lambda: exchanged(cubes()), "k does not rise from 10 to 23 degC", "cure both again"),
    "an energy that no binder has": (lambda: cubes(95_000.0), "kJ/mol is no binder's", "cure all again"),
    "no strength": (
        lambda: [(10.0, Break("zero", 9.0, 0.0)), *cubes()],
        "without age or strength",
        "twice the time of final setting",
    ),
    "noise": (lambda: cubes(scatter=0.25, seed=4), "times as much as cubes do", "there again"),
}
PLANNING: dict[str, Case] = {
    "two cubes of an age": (lambda: cubes(each=2), "of the poorest 2 cubes", "add what is missing"),
    "five ages": (lambda: cubes(ages=5), "5 ages", "add what is missing"),
    "a small span": (lambda: cubes(curing_c=(12.0, 20.0, 28.0)), "span 16 degC only", "at least 20 degC apart"),
    "nothing midway": (lambda: cubes(curing_c=(10.0, 13.0, 38.0)), "no temperature lies midway", "about 24 degC"),
    "one cube": (lambda: one_off(cubes()), "sd from the others", "3 more cubes of that age"),
    "a bent line": (lambda: aged(cubes(), 23.0, 0.7), "ln k over 1/T is bent", "between the two that differ"),
    "an energy hardly known": (
        lambda: cubes(60_000.0, curing_c=(20.0, 21.0, 22.0), seed=5),
        "no better than the default's 10",
        "farther apart",
    ),
    "ages too young": (
        lambda: cubes(su_mpa=190.0, k_per_h=0.0005, scatter=0.04),
        "k is known to",
        "double the oldest age",
    ),
    "a wave": (lambda: waved(cubes(scatter=0.01)), "does not follow the ages", "there again"),
}


@pytest.mark.parametrize("what", sorted(REFUSED))
def test_what_says_nothing_is_refused_with_the_reason_and_the_test(what: str) -> None:
    made, reason, test = REFUSED[what]
    judged = judge_cubes(made())
    assert judged.verdict is Verdict.REFUSED
    assert [r for r in judged.refused if reason in r and test in r], judged.refused
    assert judged.law() is None


@pytest.mark.parametrize("what", sorted(PLANNING))
def test_what_leaves_a_doubt_is_for_planning_only_with_the_reason_and_the_test(what: str) -> None:
    made, reason, test = PLANNING[what]
    judged = judge_cubes(made())
    assert judged.verdict is Verdict.PLANNING, judged.refused
    assert [d for d in judged.doubts if reason in d and test in d], judged.doubts
    assert judged.law() is None


def test_an_outlier_is_named_and_stays_in() -> None:
    made = one_off(cubes())
    judged = judge_cubes(made)
    assert judged.outliers == [made[20][1].specimen]
    assert judged.number == len(made)


def test_the_order_of_the_cubes_changes_nothing() -> None:
    assert judge_cubes(cubes()).line == judge_cubes(cubes()[::-1]).line


def test_cubes_that_will_not_do_but_point_to_a_slower_mix_speak_against_the_default_law() -> None:
    (against,) = judge_cubes(cubes(62_000.0, each=2)).against_the_default()
    assert "planning only" in against
    assert judge_cubes(cubes(45_000.0, each=2)).against_the_default() == []
    assert judge_cubes(cubes(62_000.0)).against_the_default() == [], "its own law holds"
    assert len(judge_cubes(cubes(95_000.0)).against_the_default()) == 1


def test_a_file_is_read_back_as_it_was_made_and_fahrenheit_days_and_psi_are_the_same() -> None:
    made = cubes()
    read = read_cubes(as_csv(made), "c.csv")
    assert [(c, b.specimen, b.equivalent_age_h) for c, b in read] == [
        (c, b.specimen, b.equivalent_age_h) for c, b in made
    ]
    ((celsius, cube),) = read_cubes("\ufeffspecimen,curing_f,age_d,strength_psi\na,73.4,1.5,1000\n", "c.csv")
    assert (celsius, cube.equivalent_age_h) == (23.0, 36.0)
    assert cube.mpa == pytest.approx(psi_to_mpa(1000.0))


HEAD = "specimen,curing_c,age_h,strength_mpa\n"


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        ("", "c.csv: file", "nothing"),
        (HEAD, "c.csv: file", "only column names"),
        ("curing_c,age_h,strength_mpa\n10,12,4\n", "c.csv:1: specimen", "no such column"),
        ("specimen,age_h,strength_mpa\na,12,4\n", "c.csv:1: curing_c or curing_f", "none of them"),
        ("specimen,curing_c,curing_f,age_h,strength_mpa\na,10,50,12,4\n", "c.csv:1: curing_c or", "curing_c and"),
        ("specimen,curing_c,equivalent_age_h,strength_mpa\na,10,12,4\n", "c.csv:1: age_h or age_d", "none of them"),
        ("specimen,curing_c,age_h,strength_mpa,k\na,10,12,4,1\n", "c.csv:1: k", "unknown column"),
        (HEAD + "a,10,12,4\nb,61,12,4\n", "c.csv:3: curing_c", "'61'"),
        (HEAD + "a,0,12,4\n", "c.csv:2: curing_c", "'0'"),
        (HEAD + "a,nan,12,4\n", "c.csv:2: curing_c", "'nan'"),
        (HEAD + "a,10 C,12,4\n", "c.csv:2: curing_c", "'10 C'"),
        ("specimen,curing_f,age_h,strength_mpa\na,20,12,4\n", "c.csv:2: curing_f", "'20'"),
        (HEAD + "a,10,12,4\nb,10,-1,4\n", "c.csv:3: age_h", "'-1'"),
        (HEAD + "a,10,12,4 MPa\n", "c.csv:2: strength_mpa", "'4 MPa'"),
        (HEAD + "a,10,12,4\na,10,12,4\n", "c.csv:3: specimen", "as in line 2"),
        (HEAD + ",10,12,4\n", "c.csv:2: specimen", "nothing"),
        (HEAD + "a,10,12\n", "c.csv:2: row", "3 columns"),
    ],
)
def test_a_bad_file_is_one_clear_error_with_line_and_column(text: str, where: str, found: str) -> None:
    with pytest.raises(SetupError) as caught:
        read_cubes(text, "c.csv")
    (fault,) = caught.value.faults
    assert str(fault).startswith(where)
    assert found in fault.found
