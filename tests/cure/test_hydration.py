from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from heat_support import CEMENT, MIX, floats
from hypothesis import given
from hypothesis import strategies as st

from cure.composition import Binder
from cure.hydration import (
    CLASSES,
    Composition,
    Hydration,
    beta,
    hydration_of,
    tau_h,
    total_heat_j_per_kg,
    ultimate_degree,
)
from cure.maturity import Floats

HALD = tomllib.loads(
    (Path(__file__).parents[1] / "references" / "data" / "regression.toml").read_text(encoding="utf-8")
)["hald"]
J_PER_CAL = 4.184


def test_a_plain_cement_hydrates_as_worked_through_from_the_printed_regressions() -> None:
    # Computed apart from the equations of Schindler and Folliard 2005 (themselves from memory).
    assert total_heat_j_per_kg(CEMENT) == pytest.approx(485_310.0, abs=10.0)
    assert tau_h(CEMENT) == pytest.approx(15.0386, abs=1e-4)
    assert beta(CEMENT) == pytest.approx(0.66873, abs=1e-5)
    assert MIX.energy_j_per_mol[0] == pytest.approx(45_137.0, abs=1.0)
    assert MIX.heat_j_per_m3[0] == pytest.approx(485_310.0 * 335.0, rel=1e-4)


@pytest.mark.parametrize(("water", "degree"), [(0.40, 0.69428), (0.45, 0.72042), (0.50, 0.742795), (0.55, 0.76216)])
def test_more_water_lets_more_of_it_hydrate(water: float, degree: float) -> None:
    # Computed apart: 1.031 w / (0.194 + w).
    assert ultimate_degree(water, CEMENT.binder) == pytest.approx(degree, abs=1e-5)


def hald_cement(percent: list[float]) -> Composition:
    c3a, c3s, c4af, c2s = (p / 100.0 for p in percent)
    return Composition(Binder(c3a, c4af, 370.0), c3s=c3s, c2s=c2s, so3=0.0, free_cao=0.0, mgo=0.0)


def test_the_heats_of_thirteen_cements_bear_the_coefficients_out() -> None:
    # Heat at 180 d (Woods, Steinour and Starke 1932; read, see the file) by the heat of whole hydration. Computed: mean
    # 0.919, standard deviation 0.043, correlation 0.987; no published value.
    measured = np.array(HALD["y"]) * J_PER_CAL
    told = np.array([total_heat_j_per_kg(hald_cement(row)) for row in HALD["x"]]) / 1000.0
    ratio = measured / told
    assert ratio.mean() == pytest.approx(0.919, abs=0.002)
    assert ratio.std(ddof=1) == pytest.approx(0.043, abs=0.002)
    assert np.corrcoef(measured, told)[0, 1] == pytest.approx(0.987, abs=0.002)


def with_binder(of: Composition, **parts: float) -> Composition:
    return replace(of, binder=replace(of.binder, **parts))


def test_slag_and_fly_ash_bring_their_own_heat_and_slow_it() -> None:
    # By hand from the equations: Hcem of CEMENT is 485.31 J/g.
    slag, ash = with_binder(CEMENT, slag=0.4), with_binder(CEMENT, fly_ash=0.2, fly_ash_cao=0.1)
    assert total_heat_j_per_kg(slag) == pytest.approx(1000.0 * (485.31 * 0.6 + 461.0 * 0.4), rel=1e-4)
    assert total_heat_j_per_kg(ash) == pytest.approx(1000.0 * (485.31 * 0.8 + 1800.0 * 0.2 * 0.1), rel=1e-4)
    assert tau_h(slag) == pytest.approx(15.0386 * math.exp(2.187 * 0.4), rel=1e-4)
    assert tau_h(ash) == pytest.approx(15.0386 * math.exp(9.50 * 0.02), rel=1e-4)
    assert beta(slag) == pytest.approx(0.66873 * math.exp(-0.647 * 0.4), rel=1e-4)
    assert ultimate_degree(0.5, slag.binder) == pytest.approx(0.742795 + 0.12, abs=1e-5)
    assert ultimate_degree(0.5, with_binder(CEMENT, fly_ash=0.6).binder) == 1.0


@pytest.mark.parametrize("name", CLASSES)
def test_every_class_of_cement_hydrates_within_what_cements_do(name: str) -> None:
    # Heat of whole hydration 420 to 520 J/g, tau 8 to 25 h, beta 0.45 to 0.85, energy 38 to 55 kJ/mol (our judgement).
    found = hydration_of(CLASSES[name], 335.0, 0.5)
    assert 420e3 < found.heat_j_per_m3[0] / 335.0 < 520e3
    assert 8.0 < found.tau_h[0] < 25.0
    assert 0.45 < found.beta[0] < 0.85
    assert 38e3 < found.energy_j_per_mol[0] < 55e3


def test_the_class_of_high_early_strength_is_the_fastest_and_sulfate_resisting_the_slowest() -> None:
    day = {name: hydration_of(of, 335.0, 0.5).degree(floats(24.0))[0] for name, of in CLASSES.items()}
    assert max(day, key=day.__getitem__) == "III"
    assert min(day, key=day.__getitem__) == "V"


AGE = st.floats(0.0, 1e5)


@given(AGE, st.floats(0.0, 1e4))
def test_the_degree_of_hydration_grows_from_nothing_to_its_end(age: float, more: float) -> None:
    young, old = (MIX.degree(floats(h))[0] for h in (age, age + more))
    assert 0.0 <= young <= old <= MIX.ultimate[0]


def test_nothing_has_hydrated_at_no_age_and_what_is_not_known_stays_so() -> None:
    assert MIX.degree(floats(0.0, -1.0, 1e-9)).tolist() == [0.0, 0.0, 0.0]
    assert math.isnan(MIX.degree(floats(math.nan))[0])


@given(st.floats(1.0, 500.0))
def test_at_tau_an_eth_of_its_end_has_hydrated(tau: float) -> None:
    mix = replace(MIX, tau_h=floats(tau))
    assert mix.degree(floats(tau))[0] == pytest.approx(MIX.ultimate[0] / math.e)


def test_an_hour_at_twenty_is_an_hour_and_a_warmer_one_more_by_the_mixs_own_energy() -> None:
    # Computed: exp(45137.5 / 8.314 (1/293.15 - 1/303.15)) = 1.8421.
    ages: Floats = MIX.older_h(floats(5.0, 5.0), floats(20.0, 30.0), 1.0)
    assert ages == pytest.approx([6.0, 5.0 + math.exp(45_137.5 / 8.314 * (1 / 293.15 - 1 / 303.15))], rel=1e-6)
    assert ages[1] - 5.0 == pytest.approx(1.842, abs=1e-3)


@pytest.mark.parametrize(
    "changes", [{"c3s": 0.0}, {"c3s": 1.2}, {"so3": 0.0}, {"so3": math.nan}, {"c2s": -0.1}, {"mgo": math.nan},
                {"free_cao": 2.0}],
)  # fmt: skip
def test_a_cement_that_cannot_be_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="fractions"):
        hydration_of(replace(CEMENT, **changes), 335.0, 0.5)


@pytest.mark.parametrize("parts", [{"c3a": 0.0}, {"c4af": 0.0}, {"slag": 1.0}, {"blaine_m2_per_kg": math.nan}])
def test_a_binder_that_cannot_be_is_refused(parts: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="fractions"):
        hydration_of(with_binder(CEMENT, **parts), 335.0, 0.5)


@pytest.mark.parametrize(("binder", "water"), [(0.0, 0.5), (math.nan, 0.5), (335.0, 0.0), (335.0, math.inf)])
def test_a_mix_without_binder_or_water_is_refused(binder: float, water: float) -> None:
    with pytest.raises(ValueError, match="some binder"):
        hydration_of(CEMENT, binder, water)


@pytest.mark.parametrize("field", ["heat_j_per_m3", "ultimate", "tau_h", "beta", "energy_j_per_mol"])
@pytest.mark.parametrize("bad", [-1.0, math.nan])
def test_no_member_hydrates_by_what_is_no_number_or_below_zero(field: str, bad: float) -> None:
    with pytest.raises(ValueError, match="heat is not below 0"):
        replace(MIX, **{field: floats(1.0, bad)})


def test_heat_may_be_none() -> None:
    assert Hydration(floats(0.0), floats(1.0), floats(1.0), floats(1.0), floats(1.0)).degree(floats(0.0))[0] == 0.0
