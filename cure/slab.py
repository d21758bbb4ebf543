"""Temperature through the depth of a curing slab: heat conduction in one dimension by finite volumes. Pure.

Columns, one for each member of an ensemble of each pour, lie side by side and do not know of each other. What is above
and below them is the caller's (`cure.surfaces`). For planning and forecast; no release rests on it.

Source of the scheme: R. Rannacher, "Finite element solution of diffusion problems with irregular data", Numerische
Mathematik 43, 1984 (from memory): Crank-Nicolson, begun by backward Euler in half steps. The heat of freezing water is
left out. Checks: tests/cure/test_slab.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from cure.hydration import Hydration
from cure.maturity import Floats

HOUR_S: Final = 3600.0
PASSES: Final = 2
"""Each solves for temperature with the heat of the one before."""
DAMPED_STEPS: Final = 2
"""After the start and after each jump, ..."""
DAMPED_PARTS: Final = 4
"""... each as so many steps of backward Euler: a thin slab in a cold wind loses 5 degC in its first hour."""
_BACKWARD, _MIDDLE = 1.0, 0.5
_FEWEST, _MOST, _THINNEST_MM = 8, 16, 10.0


@dataclass(frozen=True, slots=True)
class Slab:
    """The columns; fields of shape (columns,)."""

    thickness_m: Floats
    conductivity_w_per_m_k: Floats
    capacity_j_per_m3_k: Floats
    """Density times specific heat."""
    hydration: Hydration

    def __post_init__(self) -> None:
        for value in (self.thickness_m, self.conductivity_w_per_m_k, self.capacity_j_per_m3_k):
            if not np.all((value > 0.0) & np.isfinite(value)):
                raise ValueError("thickness, conductivity and capacity are numbers above 0")


@dataclass(frozen=True, slots=True)
class Face:
    """What lies beyond the top or the bottom of each column, shape (columns,) or (1,)."""

    resistance_m2_k_per_w: Floats
    """From the concrete's surface outward; 0: the surface has the temperature, infinite: no heat passes."""
    outside_c: Floats
    """With sun, sky and evaporation in it."""


@dataclass(frozen=True, slots=True)
class State:
    """Where the columns stand, shape (cells, columns), top first."""

    temperature_c: Floats
    age_h: Floats
    """Of hydration: hours at 20 degC by the activation energy of the heat, which is not that of the strength."""
    degree: Floats | None = None
    """Of hydration at that age, where a step has worked it out."""


@dataclass(frozen=True, slots=True)
class Flows:
    """Heat of each column in a step, shape (columns,), or of each step, shape (steps, columns). [J/m2]"""

    made: Floats
    """By hydration."""
    top_in: Floats
    bottom_in: Floats


@dataclass(frozen=True, slots=True)
class History:
    """What came out, from the start on: shape (steps + 1, cells, columns), and the heat of each step."""

    temperature_c: Floats
    age_h: Floats
    flows: Flows


Faces: TypeAlias = Callable[[int, Floats], tuple[Face, Face]]
"""Number of a step, temperature of the top cells at its begin, shape (columns,) -> above and below, at its middle."""


def cells_of(thickness_mm: float) -> int:
    """Return how many cells a slab wants: of 10 mm, from 8 to 16 (our judgement; the error is told by a test)."""
    if not 0.0 < thickness_mm < math.inf:
        raise ValueError("a slab has a thickness above 0")
    return min(_MOST, max(_FEWEST, math.ceil(thickness_mm / _THINNEST_MM)))


def placed(slab: Slab, temperature_c: Floats, cells: int) -> State:
    """Return columns just placed, at temperatures of shape (columns,) or (1,). [degC]"""
    shape = (cells, len(slab.thickness_m))
    return State(np.array(np.broadcast_to(temperature_c, shape), np.float64), np.zeros(shape))


def at_depth_c(temperature_c: Floats, share: float) -> Floats:
    """Return the temperature at a depth; between the middles of cells by the line, beyond the last by its cell.

    Args:
        temperature_c: shape (..., cells, columns). [degC]
        share: depth by thickness, 0 top to 1 bottom.
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError("a depth lies between 0, the top, and 1, the bottom")
    cells = temperature_c.shape[-2]
    place = min(max(share * cells - 0.5, 0.0), cells - 1.0)
    above = min(int(place), max(cells - 2, 0))
    part = place - above
    below = min(above + 1, cells - 1)
    return np.asarray((1.0 - part) * temperature_c[..., above, :] + part * temperature_c[..., below, :])


@dataclass(frozen=True, slots=True)
class _Factors:
    """A symmetric tridiagonal matrix a column, one value beside the diagonal, eliminated downward (Thomas)."""

    beside: Floats
    pivots: Floats
    ratios: Floats

    @classmethod
    def of(cls, diagonal: Floats, beside: Floats) -> _Factors:
        pivots, ratios = np.empty_like(diagonal), np.empty_like(diagonal)
        pivots[0] = diagonal[0]
        for i in range(1, len(diagonal)):
            ratios[i] = beside / pivots[i - 1]
            pivots[i] = diagonal[i] - ratios[i] * beside
        return cls(beside, pivots, ratios)

    def solved(self, right: Floats) -> Floats:
        found = np.empty_like(right)
        found[0] = right[0]
        for i in range(1, len(right)):
            found[i] = right[i] - self.ratios[i] * found[i - 1]
        found[-1] /= self.pivots[-1]
        for i in range(len(right) - 2, -1, -1):
            found[i] = (found[i] - self.beside * found[i + 1]) / self.pivots[i]
        return found


def _conductance(face: Face, half_cell: Floats) -> Floats:
    """From the middle of the outer cell to what is outside; NaN of a resistance below 0. [W/m2K]"""
    out = face.resistance_m2_k_per_w
    return 1.0 / (np.where(out >= 0.0, out, np.nan) + half_cell)


def _inward(c: Floats, between: Floats, outer: tuple[Floats, Floats]) -> Floats:
    """Return what flows into each cell from its neighbours and, to 0 degC, from outside, shape (cells, columns)."""
    down = between * (c[:-1] - c[1:])
    found = np.zeros_like(c)
    found[:-1] -= down
    found[1:] += down
    found[0] -= outer[0] * c[0]
    found[-1] -= outer[1] * c[-1]
    return found


def step(
    slab: Slab, old: State, faces: tuple[Face, Face], seconds: float, weight: float, passes: int = PASSES
) -> tuple[State, Flows]:
    """Return the columns after a step and the heat that moved in it; what is stored is the sum of the heats.

    rho c dx (T' - T)/dt = k/dx (differences to the neighbours) + H (alpha' - alpha) dx/dt, the differences of
    w T' + (1 - w) T. The heat is that of the age which is handed on, so that none is lost between steps.

    Args:
        slab: the columns.
        old: where they stand.
        faces: above and below, in the middle of the step.
        seconds: length of the step. [s]
        weight: w, 1 backward Euler, 0.5 Crank-Nicolson.
        passes: how often it solves for temperature.
    """
    cell = slab.thickness_m / len(old.temperature_c)
    between = slab.conductivity_w_per_m_k / cell
    top, bottom = (_conductance(face, cell / 2.0 / slab.conductivity_w_per_m_k) for face in faces)
    store = slab.capacity_j_per_m3_k * cell / seconds
    diagonal = np.tile(store + 2.0 * weight * between, (len(old.temperature_c), 1))
    diagonal[0] += weight * (top - between)
    diagonal[-1] += weight * (bottom - between)
    factors = _Factors.of(diagonal, -weight * between)
    known = store * old.temperature_c + (1.0 - weight) * _inward(old.temperature_c, between, (top, bottom))
    known[0] += top * faces[0].outside_c
    known[-1] += bottom * faces[1].outside_c
    begun = slab.hydration.degree(old.age_h) if old.degree is None else old.degree
    new_c, new_h, grown, made = old.temperature_c, old.age_h, begun, np.zeros_like(known)
    for _ in range(passes):
        new_h = slab.hydration.older_h(old.age_h, 0.5 * (old.temperature_c + new_c), seconds / HOUR_S)
        grown = slab.hydration.degree(new_h)
        made = slab.hydration.heat_j_per_m3 * (grown - begun) * cell
        new_c = factors.solved(known + made / seconds)
    mean = weight * new_c + (1.0 - weight) * old.temperature_c
    return State(new_c, new_h, grown), Flows(
        made.sum(axis=0),
        top * (faces[0].outside_c - mean[0]) * seconds,
        bottom * (faces[1].outside_c - mean[-1]) * seconds,
    )


def _damped(slab: Slab, old: State, faces: tuple[Face, Face], seconds: float) -> tuple[State, Flows]:
    state, flows = old, list[Flows]()
    for _ in range(DAMPED_PARTS):
        state, part = step(slab, state, faces, seconds / DAMPED_PARTS, _BACKWARD)
        flows.append(part)
    made, top_in, bottom_in = (
        np.sum(of, axis=0) for of in zip(*((f.made, f.top_in, f.bottom_in) for f in flows), strict=True)
    )
    return state, Flows(made, top_in, bottom_in)


def run(slab: Slab, start: State, faces: Faces, seconds: float, steps: int, jumps: Collection[int] = ()) -> History:
    """Return the history of the columns.

    Stable at any length of step, and second order in it and in the cell. No such scheme is monotone at any step: where
    the outside jumps from one step to the next, the outer cells swing a little unless `jumps` names the step.

    Args:
        slab: the columns.
        start: where they stand.
        faces: what is above and below them in each step.
        seconds: length of a step; 600 is enough (our judgement, the error is told by a test). [s]
        steps: how many.
        jumps: numbers of the steps from whose begin on the outside is another: a cover, a form, a heater.
    """
    if not (0.0 < seconds < math.inf and steps >= 0):
        raise ValueError("a step has a length above 0")
    damped = {first + i for first in (0, *jumps) for i in range(DAMPED_STEPS)}
    temperature, age = (np.empty((steps + 1, *start.temperature_c.shape)) for _ in range(2))
    made, top_in, bottom_in = (np.empty((steps, start.temperature_c.shape[1])) for _ in range(3))
    state, temperature[0], age[0] = start, start.temperature_c, start.age_h
    for i in range(steps):
        outside = faces(i, state.temperature_c[0])
        if i in damped:
            state, flows = _damped(slab, state, outside, seconds)
        else:
            state, flows = step(slab, state, outside, seconds, _MIDDLE)
        temperature[i + 1], age[i + 1] = state.temperature_c, state.age_h
        made[i], top_in[i], bottom_in[i] = flows.made, flows.top_in, flows.bottom_in
    return History(temperature, age, Flows(made, top_in, bottom_in))
