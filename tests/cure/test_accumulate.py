from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest
from cure_support import QUARTER_MS, series
from hypothesis import given
from hypothesis import strategies as st
from store_support import make_calibration

from cure.accumulate import (
    COLD,
    ENERGY_SDS,
    HIGH_ENERGY,
    LOW_ENERGY,
    NOMINAL,
    TEMPERATURE_TIME,
    Air,
    Carried,
    Law,
    Track,
    advance,
)
from cure.maturity import arrhenius_rate, default_rate, maturity
from shared.models.base import HOUR_MS, Ms
from shared.models.readings import Series

LAW: Final = Law.of(None)
T0: Final[Ms] = 1_764_000_000_000
TEMPERATURES = st.lists(st.floats(-10, 45), min_size=2, max_size=40)


def track(temperatures_c: list[float], times_ms: list[Ms] | None = None, air: Series | None = None) -> Track:
    times = [T0 + i * QUARTER_MS for i in range(len(temperatures_c))] if times_ms is None else times_ms
    first = Carried(times[0], round(temperatures_c[0] * 1000) / 1000)
    return advance(
        first,
        series(times[1:], temperatures_c[1:]),
        law=LAW,
        interval_ms=QUARTER_MS,
        air=None if air is None else Air(air),
    )


def air_of(c: float, hours: float = 30.0, hole: tuple[float, float] = (99, 99)) -> Series:
    times = [T0 - HOUR_MS + i * QUARTER_MS for i in range(int(hours * 4) + 8)]
    kept = [t for t in times if not hole[0] <= (t - T0) / HOUR_MS <= hole[1]]
    return series(kept, [c] * len(kept))


def test_it_is_the_maturity_of_the_record() -> None:
    temperatures = [18.0, 17.0, 15.5, 12.0]
    found = track(temperatures).sums[-1]
    assert found[NOMINAL] == maturity(np.array([0.0, 0.25, 0.5, 0.75]), np.array(temperatures), default_rate)[-1]
    assert found[TEMPERATURE_TIME] == pytest.approx(0.25 * (17.5 + 16.25 + 13.75))


@given(TEMPERATURES, st.integers(1, 38))
def test_one_by_one_in_chunks_and_whole_are_bitwise_equal(temperatures_c: list[float], cut: int) -> None:
    times = [T0 + i * QUARTER_MS for i in range(len(temperatures_c))]
    whole = track(temperatures_c, times)
    cut = min(cut, len(times) - 1)
    first = track(temperatures_c[: cut + 1], times[: cut + 1])
    rest = series(times[cut + 1 :], temperatures_c[cut + 1 :])
    second = advance(first.carried(), rest, law=LAW, interval_ms=QUARTER_MS)
    assert second.sums[-1].tolist() == whole.sums[-1].tolist()
    state = Carried(times[0], round(temperatures_c[0] * 1000) / 1000)
    for t, c in zip(times[1:], temperatures_c[1:], strict=True):
        state = advance(state, series([t], [c]), law=LAW, interval_ms=QUARTER_MS).carried()
    assert list(state.sums) == whole.sums[-1].tolist()


@given(TEMPERATURES, st.floats(0, 20))
def test_warmer_is_never_younger_in_any_column(temperatures_c: list[float], by_c: float) -> None:
    cold, warm = track(temperatures_c), track([t + by_c for t in temperatures_c])
    assert bool(np.all(cold.sums[-1] <= warm.sums[-1] + 1e-9))


@given(TEMPERATURES)
def test_every_reading_colder_gives_the_smallest_age_but_for_the_energy(temperatures_c: list[float]) -> None:
    sums = track(temperatures_c).sums[-1]
    assert sums[COLD] <= sums[NOMINAL]
    assert min(sums[LOW_ENERGY], sums[HIGH_ENERGY]) <= sums[NOMINAL] + 1e-9


@pytest.mark.row("E1", "L13")
@pytest.mark.parametrize(
    ("hours", "air_c", "credited"),
    [
        (0.25, None, 16.0),
        (0.375, None, 16.0),
        (0.5, 12.0, 8.0),
        (4.0, 12.0, 8.0),
        (4.0, 30.0, 14.0),
        (4.25, 12.0, None),
    ],
)
def test_a_gap_is_credited_by_its_length(hours: float, air_c: float | None, credited: float | None) -> None:
    end = T0 + round(hours * HOUR_MS)
    found = track([18.0, 14.0], [T0, end], None if air_c is None else air_of(air_c))
    wanted = 0.0 if credited is None else float(default_rate(np.array([credited]))[0]) * hours
    assert float(found.sums[-1][NOMINAL]) == pytest.approx(wanted)
    assert len(found.gaps) == (hours > 0.375)


@pytest.mark.row("E1")
@pytest.mark.parametrize("air", [None, air_of(12.0, hole=(0.9, 2.1)), air_of(12.0, hours=1.0)])
def test_a_gap_without_a_whole_air_record_earns_nothing(air: Series | None) -> None:
    found = track([18.0, 18.0], [T0, T0 + 3 * HOUR_MS], air)
    assert float(found.sums[-1][NOMINAL]) == 0.0
    assert bool(np.isnan(found.low_c[0]))


@pytest.mark.row("E1")
@given(TEMPERATURES, TEMPERATURES, st.floats(0.01, 60.0), st.one_of(st.none(), st.floats(-20, 40)))
def test_a_gap_beyond_the_rule_earns_nothing_whatever_the_temperatures(
    before_c: list[float], after_c: list[float], beyond_h: float, air_c: float | None
) -> None:
    # Beyond four hours; without an air record beyond one and a half intervals.
    first = [T0 + i * QUARTER_MS for i in range(len(before_c))]
    longest_ms = round(1.5 * QUARTER_MS) if air_c is None else 4 * HOUR_MS
    begins = first[-1] + longest_ms + round(beyond_h * HOUR_MS)
    air = None if air_c is None else air_of(air_c, hours=200.0)
    second = [begins + i * QUARTER_MS for i in range(len(after_c))]
    found = track([*before_c, *after_c], [*first, *second], air)
    apart = track(before_c, first).sums[-1] + track(after_c, second).sums[-1]
    np.testing.assert_allclose(found.sums[-1], apart, rtol=1e-12)
    assert [gap.from_ms for gap in found.gaps] == [first[-1]]


@pytest.mark.row("E1")
@given(st.lists(st.floats(1, 40), min_size=12, max_size=40), st.integers(1, 8), st.integers(2, 16), st.floats(-5, 40))
def test_opening_a_gap_never_raises_credit_where_the_slab_is_no_colder_than_the_air_allowance(
    temperatures_c: list[float], start: int, length: int, air_c: float
) -> None:
    temperatures_c = [max(t, air_c - 4.0) for t in temperatures_c]
    times = [T0 + i * QUARTER_MS for i in range(len(temperatures_c))]
    keep = [i for i in range(len(times)) if not start < i < min(start + length, len(times) - 1)]
    whole = track(temperatures_c, times, air_of(air_c))
    holed = track([temperatures_c[i] for i in keep], [times[i] for i in keep], air_of(air_c))
    if holed.gaps:
        assert holed.sums[-1][NOMINAL] <= whole.sums[-1][NOMINAL] + 1e-9


@pytest.mark.row("E12")
@given(TEMPERATURES)
def test_an_hour_never_earns_more_than_an_hour_at_fifty_degrees(temperatures_c: list[float]) -> None:
    hours = (len(temperatures_c) - 1) * 0.25
    fastest = float(default_rate(np.array([50.0]))[0])
    assert track(temperatures_c).sums[-1][NOMINAL] <= hours * fastest + 1e-9


CONTRACT_LAWS: Final[list[dict[str, object]]] = [
    {"kind": "temperature-time", "datum_c": -10.0},
    {"kind": "temperature-time", "datum_c": 0.0},
    {"kind": "arrhenius", "activation_energy_kj_per_mol": 33.5},
    {"kind": "arrhenius", "activation_energy_kj_per_mol": 60.0},
    {"kind": "weighted", "c_value": 1.3},
    {"kind": "two-branch"},
    {"kind": "en1992"},
    {"kind": "sadgrove"},
]
TESTED: Final = {
    "activation_energy_kj_per_mol": 38.0,
    "activation_energy_sd_kj_per_mol": 3.0,
    "activation_energy_from_c": 8.0,
    "activation_energy_to_c": 40.0,
}
FROM_COLD_TO_HOT = np.linspace(-12.0, 60.0, 145)


@pytest.mark.parametrize("law", CONTRACT_LAWS, ids=lambda law: " ".join(map(str, law.values())))
@pytest.mark.parametrize("tested", [{}, TESTED])
def test_a_law_that_the_contract_names_can_only_lower(law: dict[str, object], tested: dict[str, Any]) -> None:
    plain, named = Law.of(make_calibration(**tested)), Law.of(make_calibration(law=law, **tested))
    assert named.contract is not None
    found = named.rates(FROM_COLD_TO_HOT)
    assert np.all(found <= plain.rates(FROM_COLD_TO_HOT))
    assert np.all(found[:, NOMINAL] <= named.contract(FROM_COLD_TO_HOT))
    assert named.rate(np.array([20.0]))[0] == pytest.approx(1.0)


def test_where_the_contracts_law_is_the_lower_it_counts() -> None:
    """ASTM C1074's temperature-time factor above 0 degC gives half an hour at 10 degC, a quarter at 5 degC."""
    law = Law.of(make_calibration(law={"kind": "temperature-time", "datum_c": 0.0}))
    assert law.rate(np.array([10.0, 5.0])).tolist() == pytest.approx([min(0.5, 0.4974), 0.25], abs=1e-4)


def test_what_is_not_a_number_earns_nothing_by_a_contracts_law_either() -> None:
    law = Law.of(make_calibration(law={"kind": "en1992"}))
    assert law.rates(np.array([np.nan, -1.0]))[:, NOMINAL].tolist() == [0.0, 0.0]


def law_of(**tested_c: float) -> Law:
    own = {"activation_energy_kj_per_mol": 36.0, "activation_energy_sd_kj_per_mol": 2.0}
    return Law.of(make_calibration().model_copy(update=own | tested_c))


def test_a_tested_energy_counts_with_its_own_spread_over_its_temperatures_and_beyond_with_the_wider() -> None:
    at = np.array([5.0, 8.0])
    cold, within = law_of(activation_energy_from_c=8.0, activation_energy_to_c=40.0).rates(at)
    assert within[NOMINAL] == arrhenius_rate(at, 36_000.0)[1]
    assert within[HIGH_ENERGY] == arrhenius_rate(at, 36_000.0 + 2_000.0 * ENERGY_SDS)[1]
    assert cold.tolist()[:4] == LAW.rates(at)[0].tolist()[:4]


@pytest.mark.row("E3")
def test_an_energy_without_its_temperatures_was_tested_nowhere() -> None:
    at = np.linspace(0.5, 50.0, 100)
    found = law_of().rates(at)
    assert np.all(found <= LAW.rates(at))
    assert np.all(found[:, NOMINAL] <= arrhenius_rate(at, 36_000.0))


@pytest.mark.parametrize(("covers", "value_c"), [((), 6.0), (((0, 2**62),), 8.0), (((0, T0 + 30 * 60_000),), 6.0)])
def test_a_gap_under_a_cover_may_be_two_degrees_below_the_air_uncovered_four(
    covers: tuple[tuple[Ms, Ms], ...], value_c: float
) -> None:
    later = series([T0 + 2 * HOUR_MS], [18.0])
    found = advance(Carried(T0, 18.0), later, law=LAW, interval_ms=QUARTER_MS, air=Air(air_of(10.0), covers))
    assert [g.credited_c for g in found.gaps] == [value_c]
