"""The heat model held to an independent library for partial differential equations, on a whole case.

Finite elements of second order by scikit-fem (T. Gustafsson, G. D. McBain, Journal of Open Source Software 5(52), 2020,
from memory), denser towards both faces; in time by an implicit solver with steps of its own (SciPy, LSODA). All
equations are written out again here, the evaporation not made linear. Hourly air of an open record; wind, sun and clear
sky that change; evaporation, a cover laid and taken off, forms taken off.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from heat_support import CONCRETE_J_PER_M3_K, CONCRETE_W_PER_M_K, MIX, column, floats
from scipy import integrate
from skfem import Basis, ElementLineP2, MeshLine
from skfem.models import laplace, mass

from cure.maturity import Floats
from cure.slab import Face, at_depth_c, cells_of, placed, run
from cure.surfaces import Below, Outdoors, Top, bottom_face, clear_sky_w_per_m2, swinbank_sky_c, top_face
from shared.units import f_to_c

JFK: Final = Path(__file__).parents[1] / "references" / "data" / "jfk_january_2013.csv"
HOURS: Final = 48
WET_H, COVER_ON_H, COVER_OFF_H, FORMS_OFF_H = 3.0, 4.0, 20.0, 36.0
COVER_R, FORMS_R, FILM_BELOW = 0.35, 0.165, 8.0
WARMER_C: Final = 4.0
"""Added to the record, so that it crosses zero and back."""
ELEMENTS: Final = 6


def hourly_air_c() -> Floats:
    """Return the air of three days in January, read (the source stands in the file)."""
    with JFK.open(encoding="utf-8") as file:
        rows = [row for row in csv.reader(file) if not row[0].startswith("#")]
    return np.array([f_to_c(float(f)) for row in rows[:3] for f in row[1:]]) + WARMER_C


@dataclass(frozen=True)
class Sky:
    """What is outside at an hour, between hours by the line."""

    air: Floats

    def air_c(self, hour: float) -> float:
        """Return the air."""
        return float(np.interp(hour, np.arange(len(self.air)), self.air))

    def wind(self, hour: float) -> float:
        """Return a wind of 0.5 to 6.5 m/s: across the bend of the film. [m/s]"""
        return 3.5 + 3.0 * float(np.sin(hour / 4.0))

    def sun(self, hour: float) -> float:
        """Return the sun of a short day, from 10 h after the pour on. [W/m2]"""
        return max(0.0, 300.0 * float(np.sin(2.0 * np.pi * (hour - 10.0) / 24.0)))


@cache
def by_elements(thickness_m: float) -> Callable[[float], Floats]:
    """Return the temperature at a share of the depth, at each hour, from a solver that shares no code."""
    sky, at_h, placing_c = Sky(hourly_air_c()), np.arange(1.0, HOURS + 1.0), 18.0
    mesh = MeshLine(thickness_m * 0.5 * (1.0 - np.cos(np.pi * np.arange(ELEMENTS + 1) / ELEMENTS)))
    basis = Basis(mesh, ElementLineP2())
    spread = np.linalg.inv(mass.assemble(basis).toarray())
    conducts = spread @ laplace.assemble(basis).toarray() * CONCRETE_W_PER_M_K
    top, bottom = int(np.argmin(basis.doflocs[0])), int(np.argmax(basis.doflocs[0]))
    heat, alpha_u = float(MIX.heat_j_per_m3[0]), float(MIX.ultimate[0])
    tau, beta, energy = float(MIX.tau_h[0]), float(MIX.beta[0]), float(MIX.energy_j_per_mol[0])

    def vapour(c: float) -> float:
        return float(0.61 * np.exp(17.3 * c / (237.3 + c)))

    def into_top(hour: float, c: float) -> float:
        air, wind = sky.air_c(hour), sky.wind(hour)
        convection = 6.2 + 4.3 * wind if wind <= 5.0 else max(6.2 + 4.3 * 5.0, 7.6 * wind**0.78)
        film = convection + 4.0 * 0.9 * 5.670374419e-8 * (air + 273.15) ** 3
        kelvin = air + 273.15
        gain = 0.65 * sky.sun(hour) - 0.9 * 5.670374419e-8 * (kelvin**4 - (0.0552 * kelvin**1.5) ** 4)
        covered = COVER_R if COVER_ON_H <= hour < COVER_OFF_H else 0.0
        if hour < WET_H:
            gain -= max(0.0, vapour(c) - 0.6 * vapour(air)) * 0.315 * (0.253 + 0.060 * 3.6 * wind) * 2.45e6 / 3600.0
        return float((air + gain / film - c) / (1.0 / film + covered))

    def into_bottom(hour: float, c: float) -> float:
        forms = FORMS_R if hour < FORMS_OFF_H else 0.0
        return (sky.air_c(hour) - c) / (1.0 / FILM_BELOW + forms)

    def rises(hour: float, y: Floats) -> Floats:
        c, age = y[: basis.N], np.maximum(y[basis.N :], 1e-9)
        rate = np.exp(-energy / 8.314 * (1.0 / (c + 273.15) - 1.0 / 293.15))
        power = heat * alpha_u * np.exp(-((tau / age) ** beta)) * (tau / age) ** beta * beta / age * rate / 3600.0
        into = spread[:, top] * into_top(hour, c[top]) + spread[:, bottom] * into_bottom(hour, c[bottom])
        return np.concatenate((3600.0 * (into - conducts @ c + power) / CONCRETE_J_PER_M3_K, rate))

    y = np.concatenate((np.full(basis.N, placing_c), np.zeros(basis.N)))
    found = np.empty((len(at_h), basis.N))
    # Piece by piece between the jumps, which no solver should have to find.
    ends = [0.0, WET_H, COVER_ON_H, COVER_OFF_H, FORMS_OFF_H, HOURS + 0.01]
    for first, last in pairwise(ends):
        inside = (at_h >= first) & (at_h < last)
        wanted = np.append(at_h[inside], last - 1e-9)
        solved = integrate.solve_ivp(
            rises, (first, last - 1e-9), y, "LSODA", t_eval=wanted, rtol=1e-5, atol=1e-5,
        )  # fmt: skip
        assert solved.success, solved.message
        found[inside], y = solved.y[: basis.N, :-1].T, solved.y[:, -1]
    return lambda share: np.asarray(found @ basis.probes(np.array([[share * thickness_m]])).toarray()[0])


def by_cells(sky: Sky, thickness_m: float, step_s: float) -> Floats:
    """Return the temperature of cells at each hour by the product's model."""
    slab = column(thickness_m, hydration=MIX)

    def faces(i: int, top_c: Floats) -> tuple[Face, Face]:
        hour = (i + 0.5) * step_s / 3600.0
        air = floats(sky.air_c(hour))
        loss = clear_sky_w_per_m2(air, swinbank_sky_c(air))
        outdoors = Outdoors(air, floats(sky.wind(hour)), floats(60.0), floats(sky.sun(hour)), loss)
        cover = COVER_R if COVER_ON_H <= hour < COVER_OFF_H else 0.0
        top = Top(floats(cover), floats(float(hour < WET_H)), floats(1.0), floats(0.65), floats(0.9))
        below = Below(air, floats(FORMS_R if hour < FORMS_OFF_H else 0.0), floats(FILM_BELOW))
        return top_face(outdoors, top, top_c), bottom_face(below)

    every = round(3600 / step_s)
    steps = round(HOURS * 3600 / step_s)
    jumps = [round(h * 3600 / step_s) for h in (WET_H, COVER_ON_H, COVER_OFF_H, FORMS_OFF_H)]
    start = placed(slab, floats(18.0), cells_of(1000.0 * thickness_m))
    return run(slab, start, faces, step_s, steps, jumps).temperature_c[every::every]


# A thin slab in a cold wind loses 5 degC an hour: most of what is off are the damped first steps (backward Euler).
@pytest.mark.parametrize(
    ("thickness_m", "step_s", "within_c"), [(0.100, 600.0, 0.1), (0.0635, 600.0, 0.1), (0.0635, 150.0, 0.025)]
)
def test_a_whole_case_with_hydration_and_changing_air_is_that_of_an_independent_solver(
    thickness_m: float, step_s: float, within_c: float
) -> None:
    sky, apart = Sky(hourly_air_c()), by_elements(thickness_m)
    ours = by_cells(sky, thickness_m, step_s)
    # Near the top, the middle, and near the forms; not outside the middles of the outer cells, where no value stands.
    off = [np.abs(at_depth_c(ours, share)[:, 0] - apart(share)) for share in (0.2, 0.35, 0.5, 0.65, 0.8)]
    assert float(np.max(off)) < within_c
    # The case is one that moves: warmed by its binder, chilled when the cover goes, with air at both sides of zero.
    assert sky.air.min() < 0.0 < sky.air.max() - 3.0
    assert float(ours.max() - ours.min()) > 10.0
