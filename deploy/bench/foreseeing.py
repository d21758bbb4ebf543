"""What a forecast with its assimilation costs a pour, batched, and the plain loop over members beside it.

`python -m deploy.bench.foreseeing [--pours 10 100] [--data-h 18] [--json]`
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np

from cure.assimilate import begun
from cure.ensemble import simulate
from cure.forecast import HORIZON_H, MEMBERS, Ensemble, Slabwork
from cure.foresee import Asked, foresee
from cure.plans import PLANS
from cure.slab import State
from deploy.bench.truths import truths
from deploy.bench.twin import CURVE, HYDRATION, MIX, MPAS, calibration, earned_of, pour_of
from shared.models.base import HOUR_MS

LOOPED: Final = 3
"""Members that the plain loop runs, one by one; the rest would take as long each."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds a pour of one core: what others do on it does not count."""

    pours: int
    data_h: int
    members: int
    horizon_h: int
    each_s: float
    looped_s: float
    """A pour's members through the heat model alone, one after the other: without assimilation."""

    @property
    def slower(self) -> float:
        """By how much the plain loop is slower."""
        return self.looped_s / self.each_s


def asked_of(pours: int, data_h: int, seed: int = 1) -> list[Asked]:
    """Return what is asked for pours in a real winter, each with so many hours of readings."""
    heat = float(HYDRATION.heat_j_per_m3[0] * HYDRATION.ultimate[0])
    rng = np.random.default_rng(seed)
    true = truths(rng, pours, CURVE, heat, MPAS)
    works = [pour_of(true, i, data_h, rng) for i in range(pours)]
    plan = PLANS["common-practice"]
    now_ms = data_h * HOUR_MS
    return [Asked(w, earned_of(w, data_h), plan, calibration(), MIX, now_ms) for w in works]


def looped_s(work: Slabwork, members: int) -> float:
    """Return the seconds that a pour's members take one by one through the horizon."""
    whole = begun(work, members)
    began = time.process_time()
    for i in range(LOOPED):
        state = State(whole.state.temperature_c[:, [i]], whole.state.age_h[:, [i]])
        simulate([work], [Ensemble(whole.through_ms, whole.drawn[:, [i]], state)], [2 * HORIZON_H])
    return (time.process_time() - began) / LOOPED * members


def cost(pours: int, data_h: int = 18) -> Cost:
    """Return what a forecast costs a pour when so many are made at once."""
    asked = asked_of(pours, data_h)
    began = time.process_time()
    foresee(asked)
    each = (time.process_time() - began) / pours
    return Cost(pours, data_h, MEMBERS, HORIZON_H, each, looped_s(asked[0].work, MEMBERS))


def lines(costs: Sequence[Cost]) -> list[str]:
    """Return the costs as text."""
    return [
        f"{c.pours} pours, {c.data_h} h of data, {c.members} members, {c.horizon_h} h ahead: {c.each_s:.3f} s a pour; "
        f"members one by one {c.looped_s:.1f} s, {c.slower:.0f} times as long"
        for c in costs
    ]


def main() -> None:
    """Print the costs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pours", type=int, nargs="+", default=[10, 100])
    parser.add_argument("--data-h", type=int, default=18)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    costs = [cost(pours, asked.data_h) for pours in asked.pours]
    print(json.dumps([asdict(c) for c in costs]) if asked.json else "\n".join(lines(costs)))


if __name__ == "__main__":
    main()
