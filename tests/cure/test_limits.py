from __future__ import annotations

import math
import re

import pytest

from cure.limits import LIMITS, Weight, by_thickness
from cure.plans import COMMON_C, STRIP_MPA
from shared.units import c_to_f, psi_to_mpa


@pytest.mark.parametrize("name", LIMITS)
def test_every_limit_says_where_it_stands_and_no_rule_is_our_own_opinion(name: str) -> None:
    limit = LIMITS[name]
    assert len(limit.source) >= len("our judgement")
    if limit.weight is Weight.RULE:
        assert re.search(r"\b(ACI 30[15]|ACI 306\.1|EN 13670|DIN)", limit.source)
        assert re.search(r"\((from memory|read)|read in", limit.source)


@pytest.mark.row("E3")
@pytest.mark.parametrize("name", LIMITS)
def test_a_limit_is_kept_at_its_value_and_not_beyond_nor_by_what_is_no_number(name: str) -> None:
    limit = LIMITS[name]
    beyond = -0.001 if limit.at_least else 0.001
    assert limit.kept(limit.value)
    assert not limit.kept(limit.value + beyond)
    assert not limit.kept(math.nan)


@pytest.mark.parametrize(
    ("name", "degrees_f"),
    [
        ("kept in the cold, below 300 mm", 55.0),
        ("kept in the cold, 300 to 900 mm", 50.0),
        ("mean of a cold day", 40.0),
        ("warm half of a cold day", 50.0),
        ("as delivered", 95.0),
    ],
)
def test_temperatures_printed_in_fahrenheit_are_within_half_a_degree_celsius(name: str, degrees_f: float) -> None:
    # 5 degC for 40 degF (4.4 degC) is the stricter, and the widest apart.
    assert c_to_f(LIMITS[name].value) == pytest.approx(degrees_f, abs=1.01)


@pytest.mark.parametrize(
    ("thickness_mm", "drop_c", "kept_c"), [(100, 28, 13), (300, 22, 10), (900, 17, 7), (2000, 11, 5)]
)
def test_the_thicker_the_section_the_slower_it_may_cool_and_the_colder_it_may_be_kept(
    thickness_mm: float, drop_c: float, kept_c: float
) -> None:
    # ACI 306R: 50, 40, 30, 20 degF in 24 h (the last three from memory); 55, 50, 45, 40 degF (read).
    assert by_thickness("drop in 24 h", thickness_mm).value == drop_c
    assert by_thickness("kept in the cold", thickness_mm).value == kept_c


@pytest.mark.row("E3")
def test_a_thickness_that_is_no_number_gets_the_stricter_limit() -> None:
    assert by_thickness("drop in 24 h", math.nan).value == 11.0
    assert by_thickness("kept in the cold", math.nan).value == 13.0


def test_what_may_freeze_once_is_what_may_be_stripped_and_no_weaker_than_500_psi() -> None:
    assert LIMITS["strength before freezing"].value == STRIP_MPA >= psi_to_mpa(500.0)
    assert LIMITS["mean of a cold day"].value == COMMON_C
