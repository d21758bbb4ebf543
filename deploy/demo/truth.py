"""The virtual slabs of the demo: what their temperature and strength really are, which no estimate is shown.

Apart from `cure` on purpose, in code, form and parameters: an estimate must not be tested against itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from deploy.demo.scenario import CLOSE_MS, FIRST_MS, SLABS, Slab, Spot
from deploy.demo.weather import Weather, weather
from shared.models.base import HOUR_MS, MINUTE_MS, BayId, Ms

Array = NDArray[np.float64]

STEP_MS: Final = 5 * MINUTE_MS
CELLS: Final = 10

_GAS_J_PER_MOL_K: Final = 8.314
_KELVIN: Final = 273.15
_ACTIVATION_J_PER_MOL: Final = 45_000.0
_HEAT_CAPACITY_J_PER_M3_K: Final = 2.35e6
_CONDUCTIVITY_W_PER_M_K: Final = 1.9
_CEMENT_KG_PER_M3: Final = 360.0
_HEAT_J_PER_KG: Final = 470e3
_HYDRATION_END: Final = 0.74
_HYDRATION_TAU_H: Final = 13.5
_HYDRATION_BETA: Final = 0.75
_PLYWOOD_M2_K_PER_W: Final = 0.165
_STILL_AIR_W_PER_M2_K: Final = 8.0
_RADIATION_W_PER_M2_K: Final = 4.6
_SUN_TAKEN: Final = 0.6

_STRENGTH_END_MPA: Final = 41.0
_STRENGTH_RATE_PER_H: Final = 0.026
_STRENGTH_FROM_H: Final = 6.0

_SIDE_W_PER_M3_K: Final[Mapping[Spot, float]] = {
    Spot.INTERIOR: 0.0,
    Spot.END: 4.0,
    Spot.EDGE: 22.0,
    Spot.RIM: 45.0,
}
"""Loss through the slab's side, spread over the column: a film of some 6 W/m2K at 0.3 m gives 20."""


def rate(temperature_c: Array) -> Array:
    """Return hours at 20 degC for an hour at the temperature (Arrhenius, 45 kJ/mol); 0 at or below 0 degC.

    Source: Freiesleben Hansen and Pedersen 1977, the form; the activation energy is this invented mix's own.
    """
    kelvin = temperature_c + _KELVIN
    grown = np.exp(-_ACTIVATION_J_PER_MOL / _GAS_J_PER_MOL_K * (1.0 / kelvin - 1.0 / (20.0 + _KELVIN)))
    return np.where(temperature_c > 0.0, grown, 0.0)


def hydration(age_h: Array) -> Array:
    """Return the degree of hydration at an age of hours at 20 degC: `a = au exp(-(tau/t)^beta)`.

    Source: Schindler and Folliard, ACI Materials Journal 102(1), 2005, eq. 3; parameters of an invented cement.
    """
    safe = np.maximum(age_h, 1e-6)
    return np.asarray(_HYDRATION_END * np.exp(-((_HYDRATION_TAU_H / safe) ** _HYDRATION_BETA)))


def strength_mpa(age_h: Array) -> Array:
    """Return the true strength at an age of hours at 20 degC: `S = Su k (t - t0) / (1 + k (t - t0))`, 0 before t0.

    Source: Carino, Cement, Concrete and Aggregates 6(2), 1984, the form; parameters of the invented mix.
    """
    grown = _STRENGTH_RATE_PER_H * np.maximum(age_h - _STRENGTH_FROM_H, 0.0)
    return _STRENGTH_END_MPA * grown / (1.0 + grown)


@dataclass(frozen=True, slots=True)
class History:
    """What came out of the virtual slabs, step by step. Columns: every slab's spots, in the order of `Spot`."""

    at_ms: NDArray[np.int64]
    temperature_c: Array
    """Shape (steps, columns, cells), top first; the air's before the column is placed. [degC]"""
    age_h: Array
    """Hours at 20 degC, same shape. [h]"""
    stored_j_per_m2: Array
    """Change of the heat in a column in each step, shape (steps, columns). [J/m2]"""
    heat_j_per_m2: Array
    """Heat of hydration in each step. [J/m2]"""
    lost_j_per_m2: Array
    """Heat given to the air and the sky in each step. [J/m2]"""


@dataclass(frozen=True, slots=True)
class _Columns:
    """All columns of all slabs side by side, shape (columns,)."""

    placed_ms: NDArray[np.int64]
    placed_c: Array
    cell_m: Array
    side_w_per_m3_k: Array

    @classmethod
    def of(cls, slabs: Sequence[Slab]) -> _Columns:
        pairs = [(slab, spot) for slab in slabs for spot in Spot]
        return cls(
            np.array([slab.placed_ms[spot] for slab, spot in pairs], dtype=np.int64),
            np.array([slab.placed_c for slab, _ in pairs]),
            np.array([slab.thickness_mm / 1000.0 / CELLS for slab, _ in pairs]),
            np.array([_SIDE_W_PER_M3_K[spot] for _, spot in pairs]),
        )

    @property
    def capacity_j_per_m2_k(self) -> Array:
        """Of one cell."""
        return _HEAT_CAPACITY_J_PER_M3_K * self.cell_m


def _outside(columns: _Columns, now: Weather, cover_m2_k_per_w: Array, below_c: Array) -> tuple[Array, Array]:
    """Return each cell's conductance to the outside [W/m2K] and that times the outside's temperature [W/m2]."""
    half = columns.cell_m / 2.0 / _CONDUCTIVITY_W_PER_M_K
    film = 5.6 + 3.95 * now.wind_m_per_s + _RADIATION_W_PER_M2_K
    top = 1.0 / (1.0 / film + cover_m2_k_per_w + half)
    bottom = 1.0 / (1.0 / _STILL_AIR_W_PER_M2_K + _PLYWOOD_M2_K_PER_W + half)
    sky_c = now.air_c + (_SUN_TAKEN * now.sun_w_per_m2 - now.sky_loss_w_per_m2) / film
    conductance = np.repeat((columns.side_w_per_m3_k * columns.cell_m)[:, None], CELLS, axis=1)
    pull = conductance * now.air_c
    conductance[:, 0] += top
    pull[:, 0] += top * sky_c
    conductance[:, -1] += bottom
    pull[:, -1] += bottom * below_c
    return conductance, pull


def _step(
    columns: _Columns, old_c: Array, old_h: Array, now: Weather, cover_m2_k_per_w: Array, below_c: Array
) -> tuple[Array, Array, Array, Array]:
    """Return temperature and age after a step (backward Euler, two Picard passes), heat made and heat lost."""
    seconds = STEP_MS / 1000.0
    store = columns.capacity_j_per_m2_k / seconds
    inner = _CONDUCTIVITY_W_PER_M_K / columns.cell_m
    conductance, pull = _outside(columns, now, cover_m2_k_per_w, below_c)
    matrix = np.zeros((len(store), CELLS, CELLS))
    i = np.arange(CELLS)
    matrix[:, i, i] = store[:, None] + conductance + 2.0 * inner[:, None]
    matrix[:, (0, -1), (0, -1)] -= inner[:, None]
    matrix[:, i[:-1], i[1:]] = matrix[:, i[1:], i[:-1]] = -inner[:, None]
    new_c, new_h, heat = old_c, old_h, np.zeros_like(old_c)
    for _ in range(2):
        new_h = old_h + rate((old_c + new_c) / 2.0) * STEP_MS / HOUR_MS
        grown = hydration(new_h) - hydration(old_h)
        heat = _HEAT_J_PER_KG * _CEMENT_KG_PER_M3 * grown * columns.cell_m[:, None]
        wanted = store[:, None] * old_c + pull + heat / seconds
        new_c = np.asarray(np.linalg.solve(matrix, wanted[:, :, None])[:, :, 0], dtype=np.float64)
    lost = (conductance * new_c - pull).sum(axis=1) * seconds
    return new_c, new_h, heat.sum(axis=1), lost


def simulate(slabs: Sequence[Slab], start: Ms, end: Ms, sky: Callable[[Ms], Weather] = weather) -> History:
    """Return the history of the slabs from `start` to `end`, a row every five minutes.

    A column that is placed within a step has its placing temperature at the step's end.
    """
    columns = _Columns.of(slabs)
    at = np.arange(start, end + 1, STEP_MS, dtype=np.int64)
    temperature = np.empty((len(at), len(columns.placed_ms), CELLS))
    age = np.zeros_like(temperature)
    stored, heat, lost = (np.zeros(temperature.shape[:2]) for _ in range(3))
    temperature[0] = np.where(columns.placed_ms <= start, columns.placed_c, sky(start).air_c)[:, None]
    for i in range(1, len(at)):
        now, there = sky(int(at[i])), columns.placed_ms <= at[i - 1]
        cover = np.repeat([s.cover_at(int(at[i])) for s in slabs], len(Spot))
        below = np.repeat([s.below_at(int(at[i]), now.air_c) for s in slabs], len(Spot))
        new_c, new_h, made, given = _step(columns, temperature[i - 1], age[i - 1], now, cover, below)
        fresh = np.where(columns.placed_ms <= at[i], columns.placed_c, now.air_c)
        temperature[i] = np.where(there[:, None], new_c, fresh[:, None])
        age[i] = np.where(there[:, None], new_h, 0.0)
        grown = (new_c - temperature[i - 1]).sum(axis=1) * columns.capacity_j_per_m2_k
        stored[i], heat[i], lost[i] = (np.where(there, flow, 0.0) for flow in (grown, made, given))
    return History(at, temperature, age, stored, heat, lost)


class Truth:
    """Questions about a history."""

    def __init__(self, slabs: Sequence[Slab], history: History) -> None:
        self._history = history
        self._slabs = {slab.bay: slab for slab in slabs}
        self._first = {slab.bay: i * len(Spot) for i, slab in enumerate(slabs)}
        self._coldest_c = {bay: history.temperature_c[:, self._all(bay)].min(axis=(1, 2)) for bay in self._slabs}
        self._youngest_h = {bay: history.age_h[:, self._all(bay)].min(axis=(1, 2)) for bay in self._slabs}

    def _all(self, bay: BayId) -> slice:
        return slice(self._first[bay], self._first[bay] + len(Spot))

    def temperature_c(self, bay: BayId, spot: Spot, depth_mm: float, at: Ms) -> float:
        """Return the temperature at a depth below the top; the air's before the spot is placed. [degC]"""
        middles = (np.arange(CELLS) + 0.5) * self._slabs[bay].thickness_mm / CELLS
        column = self._history.temperature_c[:, self._first[bay] + list(Spot).index(spot)]
        step = min(max((at - int(self._history.at_ms[0])) / STEP_MS, 0.0), len(column) - 1.0)
        below = min(int(step), len(column) - 2)
        earlier, later = (float(np.interp(depth_mm, middles, column[i])) for i in (below, below + 1))
        return earlier + (later - earlier) * (step - below)

    def coldest_c(self, bay: BayId, at: Ms) -> float:
        """Return the temperature of the slab's coldest cell. [degC]"""
        return float(np.interp(at, self._history.at_ms, self._coldest_c[bay]))

    def true_strength_mpa(self, bay: BayId, at: Ms) -> float:
        """Return the true strength of the slab's weakest cell, which is at the rim. [MPa]"""
        age_h = np.interp(at, self._history.at_ms, self._youngest_h[bay])
        return float(strength_mpa(np.array([age_h]))[0])


@cache
def truth() -> Truth:
    """Return the demo's virtual slabs; worked out once."""
    return Truth(SLABS, simulate(SLABS, FIRST_MS, CLOSE_MS))


def true_strength_mpa(bay: BayId, at: Ms) -> float:
    """Return the true strength of a bay of the demo at its weakest point. [MPa]"""
    return truth().true_strength_mpa(bay, at)
