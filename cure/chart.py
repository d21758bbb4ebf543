"""A pour's course in a few numbers, for the small chart of a message."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from cure.bay import BayEvidence
from cure.course import course
from cure.requirements import strength_rule
from shared.models.base import HOUR_MS
from shared.models.requirement import Rule

POINTS: Final = 24


def chart(evidence: BayEvidence, rule: Rule | None) -> dict[str, Any] | None:
    """Return hours since the end of the pour, the coldest concrete and the lower bound at each; None: nothing yet."""
    end_ms, through_ms = evidence.case.pour.end_ms, evidence.watermark_ms
    if end_ms is None or through_ms is None or not through_ms > end_ms:
        return None
    strength = None if rule is None else strength_rule(rule)
    at_ms = np.linspace(end_ms, through_ms, POINTS + 1, dtype=np.int64)[1:]
    return {
        "hours": [round((int(at) - end_ms) / HOUR_MS, 1) for at in at_ms],
        "coldest_c": [_rounded(evidence.coldest_at_c(int(at))) for at in at_ms],
        "bound_mpa": [_rounded(float(bound)) for bound in course(evidence, at_ms).lower_bound_mpa],
        "limit_mpa": None if strength is None else strength.lower_bound_mpa,
    }


def _rounded(value: float) -> float | None:
    # Down, so that nothing looks stronger or warmer than it is; None: not known.
    return float(np.floor(value * 10.0) / 10.0) if np.isfinite(value) else None
