"""A calibration as it counts for one pour: by later cylinders of its mix, and by the pour's own. Pure.

The pour's own count beyond the sets of the mix only where the calibration has `own_cylinders`. They may lower the curve
at once, and never raise it; they narrow the spread of the batch only as far as that rule says, and only while nothing
about them or the mix is odd. No cylinders, or odd ones, leave the spread as wide as it was.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from cure.batch import Batch, batch_of, logs_of, within_tested
from cure.bound import batch_sd_ratio
from cure.verification import APPLIED, DRIFT, TOO_HIGH, TOO_LOW, Verified, lowered, running_sum, verified
from shared.models.base import PourId
from shared.models.calibration import Calibration, OwnCylinders
from shared.models.decisions import MixTest
from shared.models.setup import MixSettings
from shared.ports import PourCase
from shared.shifts import day_of

ALIKE: Final = 0.10
"""Strongest less weakest of a set, of their mean: beyond it ASTM C1074 wants a third (from memory)."""
SETS: Final = 2
"""So many of its own, so that it is not one sample that narrows anything (our judgement)."""

WHY_NOT: Final[Mapping[str, str]] = {
    "suspended": "the calibration is suspended",
    "lowered": "sets of the mix lower the curve",
    "drifts": "the mix drifts",
    "far": "one of them is farther than 15 % from the curve",
    "low": "one of its sets is below 95 % of the curve",
    "unlike": "those of one set differ by more than 10 %",
    "few": "there are too few of them, or only one set",
    "vague": "they do not say enough",
}
"""Why a pour's own cylinders narrow nothing, although the calibration has a rule for it."""


def counted(calibration: Calibration, mix: MixSettings, tests: Sequence[MixTest], pour: PourId) -> Batch:
    """Return what a pour's own cylinders say of its batch and, by the calibration's rule, how they count."""
    own = [t for t in tests if t.pour == pour]
    batch, rule = batch_of(calibration, mix, own), calibration.own_cylinders
    if rule is None or batch.cylinders == 0:
        return batch
    # The built-in min can pass over a NaN.
    down = replace(batch, lowers_to=float(np.minimum(1.0, batch.ratio)))
    if rule.narrow_to_percent is None:
        return down
    why_not = _why_not(calibration, rule, tests, pour)
    if why_not is not None:
        return replace(down, why_not=why_not)
    narrowest = max(batch.sd_ratio, rule.narrow_to_percent / 100.0)
    if not narrowest < batch_sd_ratio(calibration):
        return replace(down, why_not="vague")
    return replace(down, narrows_to=narrowest)


def _why_not(calibration: Calibration, rule: OwnCylinders, tests: Sequence[MixTest], pour: PourId) -> str | None:
    """Return why a pour's cylinders narrow nothing, by a name of `WHY_NOT`; None: they may."""
    stands = verified(calibration, tests, pour)
    own = [s for s in stands.sets if s.pour == pour]
    ratios = np.exp(logs_of(calibration, within_tested(calibration, (t for t in tests if t.pour == pour)))).tolist()
    steps = (
        (stands.suspended is None, "suspended"),
        (stands.ratio >= 1.0, "lowered"),
        (not stands.sets or running_sum(stands.sets)[-1] >= DRIFT, "drifts"),
        (all(TOO_LOW <= r <= TOO_HIGH for r in ratios), "far"),
        (all(s.ratio >= APPLIED for s in own), "low"),
        (all(s.spread <= ALIKE for s in own), "unlike"),
        (len(own) >= SETS and sum(s.cylinders for s in own) >= rule.narrow_from, "few"),
    )
    return next((why for fine, why in steps if not fine), None)


def as_counted(
    calibration: Calibration, mix: MixSettings, tests: Sequence[MixTest], pour: PourId
) -> tuple[Calibration | None, Verified]:
    """Return a calibration as it counts for a pour: as it is, lowered, narrowed, or not at all; and why."""
    own = counted(calibration, mix, tests, pour)
    stands = replace(verified(calibration, tests, pour), own=own)
    if stands.suspended is not None:
        return None, stands
    left = lowered(calibration, float(np.minimum(stands.ratio, own.lowers_to)))
    if own.narrows_to is not None:
        left = left.model_copy(update={"batch_sd_percent": 100.0 * own.narrows_to})
    return left, stands


def as_verified(case: PourCase) -> tuple[PourCase, Verified]:
    """Return a case with its calibration as later cylinders, and its own, leave it."""
    if case.calibration is None:
        return case, Verified()
    left, stands = as_counted(case.calibration, case.mix, case.mix_tests, case.pour.id)
    return replace(case, calibration=left), stands


def in_validity(case: PourCase) -> bool:
    """Return whether the pour began by the last day for which its calibration stands; without one nothing is said."""
    until = None if case.calibration is None else case.calibration.valid_until
    return until is None or day_of(case.pour.start_ms, case.site.site.zone) <= until
