"""Columns, faces and binders for tests of the heat model."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from cure.composition import Binder
from cure.hydration import Composition, Hydration, hydration_of
from cure.maturity import Floats
from cure.slab import Face, Faces, Flows, Slab

CEMENT: Final = Composition(Binder(0.10, 0.07, 370.0), c3s=0.57, c2s=0.16, so3=0.029, free_cao=0.01, mgo=0.015)
"""A plain cement, invented."""
MIX: Final = hydration_of(CEMENT, 335.0, 0.5)
INERT: Final = Hydration(
    np.array([0.0]), np.array([0.5]), np.array([10.0]), np.array([1.0]), np.array([40_000.0])
)  # gives off nothing
CONCRETE_W_PER_M_K: Final = 1.9
CONCRETE_J_PER_M3_K: Final = 2.35e6


def floats(*values: float) -> Floats:
    return np.array(values, np.float64)


def column(
    thickness_m: Floats | float = 0.1,
    conductivity: float = CONCRETE_W_PER_M_K,
    capacity: float = CONCRETE_J_PER_M3_K,
    hydration: Hydration = INERT,
) -> Slab:
    """Return columns, as many as thicknesses, of one material."""
    thickness = np.atleast_1d(np.asarray(thickness_m, np.float64))
    return Slab(thickness, np.full_like(thickness, conductivity), np.full_like(thickness, capacity), hydration)


def face(resistance: float, outside_c: float) -> Face:
    return Face(floats(resistance), floats(outside_c))


CLOSED: Final = face(np.inf, 0.0)
"""No heat passes."""


def steady(top: Face, bottom: Face) -> Faces:
    """Return faces that stay."""
    return lambda _, __: (top, bottom)


def unbalanced(slab: Slab, temperature_c: Floats, flows: Flows) -> float:
    """Return the largest difference of heat stored and heat that came, by all the heat that moved."""
    cell = slab.thickness_m / temperature_c.shape[1]
    stored = slab.capacity_j_per_m3_k * cell * (temperature_c[-1] - temperature_c[0]).sum(axis=0)
    parts = (flows.made, flows.top_in, flows.bottom_in)
    came = sum(part.sum(axis=0) for part in parts)
    moved = sum(np.abs(part).sum(axis=0) for part in parts)
    return float(np.max(np.abs(stored - came) / np.maximum(moved, 1.0)))


def picked(slab: Slab, columns: Sequence[int]) -> Slab:
    """Return some of the columns."""
    h = slab.hydration

    def some(values: Floats) -> Floats:
        return np.broadcast_to(values, slab.thickness_m.shape)[list(columns)]

    hydration = Hydration(
        some(h.heat_j_per_m3), some(h.ultimate), some(h.tau_h), some(h.beta), some(h.energy_j_per_mol)
    )
    return Slab(some(slab.thickness_m), some(slab.conductivity_w_per_m_k), some(slab.capacity_j_per_m3_k), hydration)
