"""How what stands in for a silent sensor goes on while the sensor stays silent, as the evidence will count it. Pure.

The rules are those of `cure.standin`, run ahead: a forecast does not take a dead sensor for one that speaks again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from cure.accumulate import AIR_ALLOWANCE_C, COVERED_ALLOWANCE_C
from cure.bay import BayEvidence
from cure.credit import SensorTrack
from cure.draws import shared
from cure.ensemble import air_error_c, at_hours, spans_at
from cure.forecast import Slabwork
from cure.maturity import Floats
from cure.standin import NO_FROST_ABOVE_MILLI_C
from shared.models.base import HOUR_MS, Ms, SensorId

AIR: Final = "air"
"""As `cure.standin.StandIn.by` names it."""
NOTHING_EARNED_C: Final = 0.0
"""Where nothing stands in any more: at it no strength grows, and no hour counts."""


@dataclass(frozen=True, slots=True)
class InPlace:
    """What stands in for a silent sensor."""

    by: Literal["zone", "air", "nobody"]
    """Another sensor of its zone, lowered; the bay's air less an allowance; what people measured, which ends."""
    last_c: float
    """What it read last: the air never counts above it. [degC]"""


def in_place(evidence: BayEvidence) -> Iterator[tuple[SensorId, InPlace]]:
    """Yield each required sensor that is silent and for which something stands in now."""
    silent = {p.sensor for p in evidence.silent}
    for s in evidence.sensors:
        p = s.placement
        if p.required and p.sensor in silent and s.stands(evidence.now_ms) and len(s.raw):
            yield p.sensor, InPlace(_by(evidence, s), float(s.raw.milli_c[-1]) / 1000.0)


def _by(evidence: BayEvidence, s: SensorTrack) -> Literal["zone", "air", "nobody"]:
    sensors = {str(other.placement.sensor) for other in evidence.sensors}
    if AIR not in s.stood_in.by and sensors & set(s.stood_in.by):
        return "zone"
    return "nobody" if evidence.air is None else "air"


def in_place_c(
    of: InPlace, work: Slabwork, scores: Floats, expected_c: Floats, newest_c: float, from_ms: Ms, hours: Floats
) -> Floats:
    """Return what counts in place of a silent sensor, shape (times, members). [degC]

    Args:
        of: what stands in.
        work: the pour.
        scores: of its members.
        expected_c: what the sensor itself would read, shape (times, members).
        newest_c: what stands in now.
        from_ms: the evidence's hour.
        hours: since then, shape (times,).
    """
    if of.by == "zone":
        # Lowered by the most that the silent one was ever colder: that does not fade.
        return np.asarray(expected_c + np.minimum(0.0, newest_c - expected_c[0]))
    if of.by == "nobody":
        return np.full_like(expected_c, NOTHING_EARNED_C)
    times_ms = from_ms + hours * HOUR_MS
    # What the slab has taught of the air about it is no error of the air that the sensor reads, and that counts.
    here_c = work.spread.widened * work.spread.air_c * shared(scores, "air here")
    error_c = air_error_c(work, scores, times_ms) - here_c
    air_c = at_hours(work.weather, work.weather.air_c, times_ms)[:, None] + error_c
    covered = np.isfinite(spans_at(work.covers, times_ms))[:, None]
    least = np.minimum(of.last_c, air_c - np.where(covered, COVERED_ALLOWANCE_C, AIR_ALLOWANCE_C))
    frost = np.maximum.accumulate(least <= NO_FROST_ABOVE_MILLI_C / 1000.0, axis=0)
    return np.where(frost, NOTHING_EARNED_C, least)
