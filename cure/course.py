"""A pour's course: strength in place and maturity at many hours at once, each as its own evidence has them. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cure.accumulate import NOMINAL
from cure.bay import BayEvidence
from cure.bound import estimate_mpa, lower_bound_mpa
from cure.maturity import Floats
from shared.models.base import Ms


@dataclass(frozen=True, slots=True)
class Course:
    """Values at hours; not known, or not yet: no number."""

    at_ms: NDArray[np.int64]
    """Ascending, shape (n,)."""
    estimate_mpa: Floats
    """At the governing sensor, that of the lowest bound, shape (n,)."""
    lower_bound_mpa: Floats
    """The lowest of the required sensors, shape (n,)."""
    equivalent_age_h: Floats
    """The least of the required sensors, shape (n,); it never falls."""


def course(evidence: BayEvidence, at_ms: NDArray[np.int64]) -> Course:
    """Return the pour's course at these hours; after the watermark nothing is known.

    Args:
        evidence: the pour with its readings.
        at_ms: hours, ascending, shape (n,).
    """
    unknown = np.full(len(at_ms), np.nan)
    tracks, calibration = [track for _, track in evidence.credited], evidence.case.calibration
    known = np.zeros(len(at_ms), bool) if evidence.watermark_ms is None else at_ms <= evidence.watermark_ms
    if not tracks or not known.any():
        return Course(at_ms, unknown, unknown, unknown)
    last = [np.searchsorted(t.taken_ms, at_ms[known], side="right") - 1 for t in tracks]
    # Before a sensor's first reading it has earned nothing.
    sums = np.stack([np.where(i[:, None] >= 0, t.sums[i], 0.0) for t, i in zip(tracks, last, strict=True)])
    ages = unknown.copy()
    ages[known] = sums[:, :, NOMINAL].min(axis=0)
    if calibration is None:
        return Course(at_ms, unknown, unknown, ages)
    flat = sums.reshape(-1, sums.shape[2])
    bounds = lower_bound_mpa(flat, calibration, evidence.case.mix).reshape(sums.shape[:2])
    estimates = estimate_mpa(flat, calibration).reshape(sums.shape[:2])
    # A bound of 0 says nothing of which is the lowest: then the least mature is.
    governing = np.lexsort((sums[:, :, NOMINAL], bounds), axis=0)[0]
    strength, bound = unknown.copy(), unknown.copy()
    strength[known] = estimates[governing, np.arange(sums.shape[1])]
    # Not the governing one's: a bound that is no number must stay one.
    bound[known] = bounds.min(axis=0)
    return Course(at_ms, strength, bound, ages)


def counted_spans(evidence: BayEvidence, at_c: float) -> tuple[list[tuple[Ms, Ms]], list[tuple[Ms, Ms]]]:
    """Return the stretches that count at a temperature, and those in which the coldest zone was known to be colder."""
    if evidence.coldest_spans is None or evidence.watermark_ms is None:
        return [], []
    span_ms, coldest_c = evidence.coldest_spans
    # The last of its edges is the watermark.
    edges = evidence.watermark_ms - np.concatenate((np.cumsum(span_ms[::-1])[::-1], [0]))
    return _stretches(edges, coldest_c >= at_c), _stretches(edges, coldest_c < at_c)


def _stretches(edges_ms: NDArray[np.int64], holds: NDArray[np.bool_]) -> list[tuple[Ms, Ms]]:
    turns = np.flatnonzero(np.diff(np.concatenate(([False], holds, [False])).astype(np.int8)))
    return [(int(edges_ms[i]), int(edges_ms[j])) for i, j in zip(turns[::2], turns[1::2], strict=True)]
