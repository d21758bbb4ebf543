"""What holds for any slab in any weather: energy, bounds, columns of their own, warmer air."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from heat_support import CLOSED, INERT, MIX, column, face, floats, picked, steady, unbalanced
from hypothesis import given, settings
from hypothesis import strategies as st

from cure.hydration import Hydration
from cure.maturity import Floats
from cure.slab import Face, Faces, History, Slab, placed, run
from cure.surfaces import Below, Outdoors, Top, bottom_face, top_face

SEED = st.integers(0, 2**32 - 1)
THICKNESS = st.floats(0.05, 0.25)
COVER = st.sampled_from([0.0, 0.35, 2.0])
HOURS = 30
A_STEP_S = 600.0
AN_HOUR = 6


def weather(rng: np.random.Generator, columns: int, steps: int) -> Faces:
    """Return any weather over wet, bare and covered columns, each with its own."""
    air, dry = rng.uniform(-15, 40, (steps, columns)), rng.uniform(5, 100, (steps, columns))
    wind, sun = rng.uniform(0, 15, (steps, columns)), rng.uniform(0, 900, (steps, columns))
    sky, cover = rng.uniform(0, 90, (steps, columns)), rng.choice([0.0, 0.35], columns)
    factor, form = rng.uniform(0.6, 1.6, columns), rng.choice([0.0, 0.165], columns)

    def faces(i: int, top_c: Floats) -> tuple[Face, Face]:
        outdoors = Outdoors(air[i], wind[i], dry[i], sun[i], sky[i])
        top = Top(cover, floats(1.0 if i < steps // 3 else 0.0), factor, floats(0.65), floats(0.9))
        return top_face(outdoors, top, top_c), bottom_face(Below(air[i], form, floats(8.0)))

    return faces


def some_columns(rng: np.random.Generator, columns: int) -> Slab:
    def spread(value: Floats) -> Floats:
        return np.asarray(value * rng.uniform(0.8, 1.2, columns))

    mix = Hydration(*(spread(v) for v in (MIX.heat_j_per_m3, MIX.ultimate, MIX.tau_h, MIX.beta, MIX.energy_j_per_mol)))
    return Slab(rng.uniform(0.05, 0.3, columns), spread(floats(1.9)), spread(floats(2.35e6)), mix)


@settings(deadline=None, max_examples=15)
@given(SEED, st.sampled_from([1.0, 600.0, 7200.0, 864_000.0]))
def test_what_is_stored_is_what_came(seed: int, seconds: float) -> None:
    rng = np.random.default_rng(seed)
    slab = some_columns(rng, 5)
    history = run(slab, placed(slab, rng.uniform(5, 30, 5), 9), weather(rng, 5, 60), seconds, 60, (20, 40))
    assert unbalanced(slab, history.temperature_c, history.flows) < 1e-9
    # All heat is that of the degree of hydration at the end.
    cell = slab.thickness_m / 9
    whole = slab.hydration.heat_j_per_m3 * slab.hydration.degree(history.age_h[-1]).sum(axis=0) * cell
    assert history.flows.made.sum(axis=0) == pytest.approx(whole, rel=1e-9)


@pytest.mark.parametrize("seed", [87, 149])
def test_a_surface_that_swings_beyond_all_vapour_and_hydration_is_accounted_for(seed: int) -> None:
    # In steps of ten days these two came to -237 degC, the pole of the formula of vapour, and to absolute zero.
    rng = np.random.default_rng(seed)
    slab = some_columns(rng, 5)
    history = run(slab, placed(slab, rng.uniform(5, 30, 5), 9), weather(rng, 5, 60), 864_000.0, 60, (20, 40))
    assert float(history.temperature_c.min()) < -200.0
    assert unbalanced(slab, history.temperature_c, history.flows) < 1e-9


@settings(deadline=None, max_examples=10)
@given(SEED, st.sampled_from([600.0, 36_000.0, 8.64e6, 3.15e9]), COVER)
def test_no_length_of_step_makes_it_run_away(seed: int, seconds: float, cover: float) -> None:
    rng = np.random.default_rng(seed)
    slab, start = column(rng.uniform(0.01, 0.5, 4)), rng.uniform(0, 30, 4)
    air = rng.uniform(-20, 40)
    faces = steady(face(0.03 + cover, air), face(0.0, air))
    history = run(slab, placed(slab, start, 10), faces, seconds, 100)
    # Without heat of its own it is never farther from the air than it was.
    assert np.all(np.abs(history.temperature_c - air) <= np.abs(start - air) + 1e-9)


@settings(deadline=None, max_examples=10)
@given(SEED, st.sampled_from([600.0, 3600.0, 21_600.0]))
def test_heat_evaporation_and_sun_do_not_make_it_run_away_either(seed: int, seconds: float) -> None:
    rng = np.random.default_rng(seed)
    slab = some_columns(rng, 6)
    history = run(slab, placed(slab, floats(20.0), 8), weather(rng, 6, 120), seconds, 120)
    rise = float(np.max(slab.hydration.heat_j_per_m3 * slab.hydration.ultimate / slab.capacity_j_per_m3_k))
    # Sun at most 0.65 x 900 W/m2 over a film of 7 W/m2K or more.
    assert np.all(np.isfinite(history.temperature_c))
    assert float(np.abs(history.temperature_c).max()) < 40.0 + 0.65 * 900.0 / 7.0 + rise


@settings(deadline=None, max_examples=10)
@given(SEED)
def test_columns_together_are_columns_one_by_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    slab, start = some_columns(rng, 7), rng.uniform(5, 30, 7)
    together = run(slab, placed(slab, start, 8), weather(np.random.default_rng(seed), 7, 40), A_STEP_S, 40)
    faces = weather(np.random.default_rng(seed), 7, 40)
    for j in range(7):

        def alone(i: int, top_c: Floats, column: int = j) -> tuple[Face, Face]:
            full = faces(i, np.full(7, top_c[0]))
            return (
                Face(full[0].resistance_m2_k_per_w[[column]], full[0].outside_c[[column]]),
                Face(full[1].resistance_m2_k_per_w[[column]], full[1].outside_c[[column]]),
            )

        one = picked(slab, [j])
        single = run(one, placed(one, start[[j]], 8), alone, A_STEP_S, 40)
        assert single.temperature_c[..., 0] == pytest.approx(together.temperature_c[..., j], rel=1e-12, abs=1e-11)
        assert single.age_h[..., 0] == pytest.approx(together.age_h[..., j], rel=1e-12)


@pytest.mark.parametrize("wrong", [math.nan, -0.1])
def test_a_column_whose_outside_is_not_known_is_not_known_and_the_others_are(wrong: float) -> None:
    slab = column(np.array([0.1, 0.1]), hydration=MIX)
    bad = run(slab, placed(slab, floats(20.0), 8), steady(Face(floats(0.05, wrong), floats(5.0)), CLOSED), A_STEP_S, 10)
    well = run(slab, placed(slab, floats(20.0), 8), steady(Face(floats(0.05), floats(5.0)), CLOSED), A_STEP_S, 10)
    assert np.all(np.isnan(bad.temperature_c[-1, :, 1]))
    assert bad.temperature_c[..., 0] == pytest.approx(well.temperature_c[..., 0], rel=1e-12)


def in_air(air_c: Floats, thickness_m: float, cover: float, mix: Hydration) -> History:
    """Return a slab in the air of each hour, the line between."""
    slab = column(thickness_m, hydration=mix)
    at = np.interp((np.arange((len(air_c) - 1) * AN_HOUR) + 0.5) / AN_HOUR, np.arange(len(air_c)), air_c)
    return run(
        slab,
        placed(slab, floats(18.0), 8),
        lambda i, _: (face(0.045 + cover, at[i]), face(0.29, at[i])),
        A_STEP_S,
        len(at),
    )


def airs(seed: int) -> tuple[Floats, Floats]:
    """Return the air of hours, and one that is never colder."""
    rng = np.random.default_rng(seed)
    air = rng.uniform(-5, 30, HOURS)
    return air, air + rng.uniform(0, 10, HOURS) * (rng.random(HOURS) < rng.choice([0.1, 0.5, 1.0]))


@settings(deadline=None, max_examples=20)
@given(SEED, THICKNESS, COVER)
def test_warmer_air_never_gives_a_colder_slab(seed: int, thickness_m: float, cover: float) -> None:
    cold, warm = (in_air(air, thickness_m, cover, INERT) for air in airs(seed))
    assert np.all(warm.temperature_c >= cold.temperature_c - 1e-9)


@settings(deadline=None, max_examples=20)
@given(SEED, THICKNESS, COVER)
def test_warmer_air_never_gives_a_younger_slab(seed: int, thickness_m: float, cover: float) -> None:
    # Its temperature can be lower afterwards: a warm hour spends heat that would have come later.
    cold, warm = (in_air(air, thickness_m, cover, MIX) for air in airs(seed))
    assert np.all(warm.age_h >= cold.age_h - 1e-9)


@settings(deadline=None, max_examples=15)
@given(st.floats(-10.0, 30.0), st.floats(0.0, 10.0), THICKNESS, COVER)
def test_steady_air_that_is_warmer_gives_a_warmer_hydrating_slab(
    air: float, more: float, thickness_m: float, cover: float
) -> None:
    cold, warm = (in_air(np.full(HOURS, c), thickness_m, cover, MIX) for c in (air, air + more))
    assert np.all(warm.temperature_c >= cold.temperature_c - 1e-9)


def test_a_spent_warm_hour_leaves_a_colder_slab_a_day_later() -> None:
    # The reason why the promise for hydrating concrete is one of age.
    cool = np.full(HOURS, 10.0)
    warm = np.where(np.arange(HOURS) < 8, 25.0, cool)
    late = [in_air(air, 0.1, 0.0, MIX).temperature_c[-1, 0, 0] for air in (cool, warm)]
    assert late[1] < late[0] - 0.2


def test_a_jump_that_is_named_does_not_swing() -> None:
    # A cover comes off a warm slab into cold wind, in thin cells and long steps.
    slab = column(0.05)

    def faces(i: int, _: Floats) -> tuple[Face, Face]:
        return (face(2.0, 20.0) if i < 20 else face(0.0, -10.0)), CLOSED

    start = placed(slab, floats(20.0), 16)
    named, silent = (run(slab, start, faces, A_STEP_S, 40, jumps).temperature_c[20:, 0, 0] for jumps in ((20,), ()))
    assert np.all(np.diff(named) <= 1e-9)
    assert float(np.diff(silent).max()) > 0.5


def test_a_pour_without_steps_is_where_it_began() -> None:
    slab = column(0.1, hydration=MIX)
    history = run(slab, placed(slab, floats(20.0), 8), steady(CLOSED, CLOSED), A_STEP_S, 0)
    assert history.temperature_c.tolist() == [[[20.0]] * 8]
    assert history.flows.made.shape == (0, 1)


def test_a_binder_that_gives_more_heat_gives_a_warmer_slab() -> None:
    more = replace(MIX, heat_j_per_m3=MIX.heat_j_per_m3 * 1.1)
    plain, hot = (in_air(np.full(HOURS, 10.0), 0.15, 0.35, mix) for mix in (MIX, more))
    assert np.all(hot.temperature_c[1:] > plain.temperature_c[1:])
