"""What is not known of a pour, drawn for the members of its ensemble: slab, surfaces, weather, strength. Pure.

Every draw hangs on the pour's name alone, so that the same pour draws the same, today and in a replay.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Final

import numpy as np

from cure.forecast import MEMBERS, Slabwork, Source
from cure.hydration import Hydration
from cure.maturity import Floats
from cure.slab import Slab
from cure.surfaces import CAPACITY_J_PER_M3_K, CONDUCTIVITY_W_PER_M_K
from shared.models.base import PourId

PARAMETERS: Final[dict[str, Source]] = {
    "placing": Source.HEAT_MODEL,
    "film": Source.HEAT_MODEL,
    "below": Source.HEAT_MODEL,
    "conductivity": Source.HEAT_MODEL,
    "cover": Source.HEAT_MODEL,
    "below air": Source.HEAT_MODEL,
    "air here": Source.HEAT_MODEL,
    "sun here": Source.HEAT_MODEL,
    "heat": Source.MIX,
    "tau": Source.MIX,
    "air ahead": Source.WEATHER,
    "wind ahead": Source.WEATHER,
    "batch": Source.MIX,
    "age": Source.MIX,
    "curve 1": Source.MIX,
    "curve 2": Source.MIX,
    "curve 3": Source.MIX,
}
"""Those that all points of a pour share, in the order of their rows, and to what their spread is put down."""
SHARED: Final = tuple(PARAMETERS)
LEARNED: Final = SHARED[: SHARED.index("air ahead")]
"""Of which a temperature can tell; of the others a member keeps what it has drawn."""
PER_POINT: Final = ("bias", "edge")
EDGE_SHARE: Final = 0.10
"""By which an exposed side lies between the column and the air: the middle of what is drawn (our judgement)."""
EDGE_LN_SD: Final = 0.5
STEADINESS: Final = 0.93
"""Of the error of the air from an hour to the next, as its correlation (our judgement)."""
LN_WIND: Final = 0.25
LN_SUN: Final = 0.30
"""Both our judgement, as what bays and their surroundings differ by."""


def rng_of(pour: PourId, what: str) -> np.random.Generator:
    """Return the pour's own random numbers for one purpose."""
    digest = hashlib.sha256(f"{what}|{pour}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


def drawn(pour: PourId, points: int, members: int = MEMBERS) -> Floats:
    """Return standard scores, each row with mean 0 and standard deviation 1, shape (parameters, members).

    Rows: `SHARED`, then `PER_POINT` of each point.
    """
    scores = rng_of(pour, "parameters").standard_normal((len(SHARED) + len(PER_POINT) * points, members))
    scores -= scores.mean(axis=1, keepdims=True)
    return np.asarray(scores / scores.std(axis=1, keepdims=True))


def shared(scores: Floats, name: str) -> Floats:
    """Return the row of a parameter that all points share, shape (members,)."""
    return np.asarray(scores[SHARED.index(name)])


def learned_rows(points: int) -> list[int]:
    """Return the rows that readings change."""
    return [*(SHARED.index(name) for name in LEARNED), *range(len(SHARED), len(SHARED) + len(PER_POINT) * points)]


def of_point(scores: Floats, point: int, name: str) -> Floats:
    """Return the row of a parameter of one point, shape (members,)."""
    return np.asarray(scores[len(SHARED) + len(PER_POINT) * point + PER_POINT.index(name)])


def bias_c(work: Slabwork, scores: Floats, point: int) -> Floats:
    """Return by how much a sensor reads above its concrete, shape (members,). [K]"""
    return work.spread.widened * work.spread.sensor_c * of_point(scores, point, "bias")


def edge_share(work: Slabwork, scores: Floats, point: int) -> Floats:
    """Return by which share a point lies between the column and the air, shape (members,) ; 0 away from a side."""
    if not work.points[point].edge:
        return np.zeros(scores.shape[1])
    return np.minimum(0.5, EDGE_SHARE * np.exp(EDGE_LN_SD * of_point(scores, point, "edge")))


def placing_c(work: Slabwork, scores: Floats) -> Floats:
    """Return the temperature of the concrete as placed, shape (members,). [degC]"""
    spread = work.spread
    return np.clip(work.placing_c + spread.widened * spread.placing_c * shared(scores, "placing"), 0.0, 45.0)


def factor(work: Slabwork, scores: Floats, name: str, ln_sd: float) -> Floats:
    """Return a factor around 1, shape (members,)."""
    return np.asarray(np.exp(work.spread.widened * ln_sd * shared(scores, name)))


def slab_of(works: Sequence[Slabwork], scores: Sequence[Floats]) -> Slab:
    """Return the columns of several pours side by side, each member its own."""
    parts = [_columns(work, of) for work, of in zip(works, scores, strict=True)]
    thickness, conductivity, heat, ultimate, tau, beta, energy = (np.concatenate(p) for p in zip(*parts, strict=True))
    capacity = np.full_like(thickness, CAPACITY_J_PER_M3_K)
    return Slab(thickness, conductivity, capacity, Hydration(heat, ultimate, tau, beta, energy))


def _columns(work: Slabwork, scores: Floats) -> tuple[Floats, ...]:
    spread, mix, n = work.spread, work.hydration, scores.shape[1]
    return (
        np.full(n, work.thickness_mm / 1000.0),
        CONDUCTIVITY_W_PER_M_K * factor(work, scores, "conductivity", spread.ln_conductivity),
        mix.heat_j_per_m3 * factor(work, scores, "heat", spread.ln_heat),
        np.broadcast_to(mix.ultimate, n),
        mix.tau_h * factor(work, scores, "tau", spread.ln_tau),
        np.broadcast_to(mix.beta, n),
        np.broadcast_to(mix.energy_j_per_mol, n),
    )


def air_noise(work: Slabwork, hours: int, members: int) -> Floats:
    """Return the wandering part of the error of the air at each hour from the placing on, of spread 1.

    Shape (hours, members). Longer ones begin with the shorter ones.
    """
    steps = rng_of(work.pour, "air").standard_normal((hours, members))
    noise = np.empty_like(steps)
    noise[0] = steps[0]
    for i in range(1, hours):
        noise[i] = STEADINESS * noise[i - 1] + np.sqrt(1.0 - STEADINESS**2) * steps[i]
    return noise
