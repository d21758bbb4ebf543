"""Simulated thin slabs, -5 to 30 degC, covered and not: how often honest sensors are flagged, how soon faulty ones."""

from __future__ import annotations

from functools import cache
from typing import Final

import pytest
from scale import SCALE

from cure.seen import Cause
from deploy.bench.flags import DAYS, FAULTS, Flags, flags_of, lines

POURS: Final = max(20, round(20 * SCALE))
"""The benchmark judges 300: `FAULT_SCALE=15`."""
IN_PLACE: Final = (Cause.IN_AIR, Cause.UNSEEN, Cause.STUCK, Cause.SPIKE, Cause.LATE, Cause.EARLY, Cause.EXCHANGED)


@cache
def flags() -> Flags:
    return flags_of(POURS)


@pytest.mark.row("L2", "L5", "L7", "L15")
def test_honest_sensors_are_flagged_on_at_most_one_of_a_hundred_days() -> None:
    assert flags().sensor_days == POURS * 4 * DAYS
    assert flags().share_wrong(*IN_PLACE) <= 0.01
    assert flags().share_wrong() <= 0.01


@pytest.mark.row("L5")
def test_a_logger_in_the_air_is_found_within_twelve_hours_and_never_has_more_than_two_to_its_credit() -> None:
    assert len(flags().found_h["lies in air"]) == POURS
    assert flags().share_found("lies in air", 12.0) >= 0.95
    assert max(flags().credited_h) <= 2.0


@pytest.mark.row("L2", "L7", "L16")
@pytest.mark.parametrize(
    ("fault", "within_h", "least"),
    [("spike", 12.0, 0.95), ("other unit", 12.0, 0.95), ("swapped", 24.0, 0.9), ("stuck", 72.0, 0.5)],
)
def test_other_faults_are_found_as_often_as_the_weather_lets_them(fault: str, within_h: float, least: float) -> None:
    # A stuck value is told only while the air moves by more than 3 degC, and never below 3 degC.
    assert flags().share_found(fault, within_h) >= least


def test_the_table_names_every_fault() -> None:
    text = "\n".join(lines(flags()))
    assert f"{POURS} pours" in text
    assert [name for name in FAULTS if name not in text] == []
