"""Later cylinders of delivered concrete held against the curve that its mix is judged by. Pure.

It acts at once where concrete is weaker than the curve, and never raises anything. Verifying within 10 % is the usual
rule of road authorities (from memory: Tex-426-A; check against the document); the other limits are our judgement.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from cure.batch import Batch
from cure.requirements import ONE_SET_MS
from cure.strength import CURVES
from shared.models.base import Ms, PourId
from shared.models.calibration import Calibration
from shared.models.decisions import MixTest

CYLINDERS: Final = 2
"""Fewer are no set: one cylinder may have been a bad one."""
TOO_LOW: Final = 0.85
"""A set below it suspends the calibration..."""
LOW: Final = 0.90
"""... and so do two sets on end below this."""
APPLIED: Final = 0.95
"""A set below it lowers what the curve says by its own ratio."""
TOO_HIGH: Final = 1.15
"""A set above it asks whether this is the mix."""
SLACK: Final = 0.025
"""Of the running sum: half of the shift that it is to find."""
DRIFT: Final = -0.10
"""Below it the running sum says that the mix drifts (our judgement)."""


@dataclass(frozen=True, slots=True)
class BreakSet:
    """Cylinders of one pour, broken together."""

    pour: PourId
    tested_ms: Ms
    cylinders: int
    ratio: float
    """Mean of strength over curve, each at its own equivalent age."""
    spread: float
    """Largest of these ratios less the smallest, of their mean."""


@dataclass(frozen=True, slots=True)
class Verified:
    """What the sets make of a calibration."""

    sets: tuple[BreakSet, ...] = ()
    ratio: float = 1.0
    """By which the curve is lowered; never above 1."""
    suspended: str | None = None
    """Why nothing is judged by it any more; it stays so until there is a new version."""
    own: Batch = field(default_factory=Batch)
    """What the pour's own cylinders say of its batch; `cure.counted` says it."""

    @property
    def questioned(self) -> bool:
        """Whether the newest set is so strong that it may be another mix."""
        return bool(self.sets) and self.sets[-1].ratio > TOO_HIGH


def break_sets(calibration: Calibration, tests: Iterable[MixTest]) -> tuple[BreakSet, ...]:
    """Return the sets among cylinders, in the order of testing; one outside the tested range says nothing."""
    curve, p = CURVES[calibration.curve], calibration.parameters
    open_sets: list[list[MixTest]] = []
    within = [m for m in tests if calibration.tested_from_h <= m.equivalent_age_h <= calibration.tested_to_h]
    for m in sorted(within, key=lambda m: (m.tested_ms, m.pour)):
        same = (s for s in open_sets if s[0].pour == m.pour and m.tested_ms - s[0].tested_ms < ONE_SET_MS)
        found = next(same, None)
        if found is None:
            open_sets.append([m])
        else:
            found.append(m)
    sets = []
    for members in open_sets:
        ages = np.array([m.equivalent_age_h for m in members])
        ratios = np.array([m.mpa for m in members]) / curve.strength_mpa(ages, p)
        ratio = float(np.mean(ratios))
        if len(members) >= CYLINDERS:
            spread = float(np.ptp(ratios)) / ratio if ratio > 0.0 else math.inf
            sets.append(BreakSet(members[0].pour, members[0].tested_ms, len(members), ratio, spread))
    return tuple(sets)


def verified(calibration: Calibration, tests: Sequence[MixTest], pour: PourId) -> Verified:
    """Return how a pour's calibration stands: by every set of its mix, and its own pour's once more.

    The lower of the newest two sets lowers the curve until two on end are near it again; a pour whose own newest set
    was lower keeps that.
    """
    sets = break_sets(calibration, tests)
    own = [s.ratio for s in sets if s.pour == pour][-1:]
    newest = [s.ratio for s in sets[-2:]]
    lowering = [r for r in (*newest, *own) if not r >= APPLIED]
    return Verified(sets, min(lowering, default=1.0), _suspension([s.ratio for s in sets]))


def percent(ratio: float) -> int:
    """Return a ratio in whole percent as it is shown: rounded down, so that what is below a limit looks below it.

    What is no number is shown as nothing, 0.
    """
    return math.floor(100.0 * ratio + 1e-9) if math.isfinite(ratio) else 0


def _suspension(ratios: Sequence[float]) -> str | None:
    for before, ratio in zip((1.0, *ratios), ratios, strict=False):
        if not ratio >= TOO_LOW:
            return f"cylinders at {percent(ratio)} % of its curve"
        if not ratio >= LOW and not before >= LOW:
            return f"two sets of cylinders on end at {percent(before)} and {percent(ratio)} % of its curve"
    return None


def running_sum(sets: Sequence[BreakSet]) -> tuple[float, ...]:
    """Return the one-sided cumulative sum of each set's shortfall beyond the slack; further below zero: a drift.

    Source: E. S. Page, "Continuous inspection schemes", Biometrika 41, 1954 (from memory).
    """
    sums, now = [], 0.0
    for s in sets:
        now = min(0.0, now + s.ratio - 1.0 + SLACK)
        sums.append(now)
    return tuple(sums)


def lowered(calibration: Calibration, ratio: float) -> Calibration:
    """Return the calibration with its curve a ratio as high, and the spread that goes with it."""
    if ratio == 1.0:
        return calibration
    told = calibration.parameters.model_dump()
    # What is a strength among them scales with the curve.
    factor = np.array([ratio if name.endswith("_mpa") else 1.0 for name in told])
    covariance = tuple(map(tuple, np.outer(factor, factor) * np.array(calibration.covariance)))
    scaled = (factor * np.array(list(told.values()))).tolist()
    parameters = calibration.parameters.model_copy(update=dict(zip(told, scaled, strict=True)))
    return calibration.model_copy(update={"parameters": parameters, "covariance": covariance})
