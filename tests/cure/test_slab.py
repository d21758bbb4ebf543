"""The heat model held to closed solutions, a benchmark and a solver of differential equations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from heat_support import (
    CLOSED,
    CONCRETE_J_PER_M3_K,
    CONCRETE_W_PER_M_K,
    MIX,
    column,
    face,
    floats,
    steady,
)
from scipy import integrate, optimize

from cure.maturity import Floats, arrhenius_rate
from cure.slab import Face, Faces, Slab, at_depth_c, cells_of, placed, run

CONDUCTS_WELL = 1e6
ADIABATIC_H = np.array([12.0, 24.0, 48.0, 72.0, 120.0])


def test_a_thermocouple_is_a_lump_and_takes_five_seconds() -> None:
    # Incropera, example 5.1 (from memory): 0.706 mm sphere, h 400 W/m2K, 8500 kg/m3, 400 J/kgK, 25 to 199 of 200 degC
    # in 5.2 s; by the exponential 5.166 s. A sphere has the volume of a plate of D/6 on one face.
    bead = column(0.706e-3 / 6.0, CONDUCTS_WELL, 8500.0 * 400.0)
    history = run(bead, placed(bead, floats(25.0), 1), steady(face(1.0 / 400.0, 200.0), CLOSED), 0.01, 600)
    seconds = np.arange(601) * 0.01
    assert np.interp(199.0, history.temperature_c[:, 0, 0], seconds) == pytest.approx(5.166, rel=1e-3)


@pytest.mark.parametrize(("thickness_m", "hours"), [(0.0635, 1.75), (0.1016, 2.81), (0.1524, 4.21)])
def test_a_bare_slab_as_a_lump_loses_two_thirds_of_its_warmth_in_hours(thickness_m: float, hours: float) -> None:
    # Computed: rho c L / (U_top + U_bottom) with 20 and 3.6 W/m2K.
    plate = column(thickness_m, CONDUCTS_WELL)
    history = run(plate, placed(plate, floats(20.0), 4), steady(face(0.05, 0.0), face(1.0 / 3.6, 0.0)), 60.0, 400)
    reached = np.interp(-20.0 / math.e, -history.temperature_c[:, 0, 0], np.arange(401) / 60.0)
    assert reached == pytest.approx(hours, abs=0.01)


def test_frost_reaches_a_buried_main_as_deep_as_the_book_says() -> None:
    # Incropera, example 5.6 (from memory): soil k 0.52, 2050 kg/m3, 1840 J/kgK; 20 degC, surface at -15 degC for 60 d:
    # 0 degC at 0.68 m; by the error function 0.677 m.
    soil = column(5.0, 0.52, 2050.0 * 1840.0)
    history = run(soil, placed(soil, floats(20.0), 200), steady(face(0.0, -15.0), CLOSED), 6 * 3600.0, 240)
    depth = (np.arange(200) + 0.5) * 0.025
    assert np.interp(0.0, history.temperature_c[-1, :, 0], depth) == pytest.approx(0.677, rel=5e-3)


def test_a_cold_surface_spreads_as_the_error_function() -> None:
    # Half-space of concrete, surface 20 degC colder for an hour. erfc(0.5) = 0.4795001 (computed, and in every table).
    assert math.erfc(0.5) == pytest.approx(0.4795001, abs=1e-7)
    ground = column(0.6)
    history = run(ground, placed(ground, floats(20.0), 240), steady(face(0.0, 0.0), CLOSED), 60.0, 60)
    depth = (np.arange(240) + 0.5) * 0.0025
    spread = 2.0 * math.sqrt(CONCRETE_W_PER_M_K / CONCRETE_J_PER_M3_K * 3600.0)
    exact = [20.0 * math.erf(x / spread) for x in depth]
    assert history.temperature_c[-1, :, 0] == pytest.approx(exact, abs=0.005)
    # The depth at which the argument is 0.5.
    at_half = np.interp(0.5 * spread, depth, history.temperature_c[-1, :, 0])
    assert 1.0 - at_half / 20.0 == pytest.approx(0.4795001, abs=2e-4)


def wall_centre(cells: int, steps: int, fourier: float) -> float:
    """Return theta in the middle of a plane wall of Biot number 1, whose half is of length 1 and its time Fourier's."""
    half = column(1.0, 1.0, 1.0)
    history = run(half, placed(half, floats(1.0), cells), steady(face(1.0, 0.0), CLOSED), fourier / steps, steps)
    last, before = history.temperature_c[-1, [-1, -2], 0]
    # To the plane of symmetry by the parabola.
    return float((9.0 * last - before) / 8.0)


def wall_series(fourier: float) -> float:
    """Return the same by its series: zeta tan zeta = 1, C = 4 sin zeta / (2 zeta + sin 2 zeta)."""
    total = 0.0
    for n in range(12):
        zeta = optimize.brentq(lambda z: z * math.sin(z) - math.cos(z), n * math.pi, (n + 0.5) * math.pi)
        total += 4.0 * math.sin(zeta) / (2.0 * zeta + math.sin(2.0 * zeta)) * math.exp(-(zeta**2) * fourier)
    return total


@pytest.mark.parametrize(("fourier", "theta"), [(0.5, 0.7725264), (1.0, 0.5338594)])
def test_a_plane_wall_cools_by_its_series(fourier: float, theta: float) -> None:
    # Incropera, table 5.1 (from memory): Bi 1, zeta 0.8603, C 1.1191; the values computed from the whole series.
    assert wall_series(fourier) == pytest.approx(theta, abs=1e-7)
    assert wall_centre(40, 400, fourier) == pytest.approx(theta, abs=1e-4)


def test_half_the_cell_is_a_quarter_of_the_error() -> None:
    errors = [wall_centre(cells, 800, 0.5) - wall_series(0.5) for cells in (5, 10, 20)]
    assert abs(errors[0]) < 1.5e-3
    assert errors[0] / errors[1] == pytest.approx(4.0, abs=0.6)
    assert errors[1] / errors[2] == pytest.approx(4.0, abs=0.6)


def swinging(steps: int) -> float:
    """Return the temperature of a hydrating slab after a day in swinging air, in so many steps."""
    slab = column(0.1, hydration=MIX)
    seconds = 86_400.0 / steps

    def faces(i: int, _: Floats) -> tuple[Face, Face]:
        air = 10.0 + 5.0 * math.sin(2.0 * math.pi * (i + 0.5) / steps)
        return face(0.05, air), face(0.29, air)

    return float(run(slab, placed(slab, floats(18.0), 10), faces, seconds, steps).temperature_c[-1, 5, 0])


def test_half_the_step_is_a_quarter_of_the_error_and_ten_minutes_are_enough() -> None:
    exact = swinging(2304)
    errors = [swinging(steps) - exact for steps in (36, 72, 144)]
    assert errors[0] / errors[1] == pytest.approx(4.0, abs=1.0)
    assert errors[1] / errors[2] == pytest.approx(4.0, abs=1.0)
    assert abs(errors[2]) < 0.01


@pytest.mark.parametrize("upside_down", [False, True])
def test_a_bar_heated_at_one_end_meets_the_benchmark(upside_down: bool) -> None:
    # NAFEMS T3 (from memory): 0.1 m, k 35, 7200 kg/m3, 440.5 J/kgK; T(0) = 0, T(L) = 100 sin(pi t / 40), from 0 degC;
    # 36.60 degC at 0.08 m after 32 s. In both directions of depth.
    bar = column(0.1, 35.0, 7200.0 * 440.5)
    cold = face(0.0, 0.0)

    def faces(i: int, _: Floats) -> tuple[Face, Face]:
        hot = face(0.0, 100.0 * math.sin(math.pi * (i + 0.5) * 0.1 / 40.0))
        return (hot, cold) if upside_down else (cold, hot)

    history = run(bar, placed(bar, floats(0.0), 200), faces, 0.1, 320)
    found = at_depth_c(history.temperature_c[-1], 0.2 if upside_down else 0.8)[0]
    assert found == pytest.approx(36.60, abs=0.02)


def test_a_slab_that_loses_nothing_warms_as_a_stiff_solver_says() -> None:
    # 335 kg/m3 of the cement of test_hydration.py, from 20 degC. The digits: computed apart, by another stiff solver of
    # looser tolerance (at 12 h it said 45.971, tight ones say 45.9687).
    def rises(_: float, age: Floats) -> Floats:
        warm = 20.0 + MIX.heat_j_per_m3 / CONCRETE_J_PER_M3_K * MIX.degree(age)
        return arrhenius_rate(warm, MIX.energy_j_per_mol)

    solved = integrate.solve_ivp(rises, (0.0, 120.0), [0.0], "Radau", t_eval=ADIABATIC_H, rtol=1e-9, atol=1e-9)
    exact = 20.0 + MIX.heat_j_per_m3[0] / CONCRETE_J_PER_M3_K * MIX.degree(solved.y[0])
    assert exact == pytest.approx([45.971, 59.511, 65.727, 67.524, 68.899], abs=2.5e-3)
    slab = column(0.1, hydration=MIX)
    history = run(slab, placed(slab, floats(20.0), 8), steady(CLOSED, CLOSED), 600.0, 720)
    found = history.temperature_c[np.rint(ADIABATIC_H * 6).astype(int)]
    assert found[:, :, 0] == pytest.approx(np.repeat(exact[:, None], 8, axis=1), abs=0.02)


def test_all_the_heat_of_a_mix_warms_it_by_what_its_degree_of_hydration_says() -> None:
    # Computed: 485.31 J/g x 335 kg/m3 x 0.742795 / 2.35 MJ/m3K = 51.39 K.
    slab = column(0.1, hydration=MIX)
    history = run(slab, placed(slab, floats(20.0), 8), steady(CLOSED, CLOSED), 48 * 3600.0, 1000)
    assert float(history.temperature_c[-1].max()) - 20.0 == pytest.approx(51.39, abs=0.1)
    whole = MIX.heat_j_per_m3 / CONCRETE_J_PER_M3_K * MIX.degree(history.age_h[-1])
    assert history.temperature_c[-1] == pytest.approx(20.0 + whole, abs=1e-6)


@pytest.mark.parametrize(("share", "c"), [(0.0, 1.0), (0.125, 1.0), (0.25, 1.5), (0.5, 2.5), (0.9, 4.0), (1.0, 4.0)])
def test_between_the_middles_of_cells_the_line_counts_and_beyond_them_the_cell(share: float, c: float) -> None:
    assert at_depth_c(np.array([[1.0], [2.0], [3.0], [4.0]]), share) == pytest.approx([c])
    assert at_depth_c(np.array([[7.0]]), share) == pytest.approx([7.0])


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan])
def test_a_depth_outside_the_slab_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="between 0"):
        at_depth_c(np.zeros((4, 1)), share)


@pytest.mark.parametrize(("mm", "cells"), [(30.0, 8), (63.5, 8), (101.6, 11), (152.4, 16), (400.0, 16)])
def test_a_thin_slab_has_eight_cells_and_a_thick_one_sixteen(mm: float, cells: int) -> None:
    assert cells_of(mm) == cells


@pytest.mark.parametrize("bad", [0.0, -0.1, math.nan, math.inf])
def test_a_slab_or_a_step_that_cannot_be_is_refused(bad: float) -> None:
    slab = column()
    closed: Faces = steady(CLOSED, CLOSED)
    with pytest.raises(ValueError, match="above 0"):
        Slab(floats(0.1, bad), floats(1.9), floats(2.35e6), MIX)
    with pytest.raises(ValueError, match="above 0"):
        column(0.1, conductivity=bad)
    with pytest.raises(ValueError, match="above 0"):
        column(0.1, capacity=bad)
    with pytest.raises(ValueError, match="above 0"):
        run(slab, placed(slab, floats(20.0), 8), closed, bad, 3)
    with pytest.raises(ValueError, match="above 0"):
        cells_of(bad)
