"""A laboratory's file is read as it is written, or refused with the line and column of every fault."""

from __future__ import annotations

import numpy as np
import pytest

from cure.accumulate import DEFAULT_ENERGY_SD, TENTH_PERCENTILE
from cure.breaks import laboratory_rate, matured, read_breaks, read_temperatures
from cure.maturity import DEFAULT_ACTIVATION_ENERGY, arrhenius_rate, default_rate, own_rate
from shared.errors import SetupError
from shared.units import f_to_c, psi_to_mpa

GOOD = "specimen,age_h,strength_mpa\na,12,4.5\nb,24,9.0\n"


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        ("", "b.csv: file", "nothing"),
        ("specimen,age_h,strength_mpa\n", "b.csv: file", "only column names"),
        ("name,age_h,strength_mpa\na,12,4\n", "b.csv:1: specimen", "no such column"),
        ("specimen,strength_mpa\na,4\n", "b.csv:1: age_h or age_d or equivalent_age_h", "none of them"),
        ("specimen,age_h,strength_mpa,strength_psi\na,12,4,580\n", "b.csv:1: strength_mpa or", "strength_mpa and"),
        ("specimen,age_h,age_d,strength_mpa\na,12,0.5,4\n", "b.csv:1: age_h or", "age_h and age_d"),
        ("specimen,age_h,strength_mpa,wind\na,12,4,1\n", "b.csv:1: wind", "unknown column"),
        ("specimen,age_h,age_h,strength_mpa\na,12,12,4\n", "b.csv:1: age_h", "twice"),
        ("specimen,age_h,strength_mpa\na,12,4\nb,-3,5\n", "b.csv:3: age_h", "'-3'"),
        ("specimen,age_h,strength_mpa\na,12,4\nb,24,7 MPa\n", "b.csv:3: strength_mpa", "'7 MPa'"),
        ("specimen,age_h,strength_mpa\na,12,nan\n", "b.csv:2: strength_mpa", "'nan'"),
        ("specimen,age_h,strength_mpa\na,12,1200\n", "b.csv:2: strength_mpa", "'1200'"),
        ("specimen,age_h,strength_mpa\na,12,4\na,12,4\n", "b.csv:3: specimen", "as in line 2"),
        ("specimen,age_h,strength_mpa\n,12,4\n", "b.csv:2: specimen", "nothing"),
        ("specimen,age_h,strength_mpa\na,12\n", "b.csv:2: row", "2 columns"),
    ],
)
def test_a_bad_file_is_one_clear_error_with_line_and_column(text: str, where: str, found: str) -> None:
    with pytest.raises(SetupError) as caught:
        read_breaks(text, "b.csv")
    (fault,) = caught.value.faults
    assert str(fault).startswith(where)
    assert found in fault.found


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("hour,c1_c\n0,20\n", "t.csv:1: time_h"),
        ("time_h\n0\n", "t.csv:1: temperature"),
        ("time_h,c1_c,c2_f\n0,20,68\n", "t.csv:1: c2_f"),
        ("time_h,c1\n0,20\n", "t.csv:1: c1"),
        ("time_h,c1_c\n0,20\n1,200\n", "t.csv:3: c1_c"),
        ("time_h,c1_c\n1,20\n1,20\n", "t.csv:3: time_h"),
        ("time_h,c1_c\n0,20\n2.5,20\n", "t.csv:3: time_h"),
    ],
)
def test_a_bad_record_of_temperatures_is_one_clear_error(text: str, where: str) -> None:
    with pytest.raises(SetupError) as caught:
        read_temperatures(text, "t.csv")
    assert str(caught.value).startswith(where)
    assert len(caught.value.faults) == 1


def test_every_cell_that_is_wrong_is_told_in_the_order_of_the_file() -> None:
    text = "specimen,age_h,strength_mpa\na,x,4 MPa\nb,24,5\n,-1,6\nb,30,nan\nc,1\n"
    with pytest.raises(SetupError) as caught:
        read_breaks(text, "b.csv")
    assert [(fault.line, fault.field) for fault in caught.value.faults] == [
        (2, "age_h"),
        (2, "strength_mpa"),
        (4, "specimen"),
        (4, "age_h"),
        (5, "specimen"),
        (5, "strength_mpa"),
        (6, "row"),
    ]


def test_of_very_many_faults_the_first_twenty_are_told_and_how_many_more_there_are() -> None:
    text = "specimen,age_h,strength_mpa\n" + "".join(f"s{i},12,x\n" for i in range(33))
    with pytest.raises(SetupError) as caught:
        read_breaks(text, "b.csv")
    assert [fault.line for fault in caught.value.faults] == [*range(2, 22), None]
    assert str(caught.value).endswith("b.csv: file: found 13 more faults; allowed: none of them")


def test_every_bad_cell_of_a_record_is_told_and_then_every_hour_that_does_not_follow() -> None:
    for text, lines in (("time_h,c1_c\n0,x\nx,20\n1,200\n", [2, 3, 4]), ("time_h,c1_c\n1,20\n1,20\n9,20\n", [3, 4])):
        with pytest.raises(SetupError) as caught:
            read_temperatures(text, "t.csv")
        assert [fault.line for fault in caught.value.faults] == lines


def test_days_psi_and_a_byte_order_mark_are_read_as_what_they_are() -> None:
    programme = read_breaks("\ufeffspecimen,age_d,strength_psi\na,1.5,1000\n", "b.csv")
    (row,) = programme.rows
    assert row.age_h == 36.0
    assert row.mpa == pytest.approx(psi_to_mpa(1000.0))


def test_hours_need_a_record_or_the_temperature_of_the_laboratory() -> None:
    programme = read_breaks(GOOD, "b.csv")
    for lab_c in (None, float("nan"), -1.0):
        with pytest.raises(SetupError, match="--temperatures"):
            matured(programme, "b.csv", None, lab_c)
    assert [b.equivalent_age_h for b in matured(programme, "b.csv", None, 20.0)] == pytest.approx([12.0, 24.0])


def test_maturity_as_written_is_taken_as_it_is() -> None:
    programme = read_breaks(GOOD.replace("age_h", "equivalent_age_h"), "b.csv")
    assert [b.equivalent_age_h for b in matured(programme, "b.csv", None, None)] == [12.0, 24.0]


def test_the_instrumented_cylinders_mean_ripens_every_cylinder_and_fahrenheit_is_the_same() -> None:
    rows = [(h, 20.0 + 3.0 * np.sin(h / 5.0)) for h in np.arange(0.0, 24.5, 0.5)]
    celsius = "time_h,c1_c,c2_c\n" + "".join(f"{h},{c - 1.0},{c + 1.0}\n" for h, c in rows)
    fahrenheit = "time_h,c1_f\n" + "".join(f"{h},{c * 9 / 5 + 32}\n" for h, c in rows)
    programme = read_breaks(GOOD, "b.csv")
    one = matured(programme, "b.csv", read_temperatures(celsius, "t.csv"), None)
    two = matured(programme, "b.csv", read_temperatures(fahrenheit, "t.csv"), None)
    assert [b.equivalent_age_h for b in one] == pytest.approx([b.equivalent_age_h for b in two])
    assert f_to_c(68.0) == pytest.approx(20.0)


def test_a_cylinder_beyond_its_record_is_refused() -> None:
    record = read_temperatures("time_h,c1_c\n" + "".join(f"{h},20\n" for h in range(14)), "t.csv")
    text = GOOD.replace("a,12", "a,48")
    with pytest.raises(SetupError, match=r"b\.csv:2: age: found 48 h(.|\n)*b\.csv:3: age: found 24 h"):
        matured(read_breaks(text, "b.csv"), "b.csv", record, None)


def test_a_laboratory_is_never_credited_with_less_than_the_site_would_be() -> None:
    celsius = np.linspace(1.0, 50.0, 200)
    untested = default_rate(celsius)
    assert np.all(laboratory_rate(celsius) >= untested)
    for energy in (25_000.0, 41_500.0, 70_000.0):
        for tested_c in ((5.0, 40.0), (20.0, 30.0)):
            site = own_rate(celsius, energy, tested_c, untested)
            assert np.all(laboratory_rate(celsius, energy) >= site)


def test_cylinders_of_a_mix_whose_own_energy_is_higher_ripen_faster_in_a_warm_laboratory() -> None:
    programme = read_breaks(GOOD, "b.csv")
    default, own = (matured(programme, "b.csv", None, 25.0, energy) for energy in (None, 60_000.0))
    ratio = own[0].equivalent_age_h / default[0].equivalent_age_h
    untested = DEFAULT_ACTIVATION_ENERGY + TENTH_PERCENTILE * DEFAULT_ENERGY_SD
    assert untested == pytest.approx(54_316, abs=1)
    assert ratio == pytest.approx(float(arrhenius_rate(np.array([25.0]), 60_000.0 - untested)[0]))
    record = read_temperatures("time_h,c1_c\n" + "".join(f"{h},25\n" for h in range(25)), "t.csv")
    assert matured(programme, "b.csv", record, None, 60_000.0)[0].equivalent_age_h == pytest.approx(
        own[0].equivalent_age_h
    )
