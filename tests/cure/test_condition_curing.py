from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, Profile, make_case, recorded
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import EDGE, make_pour

from cure.condition_curing import curing
from cure.condition_seen import Given, Observed, observed
from cure.condition_table import Kept, Row
from cure.curing import CURING
from cure.limits import Weight
from shared.models.base import HOUR_MS
from shared.models.readings import Series


def cured(
    profile: Profile | float,
    hours: float,
    *,
    now_h: float | None = None,
    pause: tuple[float, float] = (0, 0),
    **of: Any,
) -> Observed:
    """Return a pour whose sensors were read each quarter of the first hours."""
    whole = recorded(profile, hours, from_h=-1, but=pause)
    now = hours if now_h is None else now_h
    readings: dict[Any, Series] = dict.fromkeys(CONCRETE, whole)
    elapsed = None if of.get("pour") == make_pour() else round(now * HOUR_MS)
    return observed(make_case(**of), readings, [], END_MS + round(now * HOUR_MS), elapsed_ms=elapsed)


def rows(o: Observed, ratio: float | None = None) -> list[Row]:
    return list(curing(o, Given(strength_ratio=ratio)))


def of(found: Sequence[Row], name: str) -> Row:
    (row,) = [r for r in found if r.quantity == f"curing, {name}"]
    return row


def test_seven_days_by_aci_308_are_reached_after_168_hours_at_ten_degrees() -> None:
    # ACI 308.1 (from memory): 7 d at 10 degC and above; 3 d of high early strength.
    found = rows(cured(10.0, 169))
    row = of(found, "ACI 308")
    assert (row.kept, row.reached_ms, row.expected_ms) == (Kept.KEPT, END_MS + 168 * HOUR_MS, None)
    assert row.found == "100 % done, 169.0 h (7 d) counted, reached Mon 01 Dec 13:00 UTC-0400"
    assert of(found, "ACI 308, high early strength").reached_ms == END_MS + 72 * HOUR_MS


def test_what_is_not_reached_says_when_it_will_be_at_the_present_temperature() -> None:
    row = of(rows(cured(10.0, 42)), "ACI 308")
    assert (row.kept, row.expected_ms, row.value) == (Kept.NOT_YET, END_MS + 168 * HOUR_MS, 0.25)
    assert row.found == (
        "25 % done, 42.0 h (1.7 d) counted; if it stays at 10.0 °C (50.0 °F): Mon 01 Dec 13:00 UTC-0400"
    )
    assert row.weight is Weight.RULE


@pytest.mark.parametrize(
    ("name", "c", "ratio", "days"),
    [
        # EN 13670, table F.3 (from memory) and DIN 1045-3 (read in a secondary copy), as in test_curing.py.
        ("EN 13670, class 3", 15.0, 0.4, 4.0), ("EN 13670, class 3", 5.0, 0.15, 18.0),
        ("EN 13670, class 2", 12.0, 0.35, 4.0), ("EN 13670, class 4", 8.0, 0.6, 9.0),
        ("DIN 1045-3", 26.0, 0.6, 1.0), ("DIN 1045-3", 12.0, 0.2, 7.0), ("DIN 1045-3", 5.0, None, 15.0),
    ],
)  # fmt: skip
def test_each_class_is_reached_after_the_days_of_its_table(
    name: str, c: float, ratio: float | None, days: float
) -> None:
    row = of(rows(cured(c, 6), ratio), name)
    assert row.expected_ms is not None
    assert (row.expected_ms - END_MS) / HOUR_MS == pytest.approx(24.0 * days, abs=0.001)
    assert f"{days:g} d" in row.limit


def test_an_hour_below_five_degrees_is_not_counted_and_lengthens_the_curing() -> None:
    # DIN 1045-3 (read in a secondary copy), rapid at 12 degC: 2 d.
    row = of(rows(cured(lambda h: 3.0 if 12 < h < 22 else 12.0, 46), ratio=0.5), "DIN 1045-3")
    assert row.found.startswith("75 % done, 36.0 h (1.5 d) counted")
    assert row.expected_ms is not None
    assert (row.expected_ms - END_MS) / HOUR_MS == pytest.approx(58.0)


def test_in_the_cold_no_hour_counts_and_none_is_expected() -> None:
    row = of(rows(cured(lambda h: 12.0 if h <= 24 else 9.9, 48)), "ACI 308")
    assert row.expected_ms is None
    assert row.found == "14 % done, 24.0 h (1 d) counted; at the present 9.9 °C (49.8 °F) no hour counts"


@pytest.mark.row("E3")
def test_silence_and_holes_count_for_nothing_and_no_hour_is_named() -> None:
    silent = of(rows(cured(20.0, 24, now_h=30)), "ACI 308")
    assert (silent.kept, silent.expected_ms) == (Kept.NOT_YET, None)
    assert silent.found == "14 % done, 24.0 h (1 d) counted; when is not known: no sensor is alive"
    holed = of(rows(cured(20.0, 24, pause=(6, 12))), "ACI 308")
    assert holed.found.startswith("10 % done, 18.0 h (0.7 d) counted")


@pytest.mark.row("E3")
def test_without_an_end_or_without_readings_nothing_is_known() -> None:
    for o, why in ((cured(20.0, 24, pour=make_pour()), "the end of the pour is not entered"), (
        observed(make_case(), {EDGE: recorded(20.0, 3)}, [], END_MS + 3 * HOUR_MS, elapsed_ms=3 * HOUR_MS),
        "a required sensor has no credit yet",
    )):  # fmt: skip
        found = [of(rows(o), name) for name in CURING]
        assert {(r.found, r.kept, r.value) for r in found} == {(f"not known: {why}", Kept.NOT_KNOWN, None)}


def test_no_hour_counts_that_the_checked_clock_has_not_seen_pass() -> None:
    readings: dict[Any, Series] = dict.fromkeys(CONCRETE, recorded(20.0, 24, from_h=-1))
    o = observed(make_case(), readings, [], END_MS + 24 * HOUR_MS, elapsed_ms=10 * HOUR_MS)
    assert of(rows(o), "ACI 308").found.startswith("5 % done, 10.0 h (0.4 d) counted")


def test_a_concrete_slower_than_a_rule_knows_is_given_no_days() -> None:
    found = rows(cured(20.0, 24), ratio=0.1)
    assert of(found, "EN 13670, class 2").limit == "no days given for so slow a concrete"
    assert of(found, "EN 13670, class 2").found.startswith("0 % done, 0.0 h (0 d) counted")
    assert "from 15.0 °C (59.0 °F) 5 d" in of(found, "DIN 1045-3").limit


def test_curing_ends_by_strength_at_seventy_per_cent_of_the_specified() -> None:
    # ACI 308.1 and ACI 318, 26.5.3 (from memory).
    mix = make_case().mix.model_copy(update={"specified_mpa": 20.0})
    young, grown = rows(cured(20.0, 24, mix=mix))[-1], rows(cured(20.0, 120, mix=mix))[-1]
    assert young.limit == "at least 14.0 MPa (2031 psi)"
    assert (young.kept, grown.kept) == (Kept.NOT_YET, Kept.KEPT)
    assert "specified_mpa of mix c32-f is not set" in rows(cured(20.0, 24))[-1].found


def ends_ms(row: Row) -> float:
    """Return when a rule is reached, or will be."""
    at_ms = row.reached_ms if row.kept is Kept.KEPT else row.expected_ms
    return np.inf if at_ms is None else at_ms


@settings(max_examples=25)
@given(st.sampled_from(sorted(CURING)), st.floats(0, 29), st.integers(5, 60), st.sampled_from([None, 0.2, 0.6]))
def test_the_warmer_and_the_longer_the_sooner_it_is_reached(
    name: str, c: float, hours: int, ratio: float | None
) -> None:
    cold, warm = (of(rows(cured(t, hours), ratio), name) for t in (c, c + 5.0))
    assert cold.value is not None
    assert warm.value is not None
    assert warm.value >= cold.value
    assert ends_ms(warm) <= ends_ms(cold)
